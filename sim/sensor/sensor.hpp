// A sensor of whatever principle.
#pragma once

#include <optional>
#include <variant>

#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::sensor {

using Sensor = std::variant<Instrument, FlightInstrument>;

/// By the scenario's principle. @throws ScenarioError  As `make_instrument` and `make_flight_instrument`.
[[nodiscard]] Sensor make_sensor(const scenario::Scenario& scenario, int threads);

[[nodiscard]] const scenario::Scenario& scenario_of(const Sensor& sensor);

/// The same sensor before another part or in other surroundings, with the calibration and temperature it has.
/// @param scenario  That differs in `[target]`, the materials found for it, `[motion]` and `[run]` only.
[[nodiscard]] Sensor with_part(Sensor sensor, const scenario::Scenario& scenario);

/// The sensor before its reference, squarely mounted.
[[nodiscard]] Sensor before_reference(const Sensor& sensor);

/// What a reading of the part at this displacement gives without noise, saturation and speckle; none where it is
/// invalid. [m]
[[nodiscard]] std::optional<double> noiseless_reading(const Sensor& sensor, double displacement);

}  // namespace spotwright::sensor
