// The drawings that every principle has.
#pragma once

#include <string>

#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::drawing {

/// The mounting to scale. @throws ScenarioError  As `sensor::layout_of`.
[[nodiscard]] std::string draw_geometry(const scenario::Scenario& scenario);

/// The mounting of a triangulation sensor alone, as a small figure whose text keeps its size: 640 by 400 page units.
/// Empty for a sensor that times light.
[[nodiscard]] std::string draw_mounting_figure(const scenario::Scenario& scenario);

/// The first reading. @param result  Of the sensor.
[[nodiscard]] std::string draw_reading(const sensor::Setup& setup, const measure::ReadResult& result);

}  // namespace spotwright::drawing
