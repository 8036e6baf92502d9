#include "sim/sensor/temperature.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::sensor {

namespace {

// Turns lens and array together about a place. Equation (instrument.10).
void bend_housing(double turn, const Eigen::Vector3d& about, receiver::Receiver& r) {
    const Eigen::Vector3d from = receiver::aperture_point(r, 0.0, 0.0) - about;
    const Eigen::Vector3d lens =
        about + Eigen::Vector3d(from.x() * std::cos(turn) + from.z() * std::sin(turn), from.y(),
                                from.z() * std::cos(turn) - from.x() * std::sin(turn));
    r.angle += turn;
    r.object_distance = lens.x() * std::sin(r.angle) + lens.z() * std::cos(r.angle);
    r.lens_shift = lens.z() * std::sin(r.angle) - lens.x() * std::cos(r.angle);
}

}  // namespace

PartsAtTemperature parts_at_temperature(const scenario::Scenario& s, double temperature) {
    const scenario::Thermal& thermal = s.thermal;
    const double warming = temperature - base::room_temperature;
    scenario::Emitter warmed = s.emitter;
    warmed.wavelength += thermal.wavelength_change * warming;
    warmed.angle -= thermal.pointing * warming;
    PartsAtTemperature parts{emitter::make_beam(warmed, s.mount), receiver_of(s)};
    parts.beam.face = beam_of(s).face;
    parts.beam.power *= std::max(0.0, 1.0 + thermal.power_change * warming);

    // Every part moves away from the mounting face by the growth of its distance: the lens by that vector, seen along
    // the receiver's axis and across it; what lies behind it moves along.
    receiver::Receiver& r = parts.receiver;
    const double growth = thermal.housing_expansion * warming;
    const Eigen::Vector3d moved = growth * (receiver::aperture_point(r, 0.0, 0.0) - parts.beam.face);
    const Eigen::Vector3d in_receiver = receiver::direction_to_receiver(r, moved);
    const double by_itself = -thermal.lens_shift * warming;  // towards x is against the transverse coordinate
    r.object_distance += in_receiver.x();
    r.image_distance *= 1.0 + growth;
    r.focal_length *= 1.0 + thermal.focal_length_change * warming;
    r.lens_shift = in_receiver.y() + by_itself;
    r.array_offset = by_itself;
    r.array_shift = thermal.array_shift * warming;
    r.pitch *= 1.0 + thermal.array_expansion * warming;
    r.height *= 1.0 + thermal.array_expansion * warming;
    r.transmission *= filter_passed(s, warmed.wavelength);
    if (thermal.bending != 0.0) bend_housing(thermal.bending * warming, parts.beam.face, r);
    put_glass_before(s.cover, parts.beam, r);
    put_dirt_before(s.cover, r);
    return parts;
}

namespace {

// Surroundings in which the sensor, as warm as it is, has a temperature.
void put_at(scenario::Scenario& s, double temperature) {
    s.surroundings.temperature = temperature + scenario::warm_up_left(s.thermal, s.surroundings.running);
}

}  // namespace

TriangulationSetup at_temperature(TriangulationSetup setup, double temperature) {
    PartsAtTemperature parts = parts_at_temperature(setup.scenario, temperature);
    setup.instrument.beam = parts.beam;
    setup.instrument.receiver = parts.receiver;
    put_at(setup.scenario, temperature);
    return setup;
}

FlightSetup at_temperature(FlightSetup setup, double temperature) {
    put_at(setup.scenario, temperature);
    setup.index = index_of_air(setup.scenario);
    return setup;
}

Setup at_temperature(const Setup& setup, double temperature) {
    return std::visit([&](const auto& each) -> Setup { return at_temperature(each, temperature); }, setup);
}

}  // namespace spotwright::sensor
