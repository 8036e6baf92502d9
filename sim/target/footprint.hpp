// Where the beam lands.
#pragma once

#include <Eigen/Core>

namespace spotwright::target {

struct LitPoint {
    Eigen::Vector3d position;
    Eigen::Vector3d to_light;  ///< unit
    Eigen::Vector3d normal;    ///< unit
    double power = 0.0;        ///< incident. [W]
};

/// Beyond this many 1/e^2 radii lies less than 1e-6 of the power.
inline constexpr double beam_reach = 2.6;

}  // namespace spotwright::target
