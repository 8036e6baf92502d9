#include "sim/sensor/sensor.hpp"

namespace spotwright::sensor {

Sensor make_sensor(const scenario::Scenario& scenario, int threads) {
    if (scenario.principle == scenario::Principle::triangulation) return make_instrument(scenario, threads);
    return make_flight_instrument(scenario, threads);
}

const scenario::Scenario& scenario_of(const Sensor& sensor) {
    return std::visit([](const auto& instrument) -> const scenario::Scenario& { return instrument.scenario; }, sensor);
}

Sensor with_part(Sensor sensor, const scenario::Scenario& scenario) {
    std::visit([&](auto& instrument) { instrument.scenario = scenario; }, sensor);
    return sensor;
}

Sensor before_reference(const Sensor& sensor) {
    scenario::Scenario s = scenario_of(sensor);
    const double displacement = s.target.displacement;
    s.target = {};
    s.target.material = s.reading.calibrated_on;
    s.target.displacement = displacement;
    s.material = s.reference;
    s.segment_materials.clear();
    s.backing.reset();
    s.reading.choose = {};
    return with_part(sensor, s);
}

std::optional<double> noiseless_reading(const Sensor& sensor, double displacement) {
    if (const auto* instrument = std::get_if<Instrument>(&sensor)) return noiseless_reading(*instrument, displacement);
    const auto& flight = std::get<FlightInstrument>(sensor);
    return noiseless_reading(flight, make_flight_pose(flight, displacement));
}

}  // namespace spotwright::sensor
