#include "sim/study/sheet_candidate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/design_rule.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/sheet_forms.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::degree, base::nm, base::um, base::mm, base::us;
using scenario::Scenario, scenario::Sheet;

constexpr double shortest_exposure_share = 0.001;  // of the shortest period, where a sheet says nothing
constexpr double shortest_of_all = 0.05 * us;
constexpr int solver_steps = 6;
constexpr double solver_close = 0.01;
constexpr double close_enough = 0.03;  // of figures that are solved for step by step

// Draws one parameter after the other in a fixed order, whether or not it is used: what a sheet states more does not
// change the rest.
class Draws {
public:
    Draws(std::uint64_t seed, std::int64_t index) {
        base::RandomSequence random({seed, base::Stream::sheet_sensor}, index);
        for (double& share : shares_) share = random.uniform();
        sign_ = random.uniform() < 0.5 ? -1.0 : 1.0;
        for (double& share : stated_) share = random.uniform();
    }
    [[nodiscard]] double operator()(Open open) const {
        return value_at(range_of(open), shares_.at(static_cast<std::size_t>(open)));
    }
    /// A value that the sheet states with a range.
    [[nodiscard]] double of(const scenario::Stated& stated, std::size_t number) const {
        return stated.low + stated_.at(number) * (stated.high - stated.low);
    }
    [[nodiscard]] double sign() const { return sign_; }

private:
    std::array<double, 20> shares_{};
    std::array<double, 9> stated_{};
    double sign_ = 1.0;
};

// Numbers of stated values in the draws.
enum StatedNumber : std::size_t {
    stated_windows,
    stated_in_plane,
    stated_out_of_plane,
    stated_at_ends,
    stated_wavelength,
    stated_power,
    stated_white_exposure,
    stated_repeatability,
    stated_temperature
};

double wavelength_of(const Sheet& sheet, const Draws& draw) {
    if (!sheet.wavelength) return draw(Open::wavelength) * nm;
    // Nothing depends on less than some nanometres; tables of materials end at round wavelengths.
    constexpr double same = 5.0 * nm;
    if (sheet.wavelength->high - sheet.wavelength->low < same) return sheet.wavelength->middle();
    return draw.of(*sheet.wavelength, stated_wavelength);
}

// Full widths of the sheet as 1/e^2 radii.
double radius_of(const Sheet& sheet, double width) {
    const bool half = sheet.spot.measure == scenario::SpotMeasure::half_maximum;
    return 0.5 * width * (half ? scenario::widths_ratio() : 1.0);
}

void set_beam(const Sheet& sheet, const Draws& draw, Scenario& s) {
    scenario::Emitter& e = s.emitter;
    e.wavelength = wavelength_of(sheet, draw);
    e.linewidth = draw(Open::linewidth) * nm;
    const double guess = draw(Open::spot_share) * sheet.reference_distance;
    const double in_plane =
        sheet.spot.in_plane ? radius_of(sheet, draw.of(*sheet.spot.in_plane, stated_in_plane)) : 0.5 * guess;
    const double out_of_plane =
        sheet.spot.out_of_plane ? radius_of(sheet, draw.of(*sheet.spot.out_of_plane, stated_out_of_plane)) : in_plane;
    e.waist_radius = {in_plane, out_of_plane};
    e.waist_displacement = 0.0;
    e.beam_quality = draw(Open::beam_quality);
    if (sheet.spot.in_plane && sheet.spot.in_plane_at_ends) {
        const double at_ends = radius_of(sheet, draw.of(*sheet.spot.in_plane_at_ends, stated_at_ends));
        e.beam_quality = std::max(1.0, beam_quality_of(in_plane, at_ends, sheet.range, e.wavelength));
    }
}

// Power of the class that is stated or, where nothing is, of class 2 (in the infrared class 1).
double power_of(const Sheet& sheet, const Draws& draw, double wavelength) {
    if (sheet.power) return draw.of(*sheet.power, stated_power);
    return draw(Open::power_share) * class_limit(sheet.laser_class, wavelength);
}

// The receiver by the design rule, with an array filled as drawn. @return Why there is none; else empty.
std::string set_receiver(const Sheet& sheet, const Draws& draw, Scenario& s) {
    const double distance = sheet.reference_distance;
    double angle = draw(Open::receiver_angle) * degree;
    if (sheet.windows_distance) {
        angle = receiver_angle_of(sheet.mount, draw.of(*sheet.windows_distance, stated_windows), distance);
    } else if (sheet.mount == scenario::SheetMount::specular) {
        angle *= 0.5;
    }
    if (sheet.mount == scenario::SheetMount::specular) {
        s.emitter.angle = -angle;
    } else {
        s.mount.baseline = distance * std::tan(angle);
    }
    constexpr std::array<std::int64_t, 3> pixels{512, 1024, 2048};
    const double place = std::log2(draw(Open::pixels) / 512.0) / 2.0 * static_cast<double>(pixels.size());
    s.detector.pixels = sheet.pixels.value_or(pixels.at(std::min(static_cast<std::size_t>(place), pixels.size() - 1)));
    const double pitch = draw(Open::pitch) * um;
    s.detector.pitch = pitch * draw(Open::filled_share) / scenario::filled_share;
    std::vector<base::Problem> problems;
    scenario::apply_design_rule(s, problems);
    s.mount.baseline.reset();
    s.detector.pitch = pitch;
    return problems.empty() ? std::string() : problems.front().message;
}

