// Where the beam lands: the part in the sensor's frame, and the lit points on it.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::target {

/// A flat part: all points p with normal . (p - point) = 0, lit from the side of the normal.
struct Plane {
    Eigen::Vector3d point = Eigen::Vector3d::Zero();
    Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();  ///< unit, towards the sensor
};

/// The part of the scenario at some displacement, seen from the sensor. Part tilt turns the plane about the point that
/// the beam's axis lights; sensor tilt turns everything about the reference point.
/// @param displacement  From the reference point, + away from the sensor. [m]
[[nodiscard]] Plane make_plane(const scenario::Scenario& scenario, double displacement);

/// Direction of the lay of the scenario's part, seen from the sensor. Unit vector.
[[nodiscard]] Eigen::Vector3d lay_direction(const scenario::Scenario& scenario);

/// The part squarely in front of an untilted sensor, as at calibration.
[[nodiscard]] Plane square_plane(double displacement);

/// Distance along a ray to the plane's lit side; none when the ray runs away from it or meets its back.
[[nodiscard]] std::optional<double> distance_to(const Plane& plane, const emitter::BeamRay& ray);

struct LitPoint {
    Eigen::Vector3d position;
    Eigen::Vector3d to_light;  ///< unit
    Eigen::Vector3d normal;    ///< unit
    double power = 0.0;        ///< incident. [W]
};

/// How finely the beam's cross-section is sampled.
struct BeamSampling {
    int in_plane = 48;
    int out_of_plane = 12;
    int angles_in_plane = 1;  ///< directions at each point; 1 is enough for a matt part
    int angles_out_of_plane = 1;
};

/// Lit points of the footprint on the plane, one for each ray of the beam. Nodes lie on a regular grid over +-`reach`
/// 1/e^2 radii, weighted with the Gaussian and scaled to the whole power, so energy is kept exactly and the error of
/// smooth integrals falls faster than any power of the spacing (trapezoidal rule on a rapidly vanishing function).
/// Empty when the axis of the beam misses the plane; single rays that miss are left out.
[[nodiscard]] std::vector<LitPoint> strike(const emitter::Beam& beam, const Plane& plane, const BeamSampling& sampling);

/// Beyond this many 1/e^2 radii lies less than 1e-6 of the power.
inline constexpr double beam_reach = 2.6;

}  // namespace spotwright::target
