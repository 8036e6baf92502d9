// Sensors before the same part, side by side and to one scale.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/scenario/job.hpp"

namespace spotwright::drawing {

/// A sensor to be drawn.
struct DrawnSensor {
    std::string name;
    std::string verdict;
    scenario::Scenario scenario;  ///< before a part in the middle of the span
};

/// Housings, beams and lines of sight over the part in the middle of its span, and the window that the machine allows
/// for the sensors' fronts. Housings that are not known are drawn from the beam to the lens.
/// @return SVG.
[[nodiscard]] std::string draw_comparison(std::span<const DrawnSensor> sensors, const scenario::Job& job);

}  // namespace spotwright::drawing
