#include "sim/sensor/stations.hpp"

#include <fmt/format.h>

#include "sim/base/constants.hpp"
#include "sim/receiver/ambient.hpp"

namespace spotwright::sensor {

emitter::Beam beam_of(const scenario::Scenario& s) {
    return emitter::make_beam(s.emitter, s.mount);
}

target::Part part_of(const scenario::Scenario& s, double displacement) {
    return target::make_part(s.target, s.mount, beam_of(s), displacement, static_cast<std::uint64_t>(s.seed));
}

target::Surface surface_of(const scenario::Scenario& s) {
    return target::make_surface(s.target, s.mount, s.emitter.wavelength, scenario::abilities_of(s.principle).array);
}

receiver::Receiver receiver_of(const scenario::Scenario& s) {
    const receiver::Receiver r = receiver::make_receiver(s.receiver, s.detector, s.emitter.angle);
    if (!receiver::stands_clear_of_beam(r)) {
        scenario::reject(s, "receiver.angle_deg",
                         fmt::format("the receiver lens does not stand clear of the beam: {:g} deg between their axes "
                                     "at {:g} mm, with an aperture of {:g} mm in their plane",
                                     (r.angle - r.emitter_angle) / base::degree, r.object_distance / base::mm,
                                     2.0 * r.aperture.half_in_plane / base::mm),
                         "an angle at which the whole lens stands beside the beam, on its +x side");
    }
    return r;
}

flight::TimedOptics timed_optics_of(const scenario::Scenario& s) {
    return {beam_of(s), s.emitter.linewidth, flight::make_receiver(s.receiver, s.flight, s.mount, s.emitter.angle),
            s.flight.detector_diameter, s.detector.quantum_efficiency / base::photon_energy(s.emitter.wavelength)};
}

double ambient_rate(const scenario::Scenario& s, const receiver::Receiver& receiver, double reflectance) {
    return receiver::ambient_rate(s.surroundings, receiver, s.detector, s.emitter.wavelength, s.receiver.filter_width,
                                  reflectance);
}

std::optional<double> lit_displacement(const scenario::Scenario& s, double displacement) {
    return lit_displacement(s, beam_of(s), displacement);
}

std::optional<double> lit_displacement(const scenario::Scenario& s, const emitter::Beam& beam, double displacement) {
    return target::lit_displacement(part_of(s, displacement), s.mount, beam, displacement);
}

}  // namespace spotwright::sensor