void set_array(const Draws& draw, Scenario& s) {
    scenario::Detector& d = s.detector;
    const double a = s.receiver.distance;
    const double magnification = s.receiver.focal_length / (a - s.receiver.focal_length);
    const double spot_image = 2.0 * s.emitter.waist_radius[1] * magnification;
    constexpr double highest = 4.9e-3;  // below what the key allows
    d.height = std::min(std::max(draw(Open::height) * um, draw(Open::height_share) * spot_image), highest);
    d.quantum_efficiency = draw(Open::quantum_efficiency);
    d.full_well = draw(Open::full_well);
    d.read_noise = draw(Open::read_noise);
    d.response_nonuniformity = draw(Open::response_nonuniformity);
    s.receiver.transmission = draw(Open::transmission);
    s.receiver.filter_width = draw(Open::filter_width) * nm;
}

// Diameters of the aperture that window, lens and beam allow. [m]
scenario::Pair aperture_bounds(const Sheet& sheet, const Scenario& s) {
    const OpenRange& f_number = range_of(Open::f_number);
    scenario::Pair bounds{s.receiver.focal_length / f_number.high, s.receiver.focal_length / f_number.low};
    if (sheet.housing.window[1] > 0.0) {
        const OpenRange& share = range_of(Open::aperture_share);
        constexpr double brightest = 1.0;  // f-number of the fastest simple lens
        bounds = {share.low * sheet.housing.window[1],
                  std::min(share.high * sheet.housing.window[1], s.receiver.focal_length / brightest)};
    }
    constexpr double clear = 0.9;  // of the way from the beam to the lens
    const double theta = s.receiver.angle - s.emitter.angle;
    bounds[1] = std::min(bounds[1], 2.0 * clear * s.receiver.distance * std::tan(theta));
    bounds[0] = std::min(bounds[0], bounds[1]);
    return bounds;
}

double drawn_aperture(const Sheet& sheet, const Draws& draw, const scenario::Pair& bounds) {
    const bool window = sheet.housing.window[1] > 0.0;
    const OpenRange& range = range_of(window ? Open::aperture_share : Open::f_number);
    const double value = draw(window ? Open::aperture_share : Open::f_number);
    const double share = window ? (value - range.low) / (range.high - range.low)
                                : 1.0 - std::log(value / range.low) / std::log(range.high / range.low);
    return bounds[0] * std::pow(bounds[1] / bounds[0], share);
}

class Solver {
public:
    Solver(const Sheet& sheet, const Draws& draw, Candidate& candidate)
        : sheet_(sheet), draw_(draw), candidate_(candidate), s_(candidate.scenario) {}

    void solve();

private:
    bool build();
    bool solve_full_well();
    bool solve_read_noise(double wanted);
    [[nodiscard]] std::optional<double> bright_scatter();
    bool solve_light();
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

    const Sheet& sheet_;
    const Draws& draw_;
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
    if (!sheet_.repeatability) return true;
    const double wanted =
        single_scatter_of(*sheet_.repeatability, draw_.of(sheet_.repeatability->value, stated_repeatability));
    const receiver::Receiver& r = candidate_.setup->instrument.receiver;
    const double between = s_.receiver.angle - s_.emitter.angle;
    const double radius = s_.emitter.waist_radius[0];
    const double width = radius / (2.0 * std::tan(between)) * receiver::sensitivity_at(r, 0.0) / r.pitch;
    double full_well = full_well_for(electrons_for(radius, between, wanted), width, s_.exposure.level);
    const OpenRange& range = range_of(Open::full_well);
    if (full_well < range.low) return solve_read_noise(wanted);
    for (int i = 0; i < solver_steps; ++i) {
        s_.detector.full_well = std::clamp(full_well, range.low, range.high);
        const std::optional<double> scatter = bright_scatter();
        if (!scatter) {
            miss(Misfit::geometry, 1.0);
            candidate_.obstacle = "a white tile at the reference distance gives invalid readings";
            return false;
        }
        const double ratio = *scatter / wanted;
        if (std::abs(ratio - 1.0) < solver_close) break;
        full_well = s_.detector.full_well * ratio * ratio;
    }
    if (full_well < range.low) return solve_read_noise(wanted);
    if (full_well > range.high) {
        miss(Misfit::full_well, full_well / range.high);
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
            miss(Misfit::noise, wanted / *scatter);
            return false;
        }
        noise = std::min(next, most);
    }
    const std::optional<double> last = bright_scatter();
    miss(Misfit::noise, last ? wanted / *last : 1.0);
    return candidate_.misfit == Misfit::none;
}

