// The picture of one reading by time of flight: what the light was, and what the sensor makes of it.
#pragma once

#include <string>

#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::drawing {

/// An SVG page: charges of the buckets over the phase with the wave through them, the signal of a pulse with its
/// threshold, or the histogram of photons; beside it where the light came from and the numbers.
[[nodiscard]] std::string draw_flight_reading(const sensor::FlightSetup& setup, const measure::ReadResult& result);

}  // namespace spotwright::drawing
