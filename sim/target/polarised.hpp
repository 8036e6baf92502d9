// Polarised light at a smooth facet.
#pragma once

#include <Eigen/Core>

#include "sim/emitter/polarisation.hpp"
#include "sim/target/fresnel.hpp"

namespace spotwright::target {

using emitter::Polarisation;

/// Share of the power whose electric field is square to the plane of incidence of a facet, w = (1 - P) / 2 + P (e.a)^2,
/// P the degree of polarisation, e the field's direction square to the ray, a along l x h. Unpolarised: exactly 1/2.
/// [1]
/// @param to_light, facet  Unit, in the axes of `light.direction`: to where the light comes from, normal of the facet.
/// Equation (target.36).
[[nodiscard]] double s_share(const Polarisation& light, const Eigen::Vector3d& to_light, const Eigen::Vector3d& facet);

/// Light of which a face has left these shares of s and p, on its way as it came: passed by a plate. Field and degree
/// change, because s and p do not keep alike. The polarised share stays linear: what s and p get out of step is left
/// out. Unpolarised light stays so, as everywhere in the model.
/// @param left  Of the power. [1]
/// Equation (target.37).
[[nodiscard]] Polarisation weakened(const Polarisation& light, const Fresnel& left, const Eigen::Vector3d& to_light,
                                    const Eigen::Vector3d& facet);

/// The same on the mirrored way.
[[nodiscard]] Polarisation mirrored(const Polarisation& light, const Fresnel& left, const Eigen::Vector3d& to_light,
                                    const Eigen::Vector3d& facet);

}  // namespace spotwright::target
