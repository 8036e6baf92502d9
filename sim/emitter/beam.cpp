#include "sim/emitter/beam.hpp"

#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::emitter {

Beam make_beam(const scenario::Emitter& emitter, const scenario::Mount& mount) {
    const double c = std::cos(emitter.angle);
    const double s = std::sin(emitter.angle);
    Beam beam;
    beam.direction = Eigen::Vector3d(-s, 0.0, -c);
    beam.axes = {Eigen::Vector3d(c, 0.0, -s), Eigen::Vector3d::UnitY()};
    beam.face = -mount.reference_distance * beam.direction + emitter.out_of_plane * Eigen::Vector3d::UnitY();
    beam.wavelength = emitter.wavelength;
    beam.power = emitter.power;
    beam.waist_radius = emitter.waist_radius;
    beam.waist_along = mount.reference_distance + emitter.waist_displacement;
    beam.beam_quality = emitter.beam_quality;
    beam.polarisation = {emitter.polarisation_degree, std::cos(emitter.polarisation_direction) * beam.axes[0] +
                                                          std::sin(emitter.polarisation_direction) * beam.axes[1]};
    return beam;
}

double rayleigh_length(const Beam& beam, int axis) {
    const double w0 = beam.waist_radius[static_cast<std::size_t>(axis)];
    return base::pi * w0 * w0 / (beam.beam_quality * beam.wavelength);
}

double radius_at(const Beam& beam, int axis, double along) {
    const double w0 = beam.waist_radius[static_cast<std::size_t>(axis)];
    return w0 * std::hypot(1.0, (along - beam.waist_along) / rayleigh_length(beam, axis));
}

double radius_slope_at(const Beam& beam, int axis, double along) {
    const double w0 = beam.waist_radius[static_cast<std::size_t>(axis)];
    const double t = (along - beam.waist_along) / rayleigh_length(beam, axis);
    return w0 / rayleigh_length(beam, axis) * t / std::hypot(1.0, t);
}

double divergence(const Beam& beam, int axis) {
    return beam.beam_quality * beam.wavelength / (base::pi * beam.waist_radius[static_cast<std::size_t>(axis)]);
}

double irradiance_at(const Beam& beam, const Eigen::Vector3d& point) {
    const Eigen::Vector3d from_face = point - beam.face;
    const double along = from_face.dot(beam.direction);
    double exponent = 0.0;
    double area = base::pi / 2.0;
    for (int axis = 0; axis < 2; ++axis) {
        const double w = radius_at(beam, axis, along);
        const double offset = from_face.dot(beam.axes[static_cast<std::size_t>(axis)]) / w;
        exponent += 2.0 * offset * offset;
        area *= w;
    }
    return beam.power / area * std::exp(-exponent);
}

double travelled(const Beam& beam, const Eigen::Vector3d& place) {
    return (place - beam.face).dot(beam.direction);
}

double path_to(const Beam& beam, const Eigen::Vector3d& place) {
    const Eigen::Vector3d from_face = place - beam.face;
    const double along = from_face.dot(beam.direction);
    const double from_waist = along - beam.waist_along;
    double lag = 0.0;
    for (int axis = 0; axis < 2; ++axis) {
        const double x = from_face.dot(beam.axes[static_cast<std::size_t>(axis)]);
        const double rayleigh = rayleigh_length(beam, axis);
        lag += 0.5 * x * x * from_waist / (from_waist * from_waist + rayleigh * rayleigh);
    }
    return along + lag;
}

BeamSection section_at(const Beam& beam, double along) {
    BeamSection section{along, beam.face + along * beam.direction, beam.direction, {}, {}, {}};
    for (int axis = 0; axis < 2; ++axis) {
        const auto i = static_cast<std::size_t>(axis);
        const double radius = radius_at(beam, axis, along);
        section.radius[i] = radius * beam.axes[i];
        section.slope[i] = radius_slope_at(beam, axis, along) * beam.axes[i];
        section.angular_radius[i] = beam.beam_quality * beam.wavelength / (base::pi * radius) * beam.axes[i];
    }
    return section;
}

namespace {

BeamRay ray_of(const BeamSection& section, const std::array<double, 2>& offset, const std::array<double, 2>& spread) {
    BeamRay ray{section.foot, section.direction};
    for (std::size_t i = 0; i < 2; ++i) {
        ray.origin += offset[i] * section.radius[i];
        ray.direction += offset[i] * section.slope[i] + spread[i] * section.angular_radius[i];
    }
    ray.direction.normalize();
    return ray;
}

}  // namespace

BeamRay ray_at(const Beam& beam, double along, const std::array<double, 2>& offset,
               const std::array<double, 2>& spread) {
    return ray_of(section_at(beam, along), offset, spread);
}

BeamRay ray_from_face(const BeamSection& section, const std::array<double, 2>& offset,
                      const std::array<double, 2>& spread) {
    BeamRay ray = ray_of(section, offset, spread);
    ray.origin -= section.along * ray.direction;
    return ray;
}

BeamRay ray_from_face(const Beam& beam, double along, const std::array<double, 2>& offset,
                      const std::array<double, 2>& spread) {
    return ray_from_face(section_at(beam, along), offset, spread);
}

double path_to_origin(const Beam& beam, double along, const BeamRay& ray) {
    // (along - waist) / cos from the waist to where offsets count, `along` back from there.
    return (along - beam.waist_along) * (1.0 / ray.direction.dot(beam.direction) - 1.0);
}

}  // namespace spotwright::emitter
