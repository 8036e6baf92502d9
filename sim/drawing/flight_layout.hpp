// A time-of-flight sensor and its range as a drawing to scale.
#pragma once

#include <string>

#include "sim/scenario/scenario.hpp"
#include "sim/sensor/flight_layout.hpp"

namespace spotwright::drawing {

/// One self-contained SVG on a sheet of A4, landscape: along the beam to scale, and across it to a larger scale that is
/// told; what the detector sees of the spot at the ends of the range and at the reference; the layout's numbers. The
/// same input gives the same text.
/// @param layout  Of the same scenario.
[[nodiscard]] std::string draw_layout(const scenario::Scenario& scenario, const sensor::FlightLayout& layout);

}  // namespace spotwright::drawing
