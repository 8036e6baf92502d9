#include "sim/study/infer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>

#include "sim/base/cases.hpp"
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

// With so many digits that what misses by little does not read as no miss.
std::string times(double factor) {
    constexpr double near = 1.1;
    if (factor < near) return fmt::format("{:.3f}", factor);
    return factor < 10.0 ? fmt::format("{:.2f}", factor) : fmt::format("{:.0f}", factor);
}

// Why most of the candidates failed, none of them by a figure of the sheet, and how far the nearest of them was.
std::string why_none_fits(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected,
                          base::Problem& problem) {
    const Candidate* nearest = nullptr;
    std::int64_t dark = 0;
    for (const Candidate& each : rejected) {
        if (each.misfit != Misfit::light) continue;
        ++dark;
        if (nearest == nullptr || each.miss < nearest->miss) nearest = &each;
    }
    if (2 * dark > static_cast<std::int64_t>(rejected.size())) {
        const bool bright = nearest->too_bright;
        const char* period =
            sheet.repeatability && sheet.repeatability->period ? "repeatability.period_us" : "timing.period_us";
        problem.location = location_of(sheet, bright ? "timing.exposure_us" : period);
        if (bright) {
            return fmt::format(
                "the light fills the array too soon: the shortest exposure is {} times too long for the tile even "
                "with the smallest aperture",
                times(nearest->miss));
        }
        return fmt::format(
            "the light of this class fills the array too slowly: a white tile needs {} times the sampling period even "
            "with the largest aperture",
            times(nearest->miss));
    }
    const auto other = std::find_if(rejected.begin(), rejected.end(), [](const Candidate& each) {
        return each.misfit != Misfit::light && !each.obstacle.empty();
    });
    problem.location = location_of(sheet, "range_mm");
    const char* what = scenario::abilities_of(sheet.principle).array
                           ? "no receiver images the range on an array and reads a matt white tile all over it: "
                           : "no receiver reads a matt white tile all over the range: ";
    return what + (other != rejected.end() ? other->obstacle : std::string("it is too dark"));
}

[[noreturn]] void reject_sheet(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected) {
    base::Problem problem;
    problem.message =
        fmt::format("none of {} sensors fits: ", rejected.size()) + why_none_fits(sheet, rejected, problem);
    problem.allowed = "values that go together, or fewer or wider ones";
    throw base::ScenarioError({problem});
}

std::string figure_text(SheetFigure figure, double value) {
    constexpr int digits = 3;
    constexpr double percent = 0.01;
    switch (figure) {
        case SheetFigure::repeatability:
            return base::length_text(value, digits);
        case SheetFigure::linearity:
            return base::number_text(value / percent, digits) + " % of span";
        case SheetFigure::temperature:
            return base::number_text(value / percent, digits) + " % of span per K";
        case SheetFigure::white_exposure:
            break;
    }
    return base::number_text(value / base::us, digits) + " us";
}

// By which factor a figure misses what the sheet states: of the numbers that the words tell.
double factor_between(double found, double stated) {
    return std::max(found / stated, stated / found);
}

const Candidate* nearest_by(const std::vector<Candidate>& rejected, SheetFigure figure) {
    const Candidate* nearest = nullptr;
    for (const Candidate& each : rejected) {
        if (each.missed == figure && (nearest == nullptr || each.miss < nearest->miss)) nearest = &each;
    }
    return nearest;
}

// The figure that most of the candidates failed by, and the nearest of them; none where few failed by a figure.
std::optional<Unexplained> figure_to_blame(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected) {
    std::array<std::int64_t, sheet_figures> counts{};
    for (const Candidate& each : rejected) {
        if (each.missed) ++counts.at(static_cast<std::size_t>(*each.missed));
    }
    const auto most = std::max_element(counts.begin(), counts.end());
    constexpr std::int64_t some = 8;  // of so many one at least, or what stands in the way is something else
    if (*most * some < static_cast<std::int64_t>(rejected.size()) || *most == 0) return std::nullopt;
    const auto figure = static_cast<SheetFigure>(most - counts.begin());
    const Candidate* nearest = nearest_by(rejected, figure);
    const bool has_number = nearest->nearest && *nearest->nearest > 0.0;
    const double factor =
        has_number ? factor_between(*nearest->nearest, stated_of(sheet, figure)->middle()) : nearest->miss;
    return Unexplained{figure, nearest->misfit, nearest->nearest, factor, static_cast<std::int64_t>(rejected.size())};
}

