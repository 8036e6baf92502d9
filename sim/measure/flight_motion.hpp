// Time of flight of a part that moves along the mounting normal.
#pragma once

#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/moving.hpp"

namespace spotwright::measure {

/// @throws ScenarioError  What time of flight does not trace: segments, motion across, rotation, and an
///   automatic exposure of a moving part.
void require_supported_motion(const scenario::Scenario& scenario);

/// Each reading is that of the part in the middle of its measurement: what moves on while frequencies or pulses follow
/// one another is left out, and so is the smear within.
/// @param timing  Of all readings.  @param speckles  The part's own patch of speckle is seen.
[[nodiscard]] MovingSeries take_moving_series(const sensor::FlightSetup& setup, const detector::Timing& timing,
                                              bool speckles, const SeriesOptions& options);

}  // namespace spotwright::measure
