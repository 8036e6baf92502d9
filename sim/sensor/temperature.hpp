// The sensor at another temperature than that of its calibration.
#pragma once

#include "sim/sensor/sensor.hpp"

namespace spotwright::sensor {

/// Receiver and beam when the housing, the array, the lens and the emitter have warmed from 20 C on by `[thermal]`: the
/// mounting face stays where it is at the emitter face, all distances from it grow with the housing, angles stay.
/// Source: thermal expansion of a rigid frame, derived; sensitivities in docs/theory/temperature.md.
struct PartsAtTemperature {
    emitter::Beam beam;
    receiver::Receiver receiver;
};

/// @param temperature  [K]
/// Equations (temperature.1) to (temperature.3).
[[nodiscard]] PartsAtTemperature parts_at_temperature(const scenario::Scenario& scenario, double temperature);

/// The same sensor with the calibration it has, at a temperature. [K] Time of flight: the delays of its electronics and
/// the air; its housing stays as it is.
/// @throws ScenarioError  Air of this temperature cannot hold its moisture (time of flight).
[[nodiscard]] TriangulationSetup at_temperature(TriangulationSetup setup, double temperature);
[[nodiscard]] FlightSetup at_temperature(FlightSetup setup, double temperature);
[[nodiscard]] Setup at_temperature(const Setup& setup, double temperature);
/// Catches a kind of setup without its own `at_temperature`: it would convert to `Setup` and recurse without end.
template <class Other>
Setup at_temperature(const Other&, double) = delete;

}  // namespace spotwright::sensor
