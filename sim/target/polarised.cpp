#include "sim/target/polarised.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

namespace spotwright::target {

namespace {

using Eigen::Vector3d;

constexpr double least = 1e-300;  // keeps 0 / 0 out; s and p are alike there

}  // namespace

// Equation (target.36).
double s_share(const Polarisation& light, const Vector3d& to_light, const Vector3d& facet) {
    if (light.degree == 0.0) return 0.5;
    const Vector3d across = to_light.cross(facet);
    const double field = light.direction.dot(across);
    const double along = light.direction.dot(to_light);
    const double square = std::max((1.0 - along * along) * across.squaredNorm(), least);
    return 0.5 + light.degree * (std::min(field * field / square, 1.0) - 0.5);
}

// Equation (target.37).
Polarisation weakened(const Polarisation& light, const Fresnel& left, const Vector3d& to_light, const Vector3d& facet) {
    const Vector3d square = to_light.cross(facet);
    const double sine = square.norm();
    if (light.degree == 0.0 || sine < 1e-12) return light;
    const Vector3d across = square / sine;
    const Vector3d in_plane = across.cross(to_light);
    const Vector3d field = std::sqrt(left.s) * light.direction.dot(across) * across +
                           std::sqrt(left.p) * light.direction.dot(in_plane) * in_plane;
    const double polarised = light.degree * left.mean(s_share({1.0, light.direction}, to_light, facet));
    const double all = polarised + (1.0 - light.degree) * left.unpolarised();
    const double size = field.norm();
    if (!(all > 0.0 && size > 0.0)) return {};
    return {polarised / all, field / size};
}

Polarisation mirrored(const Polarisation& light, const Fresnel& left, const Vector3d& to_light, const Vector3d& facet) {
    Polarisation turned = weakened(light, left, to_light, facet);
    turned.direction -= 2.0 * turned.direction.dot(facet) * facet;
    return turned;
}

}  // namespace spotwright::target
