// A sensor of whatever principle, and its reading.
#pragma once

#include <variant>

#include "sim/study/flight_instrument.hpp"
#include "sim/study/instrument.hpp"
#include "sim/study/read.hpp"

namespace spotwright::study {

using Sensor = std::variant<Instrument, FlightInstrument>;

/// By the scenario's principle. @throws ScenarioError  As `make_instrument` and `make_flight_instrument`.
[[nodiscard]] Sensor make_sensor(const scenario::Scenario& scenario, int threads);

[[nodiscard]] ReadResult read(const Sensor& sensor, const ReadOptions& options);

}  // namespace spotwright::study
