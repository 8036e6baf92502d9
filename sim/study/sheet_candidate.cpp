#include "sim/study/sheet_candidate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/sheet_draw.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::um, base::us;
using scenario::Scenario, scenario::Sheet;

constexpr double shortest_exposure_share = 0.001;  // of the shortest period, where a sheet says nothing
constexpr double shortest_of_all = 0.05 * us;
constexpr const char* invalid_tile = "a white tile at the reference distance gives invalid readings";
constexpr int solver_steps = 6;
constexpr double solver_close = 0.01;
constexpr double close_enough = 0.03;  // of figures that are solved for step by step

class Solver {
public:
    Solver(const Sheet& sheet, const GivenUp& given_up, const SheetDraws& draw, Candidate& candidate)
        : sheet_(sheet), given_up_(given_up), draw_(draw), candidate_(candidate), s_(candidate.scenario) {}

    void solve();

private:
    bool build();
    bool solve_full_well();
    bool solve_read_noise(double wanted);
    [[nodiscard]] std::optional<double> bright_scatter();
    [[nodiscard]] double wanted_exposure(double has) const;
    bool solve_light();
    void miss_light(double wanted, double factor);
    bool solve_temperature();
    void judge();
    void miss(Misfit misfit, double factor) {
        candidate_.misfit = misfit;
        candidate_.miss = std::max(factor, 1.0 / factor);
    }
    // The setup takes what does not need another calibration.
    void carry_over() {
        candidate_.setup->scenario = s_;
        candidate_.setup->instrument.keys = scenario::sensor_keys(s_);
    }
    [[nodiscard]] bool asks_for(SheetFigure figure) const {
        return stated_of(sheet_, figure).has_value() && !given_up_.at(static_cast<std::size_t>(figure));
    }
    void miss(SheetFigure figure, Misfit misfit, double factor, std::optional<double> nearest) {
        miss(misfit, factor);
        candidate_.missed = figure;
        candidate_.nearest = nearest;
    }
    [[nodiscard]] double figure_from(double scatter) const { return figure_of(*sheet_.repeatability, scatter); }

    const Sheet& sheet_;
    const GivenUp& given_up_;
    const SheetDraws& draw_;
    Candidate& candidate_;
    Scenario& s_;
};

bool Solver::build() {
    try {
        candidate_.setup = sensor::set_up_triangulation(s_, 1);
    } catch (const base::ScenarioError& error) {
        candidate_.setup.reset();
        candidate_.misfit = Misfit::geometry;
        candidate_.obstacle = error.problems().front().message;
        return false;
    }
    return true;
}

// Closed form first; then what the model's scatter says, which goes as one over the root of the full well where shot
// noise rules. Equations (sheet.3), (sheet.4) and (sheet.7).
bool Solver::solve_full_well() {
    if (!asks_for(SheetFigure::repeatability)) return true;
    const double wanted =
        single_scatter_of(*sheet_.repeatability, draw_.of(sheet_.repeatability->value, StatedNumber::repeatability));
    const receiver::Receiver& r = candidate_.setup->instrument.receiver;
    const double between = s_.receiver.angle - s_.emitter.angle;
    const double radius = s_.emitter.waist_radius[0];
    const double width = radius / (2.0 * std::tan(between)) * receiver::sensitivity_at(r, 0.0) / r.pitch;
    double full_well = full_well_for(electrons_for(radius, between, wanted), width, s_.exposure.level);
    const OpenRange& range = range_of(Open::full_well);
    if (full_well < range.low) return solve_read_noise(wanted);
    std::optional<double> reached;
    for (int i = 0; i < solver_steps; ++i) {
        s_.detector.full_well = std::clamp(full_well, range.low, range.high);
        const std::optional<double> scatter = bright_scatter();
        if (!scatter) {
            miss(Misfit::geometry, 1.0);
            candidate_.obstacle = invalid_tile;
            return false;
        }
        reached = figure_from(*scatter);
        const double ratio = *scatter / wanted;
        if (std::abs(ratio - 1.0) < solver_close) break;
        full_well = s_.detector.full_well * ratio * ratio;
    }
    if (full_well < range.low) return solve_read_noise(wanted);
    if (full_well > range.high) {
        miss(SheetFigure::repeatability, Misfit::full_well, full_well / range.high, reached);
        return false;
    }
    return true;
}

// Of the part where exposure is not cut off by the period.
std::optional<double> Solver::bright_scatter() {
    carry_over();
    sensor::TriangulationSetup bright = *candidate_.setup;
    scenario::Exposure& exposure = bright.scenario.exposure;
    const double suits = suiting_exposure(bright);
    exposure.period[1] = std::max(exposure.period[1], suits);
    exposure.exposure = std::min(exposure.exposure, suits);
    return single_scatter(bright);
}

