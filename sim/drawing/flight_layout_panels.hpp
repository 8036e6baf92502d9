// What stands beside the drawing of a time-of-flight sensor.
#pragma once

#include "sim/drawing/svg_canvas.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/sensor/flight_layout.hpp"

namespace spotwright::drawing {

/// Across the beam at near end, reference and far end, each to a scale of its own: the spot and what the detector sees
/// there, with their numbers below.
void draw_seen_spots(Canvas& canvas, const scenario::Scenario& scenario, const sensor::FlightLayout& layout,
                     const Box& area);

/// Quantities of the layout, and the laser class with its caution.
void draw_flight_numbers(Canvas& canvas, const scenario::Scenario& scenario, const sensor::FlightLayout& layout,
                         const Box& area);

}  // namespace spotwright::drawing
