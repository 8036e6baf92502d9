#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/moving_verdict.hpp"

namespace spotwright::measure {

namespace {

using base::ms;
using reading::Validity;

constexpr double coverage_factor = 2.0;
constexpr std::string_view speckle_contribution = "speckle, the same while the part stands still";

// How much a contribution adds to U by itself.
double effect(const Contribution& c) {
    return c.systematic ? c.size : coverage_factor * c.size;
}

// Speckle that is the same in every reading; where surface passes, it is part of what changes.
bool stays_speckled(const ReadResult& result) {
    return result.speckle && !(result.following && result.following->surface_passes);
}

// What the scatter of outputs stands on.
std::optional<double> scatter_of(const ReadResult& result) {
    return result.following ? result.following->error_deviation : result.statistics.standard_deviation;
}

std::vector<Contribution> contributions_of(const ReadResult& result) {
    std::vector<Contribution> list;
    if (result.following) {
        list = contributions_on_the_move(result);
    } else if (result.statistics.standard_deviation) {
        list.push_back({"shot, read and digitising noise", *result.statistics.standard_deviation, false});
    }
    if (result.systematic && !result.following) {
        list.push_back({"bias of this part", std::abs(*result.systematic), true});
    }
    if (result.pixel_error) list.push_back({"pixel pattern and phase", *result.pixel_error, false});
    if (result.model_error) list.push_back({"error of the image itself", *result.model_error, false});
    if (stays_speckled(result) && result.speckle->standard_deviation) {
        list.push_back({std::string(speckle_contribution), *result.speckle->standard_deviation, false});
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

bool stands_outside(const scenario::Scenario& s, const ReadResult& result) {
    return result.true_displacement < s.mount.range[0] || result.true_displacement > s.mount.range[1];
}

std::string outside(const scenario::Scenario& s, const ReadResult& result) {
    return fmt::format("the part is at {:.4g} mm, outside the range of {:.4g} to {:.4g} mm",
                       result.true_displacement / base::mm, s.mount.range[0] / base::mm, s.mount.range[1] / base::mm);
}

std::string why_saturated(const scenario::Scenario& s, const ReadResult& result) {
    const double background = result.signal.background / s.detector.full_well;
    const double asked = result.signal.peak_share + background;
    if (background > s.exposure.level) {
        return fmt::format(
            "ambient light and dark current alone take {:.3g} of full well; a narrower filter, a shorter "
            "exposure or a cooler sensor would lower that",
            background);
    }
    if (asked <= s.exposure.level) {
        return fmt::format("light fills only {:.3g} of full well; pixel offset or read noise saturates the pixel",
                           asked);
    }
    return fmt::format("light would fill {:.3g} of full well; {:.3g} times the exposure would bring it to {:.2g}",
                       asked, s.exposure.level / asked, s.exposure.level);
}

std::string why_dark(const scenario::Scenario& s, const ReadResult& result) {
    const double share = result.signal.peak_share;
    const std::string found =
        fmt::format("the peak is {:.3g} of full well; the threshold is {:.3g}", share, s.reading.threshold);
    constexpr double beyond_help = 1e4;
    if (share * beyond_help < s.exposure.level) return found + ": almost no light from the part reaches the array";
    return fmt::format("{}; {:.3g} times the exposure would bring it to {:.2g}", found, s.exposure.level / share,
                       s.exposure.level);
}

constexpr std::string_view no_light =
    "almost no light from the part reaches the detector; a mirror-like part reflects it past the lens unless it stands "
    "square";
constexpr double some_electrons = 1e-3;

std::string why_pulses_are_lost(const scenario::Scenario& s, const PulseDetails& pulse) {
    if (pulse.electrons < some_electrons) return std::string(no_light);
    if (s.flight.timing == scenario::PulseTiming::photon_counting) {
        return fmt::format("the {:.3g} electrons of a pulse are lost in the background", pulse.electrons);
    }
    return fmt::format("the pulse peak is {:.3g} times the noise; the threshold is {:.3g}", pulse.noise_ratio,
                       s.flight.threshold_ratio);
}

std::string why_phase_is_lost(const scenario::Scenario& s, const ReadResult& result, const PhaseDetails& phase) {
    FrequencyResult least = phase.frequencies.front();
    for (const FrequencyResult& each : phase.frequencies) {
        if (each.amplitude < least.amplitude) least = each;
    }
    if (least.amplitude < some_electrons) return std::string(no_light);
    const std::string found = fmt::format("the amplitude is {:.3g} of full well; the threshold is {:.3g}",
                                          least.amplitude / s.detector.full_well, s.reading.threshold);
    const double charge = least.offset / s.detector.full_well;
    constexpr double ample = 0.25;
    if (charge > ample) {
        return fmt::format(
            "{}, and its bucket's charge {:.3g}: there is light, but its modulation is weak by depth, bandwidth or "
            "ambient light",
            found, charge);
    }
    return fmt::format("{}; {:.3g} times the exposure would bring the brightest bucket to {:.2g}", found,
                       s.exposure.level / result.signal.peak_share, s.exposure.level);
}

// Of a detector that sees the first photon of a pulse alone.
std::string crowded_photons(const PulseDetails& pulse) {
    return fmt::format(
        "{:.3g} photons of a pulse are detected, and only the first is seen: less power or a smaller aperture, for one "
        "a pulse or fewer",
        pulse.electrons);
}

bool photons_crowd(const scenario::Scenario& s, const PulseDetails& pulse) {
    return s.flight.timing == scenario::PulseTiming::photon_counting && pulse.electrons > 1.0;
}

std::string repeats_outside(const scenario::Scenario& s, const ReadResult& result) {
    return fmt::format("{}: it reads as another distance, for readings repeat every {:.4g} mm", outside(s, result),
                       timed_light(result.details)->unambiguous_distance / base::mm);
}

std::string wraps_wrongly(const PhaseDetails& phase) {
    return fmt::format(
        "noise leaves a chance of {:.2g} for a wrong whole number of periods; more light, a longer exposure or "
        "frequencies in the ratio of smaller numbers lower it",
        phase.wrap_error_chance);
}

std::string why_no_peak(const scenario::Scenario& s, const ReadResult& result) {
    if (result.signal.peak_share < s.reading.threshold) return why_dark(s, result);
    if (s.reading.choose.rule == scenario::PeakRule::index) {
        return fmt::format("there is no peak with the index {}", s.reading.choose.index);
    }
    return "the chosen peak is too narrow or too noisy for the estimator";
}

bool is_dark(Validity validity) {
    return validity == Validity::too_dark || validity == Validity::no_peak;
}

std::string why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result,
                     const TriangulationDetails& /*details*/) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (stands_outside(s, result)) return outside(s, result);
    switch (validity) {
        case Validity::too_dark:
            return why_dark(s, result);
        case Validity::no_peak:
            return why_no_peak(s, result);
        case Validity::out_of_range:
            return "the chosen peak is cut off by the end of the array, or lies beyond the calibration";
        case Validity::saturated:
        case Validity::ambiguous:
        case Validity::valid:
            break;
    }
    return "see the scenario";
}

// What both ways of timing have in common, after what each has of its own.
std::string why_time_is_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result) {
    if (stands_outside(s, result)) return outside(s, result);
    return validity == Validity::out_of_range ? "the reading lies beyond the calibration" : "see the scenario";
}

std::string why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result,
                     const PhaseDetails& phase) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (validity == Validity::ambiguous) {
        return stands_outside(s, result) ? repeats_outside(s, result) : wraps_wrongly(phase);
    }
    return is_dark(validity) ? why_phase_is_lost(s, result, phase) : why_time_is_lost(validity, s, result);
}

