#include "sim/sensor/stations.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/target/albedo.hpp"

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
    const receiver::Receiver r = receiver::make_receiver(as_made(s), s.detector, s.emitter.angle, s.emitter.wavelength);
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

namespace {

// The point that the beam's axis lights, or where the part stands if it misses.
struct LitPoint {
    Eigen::Vector3d place;
    Eigen::Vector3d normal;
};

LitPoint lit_point(const emitter::Beam& beam, const target::Part& part) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return {part.origin, part.normal()};
    return {beam.face + hit->distance * beam.direction, hit->normal};
}

}  // namespace

double haze_share(const scenario::Scenario& s, const receiver::Receiver& receiver, const emitter::Beam& beam,
                  const target::Part& part) {
    const target::Surface surface = surface_of(s);
    if (!surface.gloss || !surface.gloss->haze || surface.volume) return 0.0;
    const LitPoint lit = lit_point(beam, part);
    const Eigen::Vector3d to_light = -beam.direction;
    const Eigen::Vector3d mirrored = 2.0 * to_light.dot(lit.normal) * lit.normal - to_light;
    if (receiver::passage(receiver, lit.place, mirrored)) return 0.0;
    const Eigen::Vector3d to_view = (receiver::aperture_point(receiver, 0.0, 0.0) - lit.place).normalized();
    const double all = target::scatter(surface, to_light, to_view, lit.normal, beam.polarisation);
    if (!(all > 0.0)) return 0.0;
    return target::haze_scatter(surface, to_light, to_view, lit.normal, beam.polarisation) / all;
}

AmbientRates ambient_rates(const scenario::Scenario& s, const receiver::Receiver& receiver, const emitter::Beam& beam,
                           const target::Part& part) {
    const LitPoint point = lit_point(beam, part);
    const Eigen::Vector3d normal = point.normal;
    const Eigen::Vector3d way = receiver::aperture_point(receiver, 0.0, 0.0) - point.place;
    const Eigen::Vector3d to_view = way.normalized();
    const receiver::Band band = receiver::filter_band(s.emitter.wavelength, s.receiver.filter_width);
    const auto layers_of = [&s](double wavelength) { return target::layers_at(s.target, s.mount, wavelength); };

    const scenario::Surroundings& around = s.surroundings;
    target::DistantLamp lamp;
    lamp.direction = target::tilted_normal(s.mount, around.lamp_direction);
    lamp.half_angle = around.lamp_half_angle;
    lamp.aperture_half_angle = std::atan(std::sqrt(area_of(receiver.aperture) / base::pi) / way.norm());
    // The illuminance is that of a square part: one that faces the lamp has more of its light.
    const double facing = around.lamp_share / target::tilted_normal({}, around.lamp_direction).z();
    const auto reflection = [&](double wavelength) {
        const target::Layers layers = layers_of(wavelength);
        double factor = (1.0 - around.lamp_share) * directional_albedo(layers, to_view, normal);
        if (facing > 0.0) factor += facing * lamp_radiance_factor(layers, lamp, to_view, normal);
        return factor;
    };
    AmbientRates rates;
    rates.lamps = receiver::lamp_rate(around, receiver, s.detector, band, reflection);
    if (!s.target.temperature) return rates;
    const auto emissivity = [&](double wavelength) {
        return directional_emissivity(layers_of(wavelength), to_view, normal);
    };
    rates.glow = receiver::glow_rate(*s.target.temperature, receiver, s.detector, band, emissivity);
    return rates;
}

std::optional<double> lit_displacement(const scenario::Scenario& s, double displacement) {
    return lit_displacement(s, beam_of(s), displacement);
}

std::optional<double> lit_displacement(const scenario::Scenario& s, const emitter::Beam& beam, double displacement) {
    return target::lit_displacement(part_of(s, displacement), s.mount, beam, displacement);
}

}  // namespace spotwright::sensor
