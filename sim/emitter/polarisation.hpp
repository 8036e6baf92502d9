// Linear polarisation of light.
#pragma once

#include <Eigen/Core>

namespace spotwright::emitter {

/// Light of which a share is linearly polarised; the rest has no direction of its field. Without a share: unpolarised.
struct Polarisation {
    double degree = 0.0;  ///< share of the power that is linearly polarised. [1]
    /// Unit, of the electric field on the axis of the beam. The field of a ray beside the axis is the part of it that
    /// is square to the ray.
    Eigen::Vector3d direction = Eigen::Vector3d::UnitX();
};

}  // namespace spotwright::emitter
