// The drawings that every principle has.
#pragma once

#include <string>

#include "sim/study/sensor.hpp"

namespace spotwright::record {

/// The mounting to scale. @throws ScenarioError  As `study::make_layout`, `study::make_flight_layout`.
[[nodiscard]] std::string draw_geometry(const scenario::Scenario& scenario);

/// The first reading. @param result  Of the sensor.
[[nodiscard]] std::string draw_reading(const study::Sensor& sensor, const study::ReadResult& result);

}  // namespace spotwright::record
