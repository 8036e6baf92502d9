// The drawings that every principle has.
#pragma once

#include <string>

#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::drawing {

/// The mounting to scale. @throws ScenarioError  As `sensor::layout_of`.
[[nodiscard]] std::string draw_geometry(const scenario::Scenario& scenario);

/// The first reading. @param result  Of the sensor.
[[nodiscard]] std::string draw_reading(const sensor::Setup& setup, const measure::ReadResult& result);

}  // namespace spotwright::drawing
