#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "sim/base/units.hpp"
#include "sim/study/read.hpp"

namespace spotwright::study {

namespace {

using base::um, base::ms;
using reading::Validity;

constexpr double coverage_factor = 2.0;

double valid_share(const SeriesStatistics& statistics) {
    const auto valid = static_cast<double>(statistics.validity[static_cast<std::size_t>(Validity::valid)]);
    return statistics.readings > 0 ? valid / static_cast<double>(statistics.readings) : 0.0;
}

// How much a contribution adds to U by itself.
double effect(const Contribution& c) {
    return c.systematic ? c.size : coverage_factor * c.size;
}

std::vector<Contribution> contributions_of(const ReadResult& result) {
    std::vector<Contribution> list;
    if (result.statistics.standard_deviation) {
        list.push_back({"shot, read and digitising noise", *result.statistics.standard_deviation, false});
    }
    if (result.bias) list.push_back({"bias of this part against the white tile", std::abs(*result.bias), true});
    if (result.speckle_limit > 0.0) {
        list.push_back({"speckle of a rough part (closed-form limit)", result.speckle_limit, false});
    }
    std::stable_sort(list.begin(), list.end(),
                     [](const Contribution& a, const Contribution& b) { return effect(a) > effect(b); });
    return list;
}

double expanded(const std::vector<Contribution>& list) {
    double variance = 0.0;
    double systematic = 0.0;
    for (const Contribution& c : list) {
        if (c.systematic) {
            systematic += c.size;
        } else {
            variance += c.size * c.size;
        }
    }
    return coverage_factor * std::sqrt(variance) + systematic;
}

// Why readings are lost, and what exposure would do about it.
std::string reason_for(Validity validity, double share, const scenario::Scenario& s, const ReadResult& result) {
    const std::string lost = fmt::format("{:.3g} % of readings are {}", 100.0 * share, reading::name_of(validity));
    const double peak_share = result.signal.peak_share;
    const double exposure_factor = peak_share > 0.0 ? s.exposure.level / peak_share : 0.0;
    switch (validity) {
        case Validity::too_dark:
            return fmt::format(
                "{}: the peak is {:.3g} of full well where the threshold is {:.3g}; {:.3g} times the "
                "exposure would bring it to {:.2g}",
                lost, peak_share, s.reading.threshold, exposure_factor, s.exposure.level);
        case Validity::saturated:
            return fmt::format(
                "{}: the peak asks for {:.3g} of full well; {:.3g} times the exposure would bring it to "
                "{:.2g}",
                lost, peak_share, exposure_factor, s.exposure.level);
        case Validity::no_peak:
            return fmt::format("{}: the peak is {:.3g} of full well where the threshold is {:.3g}", lost, peak_share,
                               s.reading.threshold);
        case Validity::out_of_range:
            return fmt::format("{}: the part stands at {:.4g} mm, the range is {:.4g} to {:.4g} mm", lost,
                               result.true_displacement / base::mm, s.mount.range[0] / base::mm,
                               s.mount.range[1] / base::mm);
        case Validity::ambiguous:
        case Validity::valid:
            break;
    }
    return lost;
}

void add_validity_reasons(const scenario::Scenario& s, const ReadResult& result, std::vector<std::string>& reasons) {
    std::array<std::size_t, reading::validity_count> order{};
    std::iota(order.begin(), order.end(), std::size_t{0});
    const auto& counts = result.statistics.validity;
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return counts[a] > counts[b]; });
    for (const std::size_t i : order) {
        const auto validity = static_cast<Validity>(i);
        if (validity == Validity::valid || counts[i] == 0) continue;
        const double share = static_cast<double>(counts[i]) / static_cast<double>(result.statistics.readings);
        reasons.push_back(reason_for(validity, share, s, result));
    }
}

std::string dominance(const Verdict& verdict, double tolerance) {
    const Contribution& first = verdict.contributions.front();
    return fmt::format("expanded uncertainty {:.3g} um against a tolerance of +-{:.3g} um; largest: {}, {} {:.3g} um",
                       *verdict.expanded_uncertainty / um, tolerance / um, first.name,
                       first.systematic ? "off by" : "standard deviation", first.size / um);
}

Level level_of(const scenario::Requirement& requirement, double share, std::optional<double> uncertainty) {
    constexpr double half = 0.5;
    if (share < half || !uncertainty) return Level::unreadable;
    const double tolerance = requirement.tolerance;
    if (*uncertainty <= tolerance / requirement.uncertainty_ratio && share >= requirement.stable_valid_share) {
        return Level::stable;
    }
    if (*uncertainty <= tolerance && share >= requirement.marginal_valid_share) return Level::marginal;
    return Level::unstable;
}

}  // namespace

std::string_view name_of(Level level) {
    static constexpr std::array<std::string_view, 4> names{"stable", "marginal", "unstable", "unreadable"};
    return names[static_cast<std::size_t>(level)];
}

Verdict judge(const scenario::Scenario& scenario, const ReadResult& result) {
    Verdict verdict;
    const double share = valid_share(result.statistics);
    if (result.statistics.standard_deviation) {
        verdict.contributions = contributions_of(result);
        verdict.expanded_uncertainty = expanded(verdict.contributions);
    }
    verdict.level = level_of(scenario.requirement, share, verdict.expanded_uncertainty);

    if (share < scenario.requirement.stable_valid_share) add_validity_reasons(scenario, result, verdict.reasons);
    if (verdict.expanded_uncertainty) {
        verdict.reasons.push_back(dominance(verdict, scenario.requirement.tolerance));
    } else {
        verdict.reasons.push_back(
            fmt::format("only {} valid outputs of full windows: no scatter can be told", result.statistics.outputs));
    }
    if (result.response_time > scenario.requirement.response) {
        verdict.reasons.push_back(fmt::format("the output takes {:.3g} ms to follow a step, where {:.3g} ms are asked",
                                              result.response_time / ms, scenario.requirement.response / ms));
    }
    return verdict;
}

}  // namespace spotwright::study
