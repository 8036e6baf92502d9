#include "sim/study/sheet_candidate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/sheet_draw.hpp"
#include "sim/study/sheet_trial.hpp"

namespace spotwright::study {

namespace {

using base::us;
using scenario::PhaseShift, scenario::Pulsed, scenario::Triangulation;
using scenario::Scenario, scenario::Sheet;

constexpr double shortest_exposure_share = 0.001;  // of the shortest period, where a sheet says nothing
constexpr double shortest_of_all = 0.05 * us;

// The tile of the sheet. What is wrong with it is said at the sheet's own key.
Scenario tile_of(const Sheet& sheet) {
    const std::string material = sheet.repeatability ? sheet.repeatability->material : "white-ceramic";
    try {
        return scenario::parse(fmt::format("schema = 1\ntitle = {}\nprinciple = \"{}\"\n[target]\nmaterial = "
                                           "{}\n[reading]\ncalibrated_on = \"{}\"\n"
                                           "[run]\nspeckle = \"off\"\n[exposure]\nmode = \"automatic\"\n",
                                           scenario::toml_string(sheet.title), scenario::word_of(sheet.principle),
                                           scenario::toml_string(material),
                                           sheet.mount == scenario::SheetMount::specular ? "mirror" : "white-ceramic"),
                               sheet.file);
    } catch (const base::ScenarioError& error) {
        std::vector<base::Problem> problems = error.problems();
        for (base::Problem& problem : problems) problem.location = location_of(sheet, "repeatability.material");
        throw base::ScenarioError(std::move(problems));
    }
}

// Where a sheet states none; common practice. [s]
double usual_period(const scenario::Principle& principle) {
    return std::visit(base::Cases{[](Triangulation) { return scenario::Exposure{}.period[0]; },
                                  [](PhaseShift) { return 1000.0 * us; }, [](Pulsed) { return 5000.0 * us; }},
                      principle);
}

}  // namespace

Scenario stated_scenario(const Sheet& sheet) {
    Scenario s = tile_of(sheet);
    s.locations.clear();
    s.locations["mount.reference_distance_mm"] = scenario::location_of(sheet, "reference_distance_mm");
    s.locations["mount.range_mm"] = scenario::location_of(sheet, "range_mm");
    s.mount.reference_distance = sheet.reference_distance;
    s.mount.range = sheet.range;
    s.housing = sheet.housing;
    std::vector<double> periods = sheet.periods;
    if (periods.empty()) periods.push_back(usual_period(sheet.principle));
    double shortest = periods.front();
    if (sheet.repeatability && sheet.repeatability->period) shortest = *sheet.repeatability->period;
    s.exposure.period = {shortest, std::max(shortest, periods.back())};
    s.exposure.exposure =
        sheet.exposures ? (*sheet.exposures)[0] : std::max(shortest_of_all, shortest_exposure_share * periods.front());
    return s;
}

namespace {

// What the sheet leaves open of an array and its receiver, then the rest.
void make_array(SheetTrial& trial) {
    set_beam(trial.sheet, trial.draw, trial.s);
    trial.s.emitter.power = power_of(trial.sheet, trial.draw, trial.s.emitter.wavelength);
    trial.candidate.obstacle = set_receiver(trial.sheet, trial.draw, trial.s);
    if (!trial.candidate.obstacle.empty()) {
        trial.candidate.misfit = Misfit::geometry;
        return;
    }
    set_array(trial.draw, trial.s);
    solve_array(trial);
}

void make_phase(SheetTrial& trial) {
    set_timed_beam(trial.sheet, trial.draw, trial.s);
    trial.s.emitter.power = power_of(trial.sheet, trial.draw, trial.s.emitter.wavelength);
    set_timed_receiver(trial.sheet, trial.draw, trial.s);
    set_buckets(trial.sheet, trial.draw, trial.s);
    solve_phase(trial);
}

void make_pulses(SheetTrial& trial) {
    set_timed_beam(trial.sheet, trial.draw, trial.s);
    set_timed_receiver(trial.sheet, trial.draw, trial.s);
    set_pulses(trial.sheet, trial.draw, trial.s);
    solve_pulses(trial);
}

}  // namespace

Candidate make_candidate(const Sheet& sheet, const Scenario& stated, const GivenUp& given_up, std::uint64_t seed,
                         std::int64_t index) {
    Candidate candidate;
    candidate.scenario = stated;
    const SheetDraws draw(seed, index);
    SheetTrial trial{sheet, given_up, draw, candidate, candidate.scenario};
    std::visit(base::Cases{[&trial](Triangulation) { make_array(trial); }, [&trial](PhaseShift) { make_phase(trial); },
                           [&trial](Pulsed) { make_pulses(trial); }},
               sheet.principle);
    return candidate;
}

}  // namespace spotwright::study
