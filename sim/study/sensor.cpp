#include "sim/study/sensor.hpp"

#include "sim/study/flight_reading.hpp"

namespace spotwright::study {

Sensor make_sensor(const scenario::Scenario& scenario, int threads) {
    if (scenario.principle == scenario::Principle::triangulation) return make_instrument(scenario, threads);
    return make_flight_instrument(scenario, threads);
}

ReadResult read(const Sensor& sensor, const ReadOptions& options) {
    return std::visit([&options](const auto& instrument) { return read(instrument, options); }, sensor);
}

}  // namespace spotwright::study
