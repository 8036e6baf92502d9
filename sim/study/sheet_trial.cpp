#include "sim/study/sheet_trial.hpp"

#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/sensor/temperature.hpp"

namespace spotwright::study {

bool SheetTrial::asks_for(SheetFigure figure) const {
    return stated_of(sheet, figure).has_value() && !given_up.at(static_cast<std::size_t>(figure));
}

double SheetTrial::wanted_scatter() const {
    return single_scatter_of(*sheet.repeatability, draw.of(sheet.repeatability->value, StatedNumber::repeatability));
}

void SheetTrial::miss(SheetFigure figure, Misfit misfit, double factor, std::optional<double> nearest) {
    miss(misfit, factor);
    candidate.missed = figure;
    candidate.nearest = nearest;
}

void SheetTrial::miss_tile() {
    miss(Misfit::geometry, 1.0);
    candidate.obstacle = invalid_tile;
}

bool SheetTrial::build() {
    try {
        candidate.setup = sensor::set_up(s, 1);
    } catch (const base::ScenarioError& error) {
        candidate.setup.reset();
        candidate.misfit = Misfit::geometry;
        candidate.obstacle = error.problems().front().message;
        return false;
    }
    return true;
}

void SheetTrial::carry_over() {
    const auto take_over = [this](auto& setup) {
        setup.scenario = s;
        setup.instrument.keys = scenario::sensor_keys(s);
    };
    std::visit(take_over, *candidate.setup);
}

bool SheetTrial::solve_drift(const std::function<double&(scenario::Scenario&)>& knob, double drawn, double most) {
    const double drawn_signed = draw.sign() * drawn;
    knob(s) = drawn_signed;
    carry_over();
    if (!asks_for(SheetFigure::temperature)) return true;
    const double span = s.mount.range[1] - s.mount.range[0];
    const double wanted = draw.sign() * draw.of(*sheet.temperature, StatedNumber::temperature) * span;
    const auto with = drift_per_kelvin(*candidate.setup);
    knob(s) = 0.0;
    carry_over();
    const auto without = drift_per_kelvin(*candidate.setup);
    if (!with || !without || *with == *without) {
        miss(Misfit::temperature, 1.0);
        return false;
    }
    const double solved = drawn_signed * (wanted - *without) / (*with - *without);
    knob(s) = solved;
    carry_over();
    if (std::abs(solved) <= most) return true;
    const double reached = *without + (wanted - *without) * most / std::abs(solved);
    miss(SheetFigure::temperature, Misfit::temperature, std::abs(solved) / most, std::abs(reached) / span);
    return false;
}

void SheetTrial::judge() {
    const scenario::SheetRepeatability conditions = sheet.repeatability.value_or(scenario::SheetRepeatability{});
    candidate.figures = figures_of(*candidate.setup, conditions, sheet.linearity.has_value());
    for (std::size_t i = 0; i < sheet_figures; ++i) {
        const auto figure = static_cast<SheetFigure>(i);
        const auto stated = stated_of(sheet, figure);
        if (!stated) {
            candidate.figures.at(i).reset();
            continue;
        }
        if (!asks_for(figure)) continue;
        // The model's own residue of calibration is a part of a sensor's linearity, not all of it.
        const bool bound = figure == SheetFigure::linearity;
        const std::optional<double> found = candidate.figures.at(i);
        if (!found) {
            miss_tile();
            return;
        }
        constexpr double errors = 3.0;
        constexpr double close_enough = 0.03;  // of figures that are solved for step by step
        const double slack = figure == SheetFigure::repeatability ? errors * single_scatter_error() : close_enough;
        const double low = bound ? 0.0 : stated->low * (1.0 - slack);
        const double high = stated->high * (1.0 + slack);
        if (*found >= low && *found <= high) continue;
        miss(figure, Misfit::figures, *found > 0.0 ? stated->middle() / *found : 1.0, found);
    }
}

void LightSearch::take_from_receiver(const scenario::Pair& diameters, scenario::Scenario& s) {
    double area = s.receiver.aperture.in_plane * s.receiver.aperture.in_plane;
    take(area, diameters[0] * diameters[0], diameters[1] * diameters[1]);
    s.receiver.aperture = scenario::round_aperture(std::sqrt(area));
    const OpenRange& efficiency = range_of(Open::quantum_efficiency);
    const OpenRange& transmission = range_of(Open::transmission);
    take(s.detector.quantum_efficiency, efficiency.low, efficiency.high);
    take(s.receiver.transmission, transmission.low, transmission.high);
}

}  // namespace spotwright::study
