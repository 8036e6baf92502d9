// Where the beam lands: the lit points on the part.
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/emitter/beam.hpp"
#include "sim/target/part.hpp"

namespace spotwright::target {

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
    bool folded = false;  ///< rows on one side of the plane of the mounting alone, which count twice: of a scene that
                          ///< is its own mirror image in this plane
};

/// Lit points of the footprint on the part, one for each ray of the beam. Nodes lie on a regular grid over +-`reach`
/// 1/e^2 radii, weighted with the Gaussian and scaled to the whole power, so energy is kept exactly and the error of
/// smooth integrals falls faster than any power of the spacing (trapezoidal rule on a rapidly vanishing function).
/// Empty when the axis of the beam misses the part; single rays that miss are left out.
[[nodiscard]] std::vector<LitPoint> strike(const emitter::Beam& beam, const Part& part, const BeamSampling& sampling);

/// Beyond this many 1/e^2 radii lies less than 1e-6 of the power.
inline constexpr double beam_reach = 2.6;

}  // namespace spotwright::target