// Shot noise of the smallest full well is less than the wanted scatter: at the drawn full well, read noise makes up for
// the rest. Its variance adds to that of shot noise, so two evaluations give the line. Equation (sheet.10).
bool Solver::solve_read_noise(double wanted) {
    scenario::Detector& d = s_.detector;
    d.full_well = draw_(Open::full_well);
    // Noise must not pass for a peak: five standard deviations below the threshold.
    constexpr double apart = 5.0;
    const double most = s_.reading.threshold * d.full_well / apart;
    d.read_noise = 0.0;
    const std::optional<double> shot = bright_scatter();
    double noise = std::min(draw_(Open::read_noise), most);
    for (int i = 0; shot && *shot < wanted && i < solver_steps; ++i) {
        d.read_noise = noise;
        const std::optional<double> scatter = bright_scatter();
        if (!scatter) break;
        if (std::abs(*scatter / wanted - 1.0) < solver_close) return true;
        const double slope = *scatter * *scatter - *shot * *shot;
        const double next = slope > 0.0 ? noise * std::sqrt((wanted * wanted - *shot * *shot) / slope) : most;
        if (noise == most && next > most) {
            miss(SheetFigure::repeatability, Misfit::noise, wanted / *scatter, figure_from(*scatter));
            return false;
        }
        noise = std::min(next, most);
    }
    if (const std::optional<double> last = bright_scatter()) {
        miss(SheetFigure::repeatability, Misfit::noise, wanted / *last, figure_from(*last));
    } else {
        miss(Misfit::geometry, 1.0);
        candidate_.obstacle = invalid_tile;
    }
    return false;
}

// The exposure that the white tile should have: as stated, or within what period and shortest exposure leave. [s]
double Solver::wanted_exposure(double has) const {
    if (asks_for(SheetFigure::white_exposure)) {
        return draw_.of(*sheet_.white_exposure, StatedNumber::white_exposure);
    }
    const double share = draw_(Open::aperture_share);
    if (has > s_.exposure.period[0]) return s_.exposure.period[0] * (0.5 + 0.5 * share);
    if (has < s_.exposure.exposure) return s_.exposure.exposure * (1.0 + share);  // shorter is not offered
    return has;
}

// Aperture first, then efficiency and transmission, until the white tile is exposed as wanted. A class is an upper
// limit: of a mirror, which sends nearly all light to the lens, power is lowered first, else last. Equation (sheet.8):
// exposure goes as one over power, aperture^2, transmission and efficiency.
bool Solver::solve_light() {
    const scenario::Pair bounds = aperture_bounds(sheet_, s_);
    const double has = suiting_exposure(*candidate_.setup);
    const double wanted = wanted_exposure(has);
    if (wanted == has) return true;
    double factor = has / wanted;  // of light
    const auto take = [&factor](double& value, double low, double high) {
        const double taken = std::clamp(value * factor, low, high);
        factor /= taken / value;
        value = taken;
    };
    const auto dim = [&] {
        constexpr double least = 0.01;
        if (!sheet_.power && factor < 1.0) take(s_.emitter.power, least * s_.emitter.power, s_.emitter.power);
    };
    if (sheet_.mount == scenario::SheetMount::specular) dim();
    double area = s_.receiver.aperture.in_plane * s_.receiver.aperture.in_plane;
    take(area, bounds[0] * bounds[0], bounds[1] * bounds[1]);
    s_.receiver.aperture = scenario::round_aperture(std::sqrt(area));
    const OpenRange& efficiency = range_of(Open::quantum_efficiency);
    const OpenRange& transmission = range_of(Open::transmission);
    take(s_.detector.quantum_efficiency, efficiency.low, efficiency.high);
    take(s_.receiver.transmission, transmission.low, transmission.high);
    dim();
    constexpr double close = 0.02;
    if (std::abs(factor - 1.0) > close) {
        miss_light(wanted, factor);
        return false;
    }
    return build();
}

// @param factor  Of light that is missing, or below 1 too much.
void Solver::miss_light(double wanted, double factor) {
    if (asks_for(SheetFigure::white_exposure)) {
        miss(SheetFigure::white_exposure, Misfit::aperture, factor, wanted * factor);
        return;
    }
    miss(Misfit::light, factor);
    candidate_.too_bright = factor < 1.0;
}

