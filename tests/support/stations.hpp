// What the stations make of a scenario, for tests of those that come before `sensor`.
#pragma once

#include "sim/emitter/beam.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"

namespace spotwright::support {

inline emitter::Beam beam_of(const scenario::Scenario& s) {
    return emitter::make_beam(s.emitter, s.mount);
}

inline target::Part part_of(const scenario::Scenario& s, double displacement) {
    return target::make_part(s.target, s.mount, beam_of(s), displacement, static_cast<std::uint64_t>(s.seed));
}

inline target::Surface surface_of(const scenario::Scenario& s) {
    return target::make_surface(s.target, s.mount, s.emitter.wavelength);
}

inline receiver::Receiver receiver_of(const scenario::Scenario& s) {
    return receiver::make_receiver(s.receiver, s.detector, s.emitter.angle);
}

inline std::optional<double> lit_displacement(const scenario::Scenario& s, double displacement) {
    return target::lit_displacement(part_of(s, displacement), s.mount, beam_of(s), displacement);
}

/// Of a part that reflects this share of the light to all sides alike, at any wavelength. [1/s]
inline double ambient_rate(const scenario::Scenario& s, const receiver::Receiver& receiver, double reflectance) {
    return receiver::lamp_rate(s.surroundings, receiver, s.detector,
                               receiver::filter_band(s.emitter.wavelength, s.receiver.filter_width),
                               [reflectance](double) { return reflectance; });
}

}  // namespace spotwright::support
