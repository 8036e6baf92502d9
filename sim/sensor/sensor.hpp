// A sensor by any principle, and the same before a part.
#pragma once

#include <optional>
#include <variant>

#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::sensor {

/// Built and calibrated, for any part.
using Sensor = std::variant<Instrument, FlightInstrument>;

/// Before a part.
using Setup = std::variant<TriangulationSetup, FlightSetup>;

/// By the scenario's principle. @throws ScenarioError  As `make_instrument` and `make_flight_instrument`.
[[nodiscard]] Sensor make_sensor(const scenario::Scenario& scenario, int threads);

/// Whether the sensor is that of the scenario: their `sensor_keys` are equal.
[[nodiscard]] bool fits(const Sensor& sensor, const scenario::Scenario& scenario);

/// Sets the sensor before the scenario's part, at the temperature of its surroundings.
/// @throws InternalError  The sensor does not fit the scenario.
/// @throws ScenarioError  As `set_up` of a time-of-flight sensor.
[[nodiscard]] Setup set_up(const Sensor& sensor, const scenario::Scenario& scenario);
/// Catches a kind of sensor without its own `set_up`: it would convert to `Sensor` and recurse without end.
template <class Other>
Setup set_up(const Other&, const scenario::Scenario&) = delete;

/// Builds the scenario's sensor and sets it up. @param threads  0: all cores.
[[nodiscard]] Setup set_up(const scenario::Scenario& scenario, int threads);

/// Reuses the sensor of an existing setup if it fits the scenario; otherwise builds one.
[[nodiscard]] Setup set_up(const Setup& existing, const scenario::Scenario& scenario, int threads);

/// Sensor and part of a triangulation scenario.
/// @throws ScenarioError  As `make_instrument`.
[[nodiscard]] TriangulationSetup set_up_triangulation(const scenario::Scenario& scenario, int threads);

/// Sensor and part of a time-of-flight scenario.
/// @throws ScenarioError  As `make_flight_instrument`.
[[nodiscard]] FlightSetup set_up_flight(const scenario::Scenario& scenario, int threads);

[[nodiscard]] const scenario::Scenario& scenario_of(const Setup& setup);

/// The same sensor before another part or in other surroundings.
/// @throws InternalError  The sensor does not fit the scenario.
[[nodiscard]] Setup with_part(const Setup& setup, const scenario::Scenario& scenario);

/// The sensor before its reference, squarely mounted.
[[nodiscard]] Setup before_reference(const Setup& setup);

/// The geometry of a mounting in numbers.
using AnyLayout = std::variant<Layout, FlightLayout>;

/// @throws ScenarioError  As `make_layout` and `make_flight_layout`.
[[nodiscard]] AnyLayout layout_of(const scenario::Scenario& scenario);

/// What a reading of the part at this displacement gives without noise, saturation and speckle; none where it is
/// invalid. [m]
[[nodiscard]] std::optional<double> noiseless_reading(const Setup& setup, double displacement);

}  // namespace spotwright::sensor