// Most fail by one figure, and the nearest is so far off that more candidates would not do it.
bool is_hopeless(const scenario::Sheet& sheet, const std::vector<Candidate>& rejected) {
    constexpr double far = 1.5;
    const std::optional<Unexplained> blamed = figure_to_blame(sheet, rejected);
    // By the value drawn of what the sheet leaves open, which is what the candidates were to have.
    if (!blamed || nearest_by(rejected, blamed->figure)->miss < far) return false;
    const auto by_it = std::count_if(rejected.begin(), rejected.end(),
                                     [&](const Candidate& each) { return each.missed == blamed->figure; });
    return 2 * by_it > static_cast<std::int64_t>(rejected.size());
}

struct SensorsFound {
    std::vector<Candidate> fitting;
    std::vector<Candidate> rejected;
};

// In blocks of a fixed size, so that the result does not depend on the thread count.
SensorsFound look_for_sensors(const scenario::Sheet& sheet, const GivenUp& given_up, const InferOptions& options,
                              std::int64_t wanted) {
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
            candidates[static_cast<std::size_t>(i)] = make_candidate(sheet, stated, given_up, options.seed, first + i);
            const std::lock_guard lock(mutex);
            ++done;
            if (options.progress) options.progress(std::min(done, most - 1), most);
        });
        for (Candidate& each : candidates) {
            const bool fits = each.misfit == Misfit::none;
            if (fits && static_cast<std::int64_t>(gathered.fitting.size()) >= wanted) break;
            (fits ? gathered.fitting : gathered.rejected).push_back(std::move(each));
        }
        if (gathered.fitting.empty() && is_hopeless(sheet, gathered.rejected)) break;
    }
    return gathered;
}

// Sensors that fit the sheet, or what of it they can: figures that none reproduces are given up, one after the other.
// @throws ScenarioError  No sensor fits, and no figure is to blame.
SensorsFound find_sensors(const scenario::Sheet& sheet, const InferOptions& options, std::int64_t wanted,
                          std::vector<Unexplained>& unexplained) {
    GivenUp given_up{};
    for (;;) {
        SensorsFound found = look_for_sensors(sheet, given_up, options, wanted);
        if (!found.fitting.empty()) return found;
        const std::optional<Unexplained> blamed = figure_to_blame(sheet, found.rejected);
        if (!blamed) reject_sheet(sheet, found.rejected);
        given_up.at(static_cast<std::size_t>(blamed->figure)) = true;
        unexplained.push_back(*blamed);
    }
}

// What tells sensors of a principle apart, as logarithms.
std::array<double, 8> logs_of(const scenario::Scenario& s) {
    const auto of_array = [&s](scenario::Triangulation) {
        return std::array{s.receiver.angle,        s.receiver.aperture.in_plane,
                          s.receiver.focal_length, s.detector.full_well,
                          s.emitter.power,         s.detector.pitch,
                          s.detector.read_noise,   s.detector.quantum_efficiency};
    };
    const auto of_phase = [&s](scenario::PhaseShift) {
        return std::array{s.receiver.focal_length,
                          s.receiver.aperture.in_plane,
                          s.flight.detector_diameter,
                          s.detector.full_well,
                          s.emitter.power,
                          s.flight.modulation.front(),
                          s.detector.read_noise,
                          s.detector.quantum_efficiency};
    };
    const auto of_pulses = [&s](scenario::Pulsed) {
        return std::array{s.receiver.focal_length,
                          s.receiver.aperture.in_plane,
                          s.flight.detector_diameter,
                          s.flight.noise,
                          s.emitter.power,
                          s.flight.pulse,
                          s.flight.jitter,
                          s.detector.quantum_efficiency};
    };
    std::array<double, 8> values = std::visit(base::Cases{of_array, of_phase, of_pulses}, s.principle);
    constexpr double least = 1e-30;  // a jitter of 0
    for (double& value : values) value = std::log(std::max(value, least));
    return values;
}