std::string why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result,
                     const PulseDetails& pulse) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (validity == Validity::ambiguous) return repeats_outside(s, result);
    if (photons_crowd(s, pulse)) return crowded_photons(pulse);
    return is_dark(validity) ? why_pulses_are_lost(s, pulse) : why_time_is_lost(validity, s, result);
}

// Why readings are lost, and what would help.
std::string reason_for(Validity validity, double share, const scenario::Scenario& s, const ReadResult& result) {
    const std::string lost = fmt::format("{:.3g} % of readings are {}: ", 100.0 * share, reading::name_of(validity));
    if (result.following) return lost + why_lost_on_the_move(validity, s, result);
    return lost +
           std::visit([&](const auto& details) { return why_lost(validity, s, result, details); }, result.details);
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

std::string dominance(const Verdict& verdict, const scenario::Scenario& s) {
    const Contribution& first = verdict.contributions.front();
    return fmt::format("expanded uncertainty {} ({:.2g} % of span) against a tolerance of +-{}; largest: {}, {} {}",
                       base::length_text(*verdict.expanded_uncertainty, 3),
                       sensor::percent_of_span(s, *verdict.expanded_uncertainty),
                       base::length_text(s.requirement.tolerance, 3), first.name,
                       first.systematic ? "off by" : "standard deviation", base::length_text(first.size, 3));
}

// What would lower speckle, where it is the largest contribution.
std::string speckle_advice(const ReadResult& result) {
    return fmt::format(
        "speckle is not noise: averaging a still part leaves it at {}; {} lowers it, and so does averaging "
        "if the part moves by a spot between readings",
        base::length_text(*result.speckle->standard_deviation, 3),
        std::visit(base::Cases{[](const TriangulationDetails&) {
                                   return "a wider aperture, a larger angle or a line-shaped spot";
                               },
                               [](const auto&) {
                                   return "a wider aperture, less depth under the spot or an error that depends less "
                                          "on brightness";
                               }},
                   result.details));
}

std::string lost_on_patches(const ReadResult& result) {
    return fmt::format(
        "moved to other patches of its surface, the part gives {:.4g} % valid readings: speckle makes "
        "some places too bright or too dark",
        100.0 * result.speckle->replaced_valid_share);
}

}  // namespace

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

