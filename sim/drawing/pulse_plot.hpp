// How a pulsed sensor finds the time of a pulse: what its comparator sees, or the photons that it counts.
#pragma once

#include <cstdint>

#include "sim/drawing/svg_canvas.hpp"
#include "sim/sensor/flight_instrument.hpp"

namespace spotwright::drawing {

/// Signal of the comparator over time and over the distance whose light comes then, with one standard deviation of its
/// noise to either side, threshold, and the time without noise.
void draw_pulse(Canvas& canvas, const sensor::FlightSetup& setup, const flight::PulsePlan& plan,
                const flight::Light& light, const Box& area);

/// Expected counts of first photons and those of one reading, with what constant light alone would give and the time
/// that was found. Where bins are narrower than can be drawn some are taken together.
void draw_photons(Canvas& canvas, const sensor::FlightSetup& setup, const flight::CountingPlan& plan,
                  const flight::Light& light, std::int64_t index, const Box& area);

}  // namespace spotwright::drawing
