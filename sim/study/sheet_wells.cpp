// Full well, noise and light of a sensor whose signal fills wells: pixels of an array, buckets of a phase measurement.
#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/sheet_ranges.hpp"
#include "sim/study/sheet_trial.hpp"

namespace spotwright::study {

namespace {

using base::um;
using scenario::Scenario;

// What differs between pixels and buckets.
struct Wells {
    Open full_well;
    Open read_noise;
    scenario::Pair diameters{0.0, 0.0};  // of the aperture, what window and lens allow. [m]
};

class WellSolver {
public:
    WellSolver(SheetTrial& trial, const Wells& wells)
        : t_(trial), sheet_(trial.sheet), draw_(trial.draw), s_(trial.s), wells_(wells) {}

    // @param first_guess  Of the full well, by a closed form or as drawn. [e]
    bool solve(double first_guess);

private:
    bool solve_full_well(double guess);
    bool solve_read_noise(double wanted);
    [[nodiscard]] std::optional<double> bright_scatter();
    [[nodiscard]] double wanted_exposure(double has) const;
    bool solve_light();
    void miss_light(double wanted, double factor);

    SheetTrial& t_;
    const scenario::Sheet& sheet_;
    const SheetDraws& draw_;
    Scenario& s_;
    Wells wells_;
};

// What the model's scatter says, which goes as one over the root of the full well where shot noise rules.
// Equation (sheet.7).
bool WellSolver::solve_full_well(double full_well) {
    if (!t_.asks_for(SheetFigure::repeatability)) return true;
    const double wanted = t_.wanted_scatter();
    const OpenRange& range = range_of(wells_.full_well);
    if (full_well < range.low) return solve_read_noise(wanted);
    std::optional<double> reached;
    for (int i = 0; i < solver_steps; ++i) {
        s_.detector.full_well = std::clamp(full_well, range.low, range.high);
        const std::optional<double> scatter = bright_scatter();
        if (!scatter) {
            t_.miss_tile();
            return false;
        }
        reached = t_.figure_from(*scatter);
        const double ratio = *scatter / wanted;
        if (std::abs(ratio - 1.0) < solver_close) break;
        full_well = s_.detector.full_well * ratio * ratio;
    }
    if (full_well < range.low) return solve_read_noise(wanted);
    if (full_well > range.high) {
        t_.miss(SheetFigure::repeatability, Misfit::full_well, full_well / range.high, reached);
        return false;
    }
    return true;
}

// Of the part where exposure is not cut off by the period.
std::optional<double> WellSolver::bright_scatter() {
    t_.carry_over();
    sensor::Setup bright = *t_.candidate.setup;
    const double suits = *suiting_exposure(bright);
    const auto lengthen = [suits](auto& setup) {
        scenario::Exposure& exposure = setup.scenario.exposure;
        const auto exposures = static_cast<double>(scenario::exposures_in_period(setup.scenario));
        exposure.period[1] = std::max(exposure.period[1], suits * exposures);
        exposure.exposure = std::min(exposure.exposure, suits);
    };
    std::visit(lengthen, bright);
    return single_scatter(bright);
}

// Shot noise of the smallest full well is less than the wanted scatter: at the drawn full well, read noise makes up for
// the rest. Its variance adds to that of shot noise, so two evaluations give the line. Equation (sheet.10).
bool WellSolver::solve_read_noise(double wanted) {
    scenario::Detector& d = s_.detector;
    d.full_well = draw_(wells_.full_well);
    // Noise must not pass for a peak: five standard deviations below the threshold.
    constexpr double apart = 5.0;
    const double most = s_.reading.threshold * d.full_well / apart;
    d.read_noise = 0.0;
    const std::optional<double> shot = bright_scatter();
    double noise = std::min(draw_(wells_.read_noise), most);
    for (int i = 0; shot && *shot < wanted && i < solver_steps; ++i) {
        d.read_noise = noise;
        const std::optional<double> scatter = bright_scatter();
        if (!scatter) break;
        if (std::abs(*scatter / wanted - 1.0) < solver_close) return true;
        const double slope = *scatter * *scatter - *shot * *shot;
        const double next = slope > 0.0 ? noise * std::sqrt((wanted * wanted - *shot * *shot) / slope) : most;
        if (noise == most && next > most) {
            t_.miss(SheetFigure::repeatability, Misfit::noise, wanted / *scatter, t_.figure_from(*scatter));
            return false;
        }
        noise = std::min(next, most);
    }
    if (const std::optional<double> last = bright_scatter()) {
        t_.miss(SheetFigure::repeatability, Misfit::noise, wanted / *last, t_.figure_from(*last));
    } else {
        t_.miss_tile();
    }
    return false;
}

// The exposure that the white tile should have: as stated, or within what period and shortest exposure leave. [s]
double WellSolver::wanted_exposure(double has) const {
    if (t_.asks_for(SheetFigure::white_exposure)) {
        return draw_.of(*sheet_.white_exposure, StatedNumber::white_exposure);
    }
    const double share = draw_(Open::aperture_share);
    const double longest = s_.exposure.period[0] / static_cast<double>(scenario::exposures_in_period(s_));
    if (has > longest) return longest * (0.5 + 0.5 * share);
    if (has < s_.exposure.exposure) return s_.exposure.exposure * (1.0 + share);  // shorter is not offered
    return has;
}

// Aperture first, then efficiency and transmission, until the white tile is exposed as wanted. A class is an upper
// limit: of a mirror, which sends nearly all light to the lens, power is lowered first, else last. Equation (sheet.8):
// exposure goes as one over power, aperture^2, transmission and efficiency.
bool WellSolver::solve_light() {
    const double has = *suiting_exposure(*t_.candidate.setup);
    const double wanted = wanted_exposure(has);
    if (wanted == has) return true;
    LightSearch light{has / wanted};
    const auto dim = [&] {
        constexpr double least = 0.01;
        if (!sheet_.power && light.factor < 1.0) {
            light.take(s_.emitter.power, least * s_.emitter.power, s_.emitter.power);
        }
    };
    if (sheet_.mount == scenario::SheetMount::specular) dim();
    light.take_from_receiver(wells_.diameters, s_);
    dim();
    constexpr double close = 0.02;
    if (std::abs(light.factor - 1.0) > close) {
        miss_light(wanted, light.factor);
        return false;
    }
    return t_.build();
}

// @param factor  Of light that is missing, or below 1 too much.
void WellSolver::miss_light(double wanted, double factor) {
    if (t_.asks_for(SheetFigure::white_exposure)) {
        t_.miss(SheetFigure::white_exposure, Misfit::aperture, factor, wanted * factor);
        return;
    }
    t_.miss(Misfit::light, factor);
    t_.candidate.too_bright = factor < 1.0;
}

bool WellSolver::solve(double first_guess) {
    if (!solve_full_well(first_guess) || !solve_light()) return false;
    // The exposure goes with the full well, which diffraction of the new aperture changes.
    if (t_.asks_for(SheetFigure::white_exposure)) {
        if (!solve_full_well(first_guess) || !solve_light()) return false;
    }
    return solve_full_well(first_guess);
}

// Equations (sheet.3) and (sheet.4). [e]
double full_well_of_array(const SheetTrial& t) {
    if (!t.asks_for(SheetFigure::repeatability)) return t.s.detector.full_well;
    const receiver::Receiver& r = std::get<sensor::TriangulationSetup>(*t.candidate.setup).instrument.receiver;
    const double between = t.s.receiver.angle - t.s.emitter.angle;
    const double radius = t.s.emitter.waist_radius[0];
    const double width = radius / (2.0 * std::tan(between)) * receiver::sensitivity_at(r, 0.0) / r.pitch;
    return full_well_for(electrons_for(radius, between, t.wanted_scatter()), width, t.s.exposure.level);
}

}  // namespace

void solve_array(SheetTrial& t) {
    const scenario::Pair diameters = aperture_bounds(t.sheet, t.s);
    t.s.receiver.aperture = scenario::round_aperture(drawn_aperture(t.sheet, t.draw, diameters));
    if (!t.build()) return;
    WellSolver wells(t, {Open::full_well, Open::read_noise, diameters});
    constexpr double most = 50.0 * um;
    if (!wells.solve(full_well_of_array(t))) return;
    if (!t.solve_drift([](Scenario& s) -> double& { return s.thermal.lens_shift; }, t.draw(Open::lens_shift) * um,
                       most)) {
        return;
    }
    t.judge();
}

void solve_phase(SheetTrial& t) {
    if (!t.build()) return;
    WellSolver wells(t, {Open::bucket_well, Open::bucket_noise, lens_diameters(t.sheet)});
    if (!wells.solve(t.s.detector.full_well)) return;
    if (!solve_delay_drift(t) || !reads_over_range(t)) return;
    t.judge();
}

}  // namespace spotwright::study
