// Time of flight of a part that moves along the mounting normal.
#pragma once

#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/moving.hpp"

namespace spotwright::measure {

/// @throws ScenarioError  What time of flight does not trace: segments, motion across, rotation, and an
///   automatic exposure of a moving part.
void require_supported_motion(const scenario::Scenario& scenario);

/// By phase, each bucket collects the light of the part where it stands meanwhile, frequency after frequency, slot
/// after slot (motion.17); the truth is that in the middle of the reading. Pulses are those of the part in the middle
/// of the reading: their mean is right, their spread by the motion is left out.
/// @param timing  Of all readings; exposure: of each frequency.  @param speckles  The part's own patch of speckle is
/// seen.
[[nodiscard]] MovingSeries take_moving_series(const sensor::FlightSetup& setup, const detector::Timing& timing,
                                              bool speckles, const SeriesOptions& options);

/// Amplitude of the error of distance that swings with twice the phase, of a part in steady motion whose light is
/// steady: |v| t |sum_k s_k exp(i 4 pi k / N)| / N, t the time of a slot and s_k the slot of bucket k, (motion.18). For
/// N buckets in turn it is |v| T / (2 N sin(2 pi / N)): v T / 8 for four of them. First order in the turn of the phase
/// in a slot, 4 pi f v t / c. Source: derived in docs/theory/motion.md. [m]
/// @param exposure  T, of one frequency. [s]
[[nodiscard]] double cyclic_motion_error(const scenario::Scenario& scenario, double speed, double exposure);

}  // namespace spotwright::measure