// The sensor nearest to the mean of all, each parameter in units of its own spread.
std::size_t middle_of(const std::vector<Candidate>& members) {
    constexpr std::size_t parameters = 8;
    std::array<double, parameters> sum{};
    std::array<double, parameters> squares{};
    const auto count = static_cast<double>(members.size());
    for (const Candidate& each : members) {
        const auto values = logs_of(each.scenario);
        for (std::size_t p = 0; p < parameters; ++p) {
            sum.at(p) += values.at(p) / count;
            squares.at(p) += values.at(p) * values.at(p) / count;
        }
    }
    std::size_t best = 0;
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < members.size(); ++i) {
        const auto values = logs_of(members[i].scenario);
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
    static constexpr std::array<std::string_view, 5> names{"reproduced", "taken over", "not reproduced",
                                                           "not explained", "not determined"};
    return names.at(static_cast<std::size_t>(outcome));
}

std::string in_words(const Unexplained& unexplained, const scenario::Sheet& sheet) {
    const double stated = stated_of(sheet, unexplained.figure)->middle();
    const std::string nearest =
        unexplained.nearest ? fmt::format("the nearest of {} sensors comes to {}, not {}: a factor of {}",
                                          unexplained.tried, figure_text(unexplained.figure, *unexplained.nearest),
                                          figure_text(unexplained.figure, stated), times(unexplained.factor))
                            : fmt::format("none of {} sensors has it", unexplained.tried);
    switch (unexplained.misfit) {
        case Misfit::quiet:
            return nearest +
                   ". With all the light of the class and the quietest amplifier of common practice pulses scatter "
                   "more; an average that the sheet does not state would explain it. These sensors scatter more than "
                   "the sheet states";
        case Misfit::noise:
            if (scenario::abilities_of(sheet.principle).timing) {
                return nearest +
                       ". Noise and jitter of electronics that still read are less; what else scatters, such as "
                       "vibration or air, is no repeatability of a still part. These sensors scatter less than the "
                       "sheet states";
            }
            return nearest +
                   ". Noise of an array that still finds its peaks is less; what else scatters, such as speckle of a "
                   "moved tile or vibration, is no repeatability of a still one. These sensors scatter less than the "
                   "sheet states";
        case Misfit::full_well:
            return nearest +
                   ". The full well of any array in common practice gives more; an average that the sheet does not "
                   "state would explain it. These sensors scatter more than the sheet states";
        case Misfit::aperture:
            return nearest + ". Aperture, transmission and efficiency of common practice do not give it";
        case Misfit::temperature:
            return nearest + (scenario::abilities_of(sheet.principle).timing
                                  ? ". A drift of the electronics' delay in common practice does not give it"
                                  : ". A shift of the lens in its mount does not give it");
        case Misfit::none:
        case Misfit::geometry:
        case Misfit::light:
        case Misfit::figures:
            break;
    }
    return nearest;
}

Inference infer(const scenario::Sheet& sheet, const InferOptions& options) {
    constexpr std::int64_t least = 2;
    constexpr std::int64_t most = 256;
    if (options.members < least || options.members > most) {
        throw base::DomainError("members", static_cast<double>(options.members), "2 to 256");
    }
    check_sheet(sheet);
    const bool with_logs = !options.logs.empty();
    Inference inference;
    SensorsFound gathered =
        find_sensors(sheet, options, options.members * (with_logs ? members_per_kept : 1), inference.unexplained);
    inference.sheet = sheet;
    inference.candidates = static_cast<std::int64_t>(gathered.fitting.size() + gathered.rejected.size());
    for (const Candidate& each : gathered.rejected) ++inference.misfits.at(static_cast<std::size_t>(each.misfit));
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