// Linear in the shift: two drifts give the line. Equation (sheet.9).
bool Solver::solve_temperature() {
    const double drawn = draw_.sign() * draw_(Open::lens_shift) * um;
    s_.thermal.lens_shift = drawn;
    carry_over();
    if (!asks_for(SheetFigure::temperature)) return true;
    const double span = s_.mount.range[1] - s_.mount.range[0];
    const double wanted = draw_.sign() * draw_.of(*sheet_.temperature, StatedNumber::temperature) * span;
    sensor::TriangulationSetup trial = *candidate_.setup;
    const auto with = drift_per_kelvin(trial);
    trial.scenario.thermal.lens_shift = 0.0;
    const auto without = drift_per_kelvin(trial);
    if (!with || !without || *with == *without) {
        miss(Misfit::temperature, 1.0);
        return false;
    }
    s_.thermal.lens_shift = drawn * (wanted - *without) / (*with - *without);
    constexpr double most = 50.0 * um;
    if (std::abs(s_.thermal.lens_shift) > most) {
        const double reached = *without + (wanted - *without) * most / std::abs(s_.thermal.lens_shift);
        miss(SheetFigure::temperature, Misfit::temperature, std::abs(s_.thermal.lens_shift) / most,
             std::abs(reached) / span);
        return false;
    }
    carry_over();
    return true;
}

void Solver::judge() {
    const scenario::SheetRepeatability conditions = sheet_.repeatability.value_or(scenario::SheetRepeatability{});
    candidate_.figures = figures_of(*candidate_.setup, conditions, sheet_.linearity.has_value());
    for (std::size_t i = 0; i < sheet_figures; ++i) {
        const auto figure = static_cast<SheetFigure>(i);
        const auto stated = stated_of(sheet_, figure);
        if (!stated) {
            candidate_.figures.at(i).reset();
            continue;
        }
        if (!asks_for(figure)) continue;
        // The model's own residue of calibration is a part of a sensor's linearity, not all of it.
        const bool bound = figure == SheetFigure::linearity;
        const std::optional<double> found = candidate_.figures.at(i);
        if (!found) {
            miss(Misfit::geometry, 1.0);
            candidate_.obstacle = invalid_tile;
            return;
        }
        constexpr double errors = 3.0;
        const double slack = figure == SheetFigure::repeatability ? errors * single_scatter_error() : close_enough;
        const double low = bound ? 0.0 : stated->low * (1.0 - slack);
        const double high = stated->high * (1.0 + slack);
        if (*found >= low && *found <= high) continue;
        miss(figure, Misfit::figures, *found > 0.0 ? stated->middle() / *found : 1.0, found);
    }
}

void Solver::solve() {
    s_.receiver.aperture = scenario::round_aperture(drawn_aperture(sheet_, draw_, aperture_bounds(sheet_, s_)));
    if (!build() || !solve_full_well() || !solve_light()) return;
    // The exposure goes with the full well, which diffraction of the new aperture changes.
    if (asks_for(SheetFigure::white_exposure)) {
        if (!solve_full_well() || !solve_light()) return;
    }
    if (!solve_full_well() || !solve_temperature()) return;
    judge();
}

}  // namespace

namespace {

// The tile of the sheet. What is wrong with it is said at the sheet's own key.
Scenario tile_of(const Sheet& sheet) {
    const std::string material = sheet.repeatability ? sheet.repeatability->material : "white-ceramic";
    try {
        return scenario::parse(
            fmt::format("schema = 1\ntitle = {}\n[target]\nmaterial = {}\n[reading]\ncalibrated_on = \"{}\"\n"
                        "[run]\nspeckle = \"off\"\n[exposure]\nmode = \"automatic\"\n",
                        scenario::toml_string(sheet.title), scenario::toml_string(material),
                        sheet.mount == scenario::SheetMount::specular ? "mirror" : "white-ceramic"),
            sheet.file);
    } catch (const base::ScenarioError& error) {
        std::vector<base::Problem> problems = error.problems();
        for (base::Problem& problem : problems) problem.location = location_of(sheet, "repeatability.material");
        throw base::ScenarioError(std::move(problems));
    }
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
    if (periods.empty()) periods = s.exposure.period[0] > 0.0 ? std::vector{s.exposure.period[0]} : periods;
    double shortest = periods.front();
    if (sheet.repeatability && sheet.repeatability->period) shortest = *sheet.repeatability->period;
    s.exposure.period = {shortest, std::max(shortest, periods.back())};
    s.exposure.exposure =
        sheet.exposures ? (*sheet.exposures)[0] : std::max(shortest_of_all, shortest_exposure_share * periods.front());
    return s;
}

Candidate make_candidate(const Sheet& sheet, const Scenario& stated, const GivenUp& given_up, std::uint64_t seed,
                         std::int64_t index) {
    Candidate candidate;
    candidate.scenario = stated;
    Scenario& s = candidate.scenario;
    const SheetDraws draw(seed, index);
    set_beam(sheet, draw, s);
    s.emitter.power = power_of(sheet, draw, s.emitter.wavelength);
    candidate.obstacle = set_receiver(sheet, draw, s);
    if (!candidate.obstacle.empty()) {
        candidate.misfit = Misfit::geometry;
        return candidate;
    }
    set_array(draw, s);
    Solver(sheet, given_up, draw, candidate).solve();
    return candidate;
}

}  // namespace spotwright::study
