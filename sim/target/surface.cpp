#include "sim/target/surface.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::target {

Surface make_surface(const scenario::Material& material, double wavelength) {
    return {scenario::reflectance_at(material, wavelength), material.slope.deviation};
}

double scatter(const Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& to_view,
               const Eigen::Vector3d& normal) {
    const double cos_i = normal.dot(to_light);
    const double cos_o = normal.dot(to_view);
    if (cos_i <= 0.0 || cos_o <= 0.0) return 0.0;
    const double lambert = surface.reflectance / base::pi;
    if (surface.slope_deviation == 0.0) return lambert;

    const double s2 = surface.slope_deviation * surface.slope_deviation;
    const double a = 1.0 - 0.5 * s2 / (s2 + 0.33);
    const double b = 0.45 * s2 / (s2 + 0.09);
    // Without angles: cos(phi_i - phi_o) sin_i sin_o = l.v - cos_i cos_o, and with the larger angle having the
    // smaller cosine, sin(alpha) tan(beta) = sin_i sin_o / max(cos_i, cos_o).
    const double azimuth_term = to_light.dot(to_view) - cos_i * cos_o;
    return lambert * (a + b * std::max(0.0, azimuth_term) / std::max(cos_i, cos_o));
}

}  // namespace spotwright::target