// Aperture first, then transmission and efficiency, until the white tile is exposed as stated or at least within the
// period. Equation (sheet.8): exposure goes as one over aperture^2, transmission and efficiency.
bool Solver::solve_light() {
    const scenario::Pair bounds = aperture_bounds(sheet_, s_);
    const double has = suiting_exposure(*candidate_.setup);
    double wanted = has;
    if (sheet_.white_exposure) {
        wanted = draw_.of(*sheet_.white_exposure, stated_white_exposure);
    } else if (has > s_.exposure.period[0]) {
        wanted = s_.exposure.period[0] * (0.5 + 0.5 * draw_(Open::aperture_share));
    } else if (has < s_.exposure.exposure) {
        wanted = s_.exposure.exposure * (1.0 + draw_(Open::aperture_share));  // shorter is not offered
    }
    if (wanted == has) return true;
    double factor = has / wanted;  // of light
    const double aperture = std::clamp(s_.receiver.aperture.in_plane * std::sqrt(factor), bounds[0], bounds[1]);
    factor /= std::pow(aperture / s_.receiver.aperture.in_plane, 2);
    s_.receiver.aperture = scenario::round_aperture(aperture);
    const auto take = [&factor](double& value, const OpenRange& range) {
        const double taken = std::clamp(value * factor, range.low, range.high);
        factor /= taken / value;
        value = taken;
    };
    take(s_.detector.quantum_efficiency, range_of(Open::quantum_efficiency));
    take(s_.receiver.transmission, range_of(Open::transmission));
    constexpr double close = 0.02;
    if (std::abs(factor - 1.0) > close) {
        miss(sheet_.white_exposure ? Misfit::aperture : Misfit::light, factor);
        return false;
    }
    return build();
}

// Linear in the shift: two drifts give the line. Equation (sheet.9).
bool Solver::solve_temperature() {
    const double drawn = draw_.sign() * draw_(Open::lens_shift) * um;
    s_.thermal.lens_shift = drawn;
    carry_over();
    if (!sheet_.temperature) return true;
    const double span = s_.mount.range[1] - s_.mount.range[0];
    const double wanted = draw_.sign() * draw_.of(*sheet_.temperature, stated_temperature) * span;
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
        miss(Misfit::temperature, std::abs(s_.thermal.lens_shift) / most);
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
        // The model's own residue of calibration is a part of a sensor's linearity, not all of it.
        const bool bound = figure == SheetFigure::linearity;
        const double found = candidate_.figures.at(i).value_or(0.0);
        constexpr double errors = 3.0;
        const double slack = figure == SheetFigure::repeatability ? errors * single_scatter_error() : close_enough;
        const double low = bound ? 0.0 : stated->low * (1.0 - slack);
        const double high = stated->high * (1.0 + slack);
        if (found >= low && found <= high && candidate_.figures.at(i)) continue;
        candidate_.missed = figure;
        miss(Misfit::figures, found > 0.0 ? stated->middle() / found : 1.0);
    }
}

void Solver::solve() {
    s_.receiver.aperture = scenario::round_aperture(drawn_aperture(sheet_, draw_, aperture_bounds(sheet_, s_)));
    if (!build() || !solve_full_well() || !solve_light()) return;
    if (sheet_.white_exposure) {  // the exposure goes with the full well, which diffraction of the new aperture changes
        if (!solve_full_well() || !solve_light()) return;
    }
    if (!solve_full_well() || !solve_temperature()) return;
    judge();
}

}  // namespace

Scenario stated_scenario(const Sheet& sheet) {
    const std::string material = sheet.repeatability ? sheet.repeatability->material : "white-ceramic";
    Scenario s = scenario::parse(
        fmt::format("schema = 1\ntitle = {}\n[target]\nmaterial = {}\n[reading]\ncalibrated_on = \"{}\"\n"
                    "[run]\nspeckle = \"off\"\n[exposure]\nmode = \"automatic\"\n",
                    scenario::toml_string(sheet.title), scenario::toml_string(material),
                    sheet.mount == scenario::SheetMount::specular ? "mirror" : "white-ceramic"),
        sheet.file);
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

Candidate make_candidate(const Sheet& sheet, const Scenario& stated, std::uint64_t seed, std::int64_t index) {
    Candidate candidate;
    candidate.scenario = stated;
    Scenario& s = candidate.scenario;
    const Draws draw(seed, index);
    set_beam(sheet, draw, s);
    s.emitter.power = power_of(sheet, draw, s.emitter.wavelength);
    candidate.obstacle = set_receiver(sheet, draw, s);
    if (!candidate.obstacle.empty()) {
        candidate.misfit = Misfit::geometry;
        return candidate;
    }
    set_array(draw, s);
    Solver(sheet, draw, candidate).solve();
    return candidate;
}

}  // namespace spotwright::study
