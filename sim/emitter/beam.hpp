// The laser beam: a Gaussian beam in the terms of ISO 11146, with separate waists in and out of the mounting plane.
#pragma once

#include <array>

#include <Eigen/Core>

#include "sim/emitter/polarisation.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::emitter {

/// A beam in the sensor's frame (origin at the reference point, z towards the sensor, x towards the receiver).
/// Transverse axes are numbered 0 in the mounting plane and 1 out of it; "along" counts from the emitter face.
struct Beam {
    Eigen::Vector3d face = Eigen::Vector3d::Zero();         ///< centre of the emitter face. [m]
    Eigen::Vector3d direction = -Eigen::Vector3d::UnitZ();  ///< unit vector of travel
    std::array<Eigen::Vector3d, 2> axes{Eigen::Vector3d::UnitX(), Eigen::Vector3d::UnitY()};  ///< unit, transverse
    double wavelength = 0.0;                                                                  ///< [m]
    double power = 0.0;                                                                       ///< [W]
    std::array<double, 2> waist_radius{};  ///< 1/e^2 radius of irradiance. [m]
    double waist_along = 0.0;              ///< [m]
    double beam_quality = 1.0;             ///< M^2. [1]
    Polarisation polarisation;             ///< its direction square to `direction`
};

/// Equations (emitter.1) and (emitter.11).
[[nodiscard]] Beam make_beam(const scenario::Emitter& emitter, const scenario::Mount& mount);

/// z_R = pi w0^2 / (M^2 lambda). [m]  Source: ISO 11146-1.
/// Equation (emitter.2).
[[nodiscard]] double rayleigh_length(const Beam& beam, int axis);

/// w(z) = w0 sqrt(1 + ((z - z0) / z_R)^2), the 1/e^2 radius. [m]  Source: ISO 11146-1.
/// Equation (emitter.3).
[[nodiscard]] double radius_at(const Beam& beam, int axis, double along);

/// dw/dz at the same place: the slope of the ray that starts at the 1/e^2 radius. [1]
/// Equation (emitter.4).
[[nodiscard]] double radius_slope_at(const Beam& beam, int axis, double along);

/// Half-angle of the far field, M^2 lambda / (pi w0). [rad]  Source: ISO 11146-1.
/// Equation (emitter.5).
[[nodiscard]] double divergence(const Beam& beam, int axis);

/// Irradiance on a plane square to the axis, 2 P / (pi w_x w_y) exp(-2 x^2/w_x^2 - 2 y^2/w_y^2). [W/m^2]
/// Equation (emitter.6).
[[nodiscard]] double irradiance_at(const Beam& beam, const Eigen::Vector3d& point);

/// How far light has travelled along the axis when it comes to a place. [m]
[[nodiscard]] double travelled(const Beam& beam, const Eigen::Vector3d& place);

/// Optical length of the light's way from the face to a place: along the axis, and by how much the beam's wavefront
/// lags there, x^2 / 2R of either axis, 1 / R = (z - z0) / ((z - z0)^2 + z_R^2). Light is in step across the waist. [m]
/// Equation (flight.1).
[[nodiscard]] double path_to(const Beam& beam, const Eigen::Vector3d& place);

/// A straight piece of a stream line of the beam.
struct BeamRay {
    Eigen::Vector3d origin;
    Eigen::Vector3d direction;  ///< unit
};

/// A ray of the beam through transverse position (offset[0] w_x, offset[1] w_y) at distance `along`.
///
/// With `spread` zero it is the tangent of the stream line there. Stream lines keep their place relative to the radius,
/// so the power between neighbours stays the same all along the beam; the tangent stands in for the hyperbola over
/// depths small against the Rayleigh length. A matt part asks no more, since it forgets where light came from.
///
/// `spread` turns the ray away from the stream line, in units of the local angular radius M^2 lambda / (pi w). With
/// offset and spread both weighted as exp(-2 t^2) per axis, straight rays carry the beam exactly through free space,
/// mirrors and lenses (its Wigner distribution): position and angle then have the second moments of ISO 11146
/// everywhere.
/// Equation (emitter.7).
[[nodiscard]] BeamRay ray_at(const Beam& beam, double along, const std::array<double, 2>& offset,
                             const std::array<double, 2>& spread = {0.0, 0.0});

/// What the rays of a beam at one distance from the face have in common.
struct BeamSection {
    double along = 0.0;                                     ///< [m]
    Eigen::Vector3d foot = Eigen::Vector3d::Zero();         ///< of the axis at that distance. [m]
    Eigen::Vector3d direction = -Eigen::Vector3d::UnitZ();  ///< of the axis
    std::array<Eigen::Vector3d, 2> radius;                  ///< 1/e^2 radius along either transverse axis. [m]
    std::array<Eigen::Vector3d, 2> slope;                   ///< `radius_slope_at`, likewise. [1]
    std::array<Eigen::Vector3d, 2> angular_radius;          ///< likewise. [rad]
};

[[nodiscard]] BeamSection section_at(const Beam& beam, double along);

[[nodiscard]] BeamRay ray_from_face(const BeamSection& section, const std::array<double, 2>& offset,
                                    const std::array<double, 2>& spread);

/// The same ray, begun `along` earlier, about at the emitter face: so that it meets what lies before that place too.
[[nodiscard]] BeamRay ray_from_face(const Beam& beam, double along, const std::array<double, 2>& offset,
                                    const std::array<double, 2>& spread = {0.0, 0.0});

/// Optical length of the way to the origin of such a ray: it has come straight from the waist, where light is in step.
/// [m]
[[nodiscard]] double path_to_origin(const Beam& beam, double along, const BeamRay& ray);

}  // namespace spotwright::emitter
