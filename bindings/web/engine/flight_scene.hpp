// The same of a sensor that times light.
#pragma once

#include "bindings/web/engine/question.hpp"
#include "sim/sensor/flight_layout.hpp"

namespace spotwright::web {

[[nodiscard]] Json flight_scene(const scenario::Scenario& scenario, const sensor::FlightLayout& layout);

}  // namespace spotwright::web