std::string_view name_of(Level level) {
    static constexpr std::array<std::string_view, 4> names{"stable", "marginal", "unstable", "unreadable"};
    return names[static_cast<std::size_t>(level)];
}

bool speckle_decides(const Verdict& verdict) {
    return verdict.level != Level::stable && !verdict.contributions.empty() &&
           verdict.contributions.front().name == speckle_contribution;
}

Verdict judge(const scenario::Scenario& scenario, const ReadResult& result) {
    Verdict verdict;
    const double still_share = valid_share(result.statistics);
    const double share =
        stays_speckled(result) ? std::min(still_share, result.speckle->replaced_valid_share) : still_share;
    if (scatter_of(result)) {
        verdict.contributions = contributions_of(result);
        verdict.expanded_uncertainty = expanded(verdict.contributions);
    }
    verdict.level = level_of(scenario.requirement, share, verdict.expanded_uncertainty);
    if (auto reason = why_not_followed(scenario, result)) {
        verdict.level = std::max(verdict.level, Level::unstable);
        verdict.reasons.push_back(std::move(*reason));
    }

    if (still_share < scenario.requirement.stable_valid_share) {
        add_validity_reasons(scenario, result, verdict.reasons);
    } else if (share < scenario.requirement.stable_valid_share) {
        verdict.reasons.push_back(lost_on_patches(result));
    }
    if (verdict.expanded_uncertainty) {
        verdict.reasons.push_back(dominance(verdict, scenario));
        if (speckle_decides(verdict)) verdict.reasons.push_back(speckle_advice(result));
    } else {
        verdict.reasons.push_back(fmt::format("only {} valid {}: too few for a standard deviation",
                                              result.statistics.outputs,
                                              result.statistics.outputs == 1 ? "output" : "outputs"));
    }
    if (result.following) {
        for (std::string& reason : reasons_on_the_move(scenario, result)) verdict.reasons.push_back(std::move(reason));
    }
    if (result.response_time > scenario.requirement.response) {
        verdict.reasons.push_back(fmt::format("the output needs {:.3g} ms to follow a step; {:.3g} ms are required",
                                              result.response_time / ms, scenario.requirement.response / ms));
    }
    return verdict;
}

}  // namespace spotwright::measure
