// A candidate on its way: what solving by any principle needs.
#pragma once

#include <algorithm>
#include <functional>
#include <optional>

#include "sim/study/sheet_candidate.hpp"
#include "sim/study/sheet_draw.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

inline constexpr const char* invalid_tile = "a white tile at the reference distance gives invalid readings";
inline constexpr int solver_steps = 6;
inline constexpr double solver_close = 0.01;

/// The candidate, and what it is solved for. The references outlive it.
struct SheetTrial {
    const scenario::Sheet& sheet;
    const GivenUp& given_up;
    const SheetDraws& draw;
    Candidate& candidate;
    scenario::Scenario& s;  ///< of the candidate

    [[nodiscard]] bool asks_for(SheetFigure figure) const;
    /// As the sheet has it. @param scatter  Of single readings. [m]
    [[nodiscard]] double figure_from(double scatter) const { return figure_of(*sheet.repeatability, scatter); }
    /// Of single readings, drawn within what is stated. [m]
    [[nodiscard]] double wanted_scatter() const;

    void miss(Misfit misfit, double factor) {
        candidate.misfit = misfit;
        candidate.miss = std::max(factor, 1.0 / factor);
    }
    void miss(SheetFigure figure, Misfit misfit, double factor, std::optional<double> nearest);
    void miss_tile();

    /// Builds and calibrates the sensor. @return Whether there is one.
    bool build();
    /// The setup takes what does not need another calibration.
    void carry_over();

    /// Linear in a shift or a delay per kelvin: two drifts give the line. Equation (sheet.9).
    /// @param knob  The key by which the drift is solved for.  @param drawn, most  Its size as drawn, and at most. [SI]
    bool solve_drift(const std::function<double&(scenario::Scenario&)>& knob, double drawn, double most);

    /// Has the model judge what is solved.
    void judge();
};

/// A factor of light that is missing (below 1: too much), taken up by what the sheet leaves open of a receiver.
struct LightSearch {
    double factor = 1.0;
    /// Changes a value in proportion to light, as far as its bounds allow.
    void take(double& value, double low, double high) {
        const double taken = std::clamp(value * factor, low, high);
        factor /= taken / value;
        value = taken;
    }
    /// Aperture, efficiency and transmission, one after the other. @param diameters  Of the aperture. [m]
    void take_from_receiver(const scenario::Pair& diameters, scenario::Scenario& s);
};

/// Solves the rest of a drawn sensor whose signal fills wells: pixels of an array, or buckets of a phase measurement.
void solve_array(SheetTrial& trial);
void solve_phase(SheetTrial& trial);

/// Time of flight: the drift of the electronics' delay. @return Whether it can be solved for.
bool solve_delay_drift(SheetTrial& trial);

/// Time of flight: whether the matt white tile is read at both ends of the range.
bool reads_over_range(SheetTrial& trial);

/// The same of a sensor that sends pulses.
void solve_pulses(SheetTrial& trial);

}  // namespace spotwright::study
