#include "sim/sensor/sensor.hpp"

#include "sim/base/cases.hpp"

namespace spotwright::sensor {

using base::Cases;

Sensor make_sensor(const scenario::Scenario& s, int threads) {
    const auto by_position = [&](scenario::Triangulation) -> Sensor { return make_instrument(s, threads); };
    const auto by_phase = [&](scenario::PhaseShift) -> Sensor { return make_flight_instrument(s, threads); };
    const auto by_pulses = [&](scenario::Pulsed) -> Sensor { return make_flight_instrument(s, threads); };
    return std::visit(Cases{by_position, by_phase, by_pulses}, s.principle);
}

namespace {

Sensor sensor_of(const Setup& setup) {
    return std::visit([](const auto& each) -> Sensor { return each.instrument; }, setup);
}

}  // namespace

bool fits(const Sensor& sensor, const scenario::Scenario& s) {
    const scenario::SensorKeys keys = scenario::sensor_keys(s);
    return std::visit([&keys](const auto& instrument) { return instrument.keys == keys; }, sensor);
}

Setup set_up(const Sensor& sensor, const scenario::Scenario& s) {
    return std::visit([&s](const auto& instrument) -> Setup { return set_up(instrument, s); }, sensor);
}

Setup set_up(const scenario::Scenario& s, int threads) {
    return set_up(make_sensor(s, threads), s);
}

Setup set_up(const Setup& existing, const scenario::Scenario& s, int threads) {
    const Sensor sensor = sensor_of(existing);
    return fits(sensor, s) ? set_up(sensor, s) : set_up(s, threads);
}

TriangulationSetup set_up_triangulation(const scenario::Scenario& s, int threads) {
    return set_up(make_instrument(s, threads), s);
}

FlightSetup set_up_flight(const scenario::Scenario& s, int threads) {
    return set_up(make_flight_instrument(s, threads), s);
}

const scenario::Scenario& scenario_of(const Setup& setup) {
    return std::visit([](const auto& each) -> const scenario::Scenario& { return each.scenario; }, setup);
}

Setup with_part(const Setup& setup, const scenario::Scenario& s) {
    return set_up(sensor_of(setup), s);
}

Setup before_reference(const Setup& setup) {
    scenario::Scenario s = scenario_of(setup);
    const double displacement = s.target.displacement;
    s.target = {};
    s.target.material = s.reading.calibrated_on;
    s.target.displacement = displacement;
    s.target.made_of = s.reading.reference;
    s.reading.choose = {};
    return with_part(setup, s);
}

AnyLayout layout_of(const scenario::Scenario& s) {
    const auto by_position = [&s](scenario::Triangulation) -> AnyLayout { return make_layout(s); };
    const auto by_phase = [&s](scenario::PhaseShift) -> AnyLayout { return make_flight_layout(s); };
    const auto by_pulses = [&s](scenario::Pulsed) -> AnyLayout { return make_flight_layout(s); };
    return std::visit(Cases{by_position, by_phase, by_pulses}, s.principle);
}

std::optional<double> noiseless_reading(const Setup& setup, double displacement) {
    const auto by_position = [displacement](const TriangulationSetup& each) {
        return noiseless_reading(each, displacement);
    };
    const auto by_time = [displacement](const FlightSetup& each) {
        return noiseless_reading(each, make_flight_pose(each, displacement));
    };
    return std::visit(Cases{by_position, by_time}, setup);
}

}  // namespace spotwright::sensor
