// Charges of the buckets of a phase measurement, and the waves through them.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/drawing/svg_canvas.hpp"
#include "sim/sensor/flight_instrument.hpp"

namespace spotwright::drawing {

/// Charges of one reading, of all buckets of all frequencies: those that `sensor::take_reading` makes its phases of.
/// @throws InternalError  The pose is not one of a phase measurement. [e]
[[nodiscard]] std::vector<double> read_charges(const sensor::FlightSetup& setup, const sensor::FlightPose& pose,
                                               std::int64_t index);

/// A panel for each frequency: charges over 2 pi k / N with error bars of one standard deviation, the wave demodulated
/// from them, its phase, background and full well.
void draw_phases(Canvas& canvas, const sensor::FlightSetup& setup, const sensor::FlightPose& pose, std::int64_t index,
                 const Box& area);

}  // namespace spotwright::drawing
