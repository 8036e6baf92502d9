// The mounting for CAD programs.
#pragma once

#include <string>

#include "sim/scenario/scenario.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::drawing {

/// DXF R12 of the plane of the mounting in millimetres, 1:1: x to the right, z up, the origin at the reference point.
/// Layers: HOUSING (where it is known), BEAM, RECEIVER_AXIS, CHIEF_RAYS, LENS, ARRAY (of time of flight the detector),
/// RANGE, PART, DIMENSIONS. The beam has its true 1/e^2 width. The same input gives the same text.
/// @param layout  Of the same scenario.
[[nodiscard]] std::string layout_dxf(const scenario::Scenario& scenario, const sensor::Layout& layout);
[[nodiscard]] std::string layout_dxf(const scenario::Scenario& scenario, const sensor::FlightLayout& layout);

}  // namespace spotwright::drawing
