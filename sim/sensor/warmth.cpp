#include "sim/sensor/warmth.hpp"

#include <cmath>

#include "sim/base/units.hpp"

namespace spotwright::sensor {

WarmParts warm_parts(const scenario::Scenario& s, double temperature) {
    const scenario::Thermal& thermal = s.thermal;
    const double warming = temperature - base::room_temperature;
    scenario::Scenario warmed = s;
    warmed.emitter.wavelength += thermal.wavelength_change * warming;
    warmed.emitter.angle -= thermal.pointing * warming;
    WarmParts parts{emitter::make_beam(warmed), receiver::make_receiver(s)};
    parts.beam.face = emitter::make_beam(s).face;

    // Every part moves away from the mounting face by the growth of its distance: the lens by that vector, seen along
    // the receiver's axis and across it; what lies behind it moves along.
    receiver::Receiver& r = parts.receiver;
    const double growth = thermal.housing_expansion * warming;
    const Eigen::Vector3d moved = growth * (receiver::aperture_place(r, 0.0, 0.0) - parts.beam.face);
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
    return parts;
}

Instrument at_temperature(Instrument instrument, double temperature) {
    WarmParts parts = warm_parts(instrument.scenario, temperature);
    instrument.beam = parts.beam;
    instrument.receiver = parts.receiver;
    instrument.scenario.surroundings.temperature = temperature;
    return instrument;
}

FlightInstrument at_temperature(FlightInstrument instrument, double temperature) {
    instrument.scenario.surroundings.temperature = temperature;
    instrument.index = index_of_air(instrument.scenario);
    return instrument;
}

Sensor at_temperature(const Sensor& sensor, double temperature) {
    return std::visit([&](const auto& instrument) -> Sensor { return at_temperature(instrument, temperature); },
                      sensor);
}

}  // namespace spotwright::sensor
