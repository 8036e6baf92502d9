#include "sim/study/infer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

constexpr std::int64_t candidates_per_member = 8;
constexpr std::int64_t members_per_kept = 4;  // before logs, of those wanted after them

std::string times(double factor) {
    return factor < 10.0 ? fmt::format("{:.1f}", factor) : fmt::format("{:.0f}", factor);
}

// Why most of the candidates failed, and how far the nearest of them was.
std::string why_none_fits(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected,
                          base::Problem& problem) {
    std::array<std::int64_t, 8> counts{};
    for (const Candidate& each : rejected) ++counts.at(static_cast<std::size_t>(each.misfit));
    const auto most = std::max_element(counts.begin(), counts.end()) - counts.begin();
    const auto misfit = static_cast<Misfit>(most);
    const Candidate* nearest = nullptr;
    for (const Candidate& each : rejected) {
        if (each.misfit == misfit && (nearest == nullptr || each.miss < nearest->miss)) nearest = &each;
    }
    const auto at = [&](std::string_view key) { problem.location = location_of(sheet, std::string(key)); };
    const std::string factor = times(nearest->miss);
    switch (misfit) {
        case Misfit::none:
        case Misfit::geometry:
            at("range_mm");
            return "no receiver images the range on an array and reads a matt white tile all over it: " +
                   nearest->obstacle;
        case Misfit::light:
            at(sheet.repeatability ? "repeatability.period_us" : "timing.period_us");
            return fmt::format(
                "the light of this class fills the array too slowly: a white tile needs {} times the "
                "sampling period even with the largest aperture",
                factor);
        case Misfit::full_well:
            at("repeatability.value_um");
            return fmt::format("the repeatability asks for {} times the full well of any array in common practice",
                               factor);
        case Misfit::noise:
            at("repeatability.value_um");
            return fmt::format(
                "noise of an array explains less than this repeatability by a factor of {}; what else scatters, "
                "such as speckle of a moved tile, is no repeatability of a still one",
                factor);
        case Misfit::aperture:
            at("timing.white_exposure_us");
            return fmt::format(
                "the exposure of the white tile asks for light {} times off what aperture, transmission "
                "and efficiency of common practice give",
                factor);
        case Misfit::temperature:
            at("temperature.percent_of_span_per_K");
            return "no shift of the lens gives this drift";
        case Misfit::figures:
            break;
    }
    at(key_of(nearest->missed));
    return fmt::format("the nearest sensor misses this figure by a factor of {:.2f}", nearest->miss);
}

[[noreturn]] void reject_sheet(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected) {
    base::Problem problem;
    problem.message =
        fmt::format("none of {} sensors fits: ", rejected.size()) + why_none_fits(sheet, rejected, problem);
    problem.allowed = "values that go together, or fewer or wider ones";
    throw base::ScenarioError({problem});
}

struct SensorsFound {
    std::vector<Candidate> fitting;
    std::vector<Candidate> rejected;
};

// In blocks of a fixed size, so that the result does not depend on the thread count.
SensorsFound look_for_sensors(const scenario::Sheet& sheet, const InferOptions& options, std::int64_t wanted) {
    constexpr std::int64_t block = 32;
    const scenario::Scenario stated = stated_scenario(sheet);
    const std::int64_t most = candidates_per_member * wanted;
    SensorsFound gathered;
    std::mutex mutex;
    std::int64_t done = 0;
    for (std::int64_t first = 0; first < most; first += block) {
        const auto found = static_cast<std::int64_t>(gathered.fitting.size());
        if (found >= wanted) break;
        std::vector<Candidate> candidates(static_cast<std::size_t>(block));
        base::parallel_for(block, options.threads, [&](std::int64_t i) {
            candidates[static_cast<std::size_t>(i)] = make_candidate(sheet, stated, options.seed, first + i);
            const std::lock_guard lock(mutex);
            ++done;
            if (options.progress) options.progress(std::min(done, most - 1), most);
        });
        for (Candidate& each : candidates) {
            const bool fits = each.misfit == Misfit::none;
            if (fits && static_cast<std::int64_t>(gathered.fitting.size()) >= wanted) break;
            (fits ? gathered.fitting : gathered.rejected).push_back(std::move(each));
        }
    }
    return gathered;
}

// The sensor nearest to the mean of all, each parameter in units of its own spread.
std::size_t middle_of(const std::vector<Candidate>& members) {
    const auto logs = [](const Candidate& c) {
        const scenario::Scenario& s = c.scenario;
        return std::array{std::log(s.receiver.angle),        std::log(s.receiver.aperture.in_plane),
                          std::log(s.receiver.focal_length), std::log(s.detector.full_well),
                          std::log(s.emitter.power),         std::log(s.detector.pitch),
                          std::log(s.detector.read_noise),   std::log(s.detector.quantum_efficiency)};
    };
    constexpr std::size_t parameters = 8;
    std::array<double, parameters> sum{};
    std::array<double, parameters> squares{};
    const auto count = static_cast<double>(members.size());
    for (const Candidate& each : members) {
        const auto values = logs(each);
        for (std::size_t p = 0; p < parameters; ++p) {
            sum.at(p) += values.at(p) / count;
            squares.at(p) += values.at(p) * values.at(p) / count;
        }
    }
    std::size_t best = 0;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < members.size(); ++i) {
        const auto values = logs(members[i]);
        double distance = 0.0;
        for (std::size_t p = 0; p < parameters; ++p) {
            const double variance = squares.at(p) - sum.at(p) * sum.at(p);
            constexpr double constant = 1e-12;
            if (variance > constant) distance += (values.at(p) - sum.at(p)) * (values.at(p) - sum.at(p)) / variance;
        }
        if (distance >= least) continue;
        least = distance;
        best = i;
    }
    return best;
}

}  // namespace

std::string_view name_of(SheetOutcome outcome) {
    static constexpr std::array<std::string_view, 4> names{"reproduced", "taken over", "not reproduced",
                                                           "not determined"};
    return names.at(static_cast<std::size_t>(outcome));
}

Inference infer(const scenario::Sheet& sheet, const InferOptions& options) {
    constexpr std::int64_t least = 2;
    constexpr std::int64_t most = 256;
    if (options.members < least || options.members > most) {
        throw base::DomainError("members", static_cast<double>(options.members), "2 to 256");
    }
    check_sheet(sheet);
    const bool with_logs = !options.logs.empty();
    SensorsFound gathered = look_for_sensors(sheet, options, options.members * (with_logs ? members_per_kept : 1));
    Inference inference;
    inference.sheet = sheet;
    inference.candidates = static_cast<std::int64_t>(gathered.fitting.size() + gathered.rejected.size());
    for (const Candidate& each : gathered.rejected) ++inference.misfits.at(static_cast<std::size_t>(each.misfit));
    if (gathered.fitting.empty()) reject_sheet(sheet, gathered.rejected);
    inference.members = std::move(gathered.fitting);
    if (with_logs) {
        inference.before_logs = static_cast<std::int64_t>(inference.members.size());
        inference.logs = narrow(inference.members, options.logs, options.threads);
        if (static_cast<std::int64_t>(inference.members.size()) > options.members) {
            inference.members.resize(static_cast<std::size_t>(options.members));
        }
    }
    inference.best = middle_of(inference.members);
    inference.rows = sheet_rows(inference);
    inference.unknowns = sheet_unknowns(inference);
    inference.bench = bench_worths(inference.members, options.threads);
    if (options.progress) options.progress(1, 1);
    return inference;
}

}  // namespace spotwright::study
