#include "sim/target/gloss.hpp"

#include <boost/math/special_functions/erf.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"

namespace spotwright::target {

namespace {

struct Widths {
    double along;
    double across;
};

Widths widths_of(const Gloss& gloss) {
    return {std::sqrt(2.0) * gloss.slope_along, std::sqrt(2.0) * gloss.slope_across};
}

}  // namespace

// Equation (target.13).
double facet_density(const Gloss& gloss, const Local& half) {
    const double c = half.z();
    if (c <= 0.0) return 0.0;
    const auto [along, across] = widths_of(gloss);
    const double x = half.x() / (along * c);
    const double y = half.y() / (across * c);
    const double q = x * x + y * y;
    const double norm = base::pi * along * across * c * c * c * c;
    if (gloss.distribution == FacetDistribution::beckmann) return std::exp(-q) / norm;
    return 1.0 / (norm * (1.0 + q) * (1.0 + q));
}

// Equation (target.14).
double smith_lambda(const Gloss& gloss, const Local& direction) {
    const auto [along, across] = widths_of(gloss);
    const double c = direction.z();
    // alpha in the direction's azimuth times the tangent of its angle.
    const double spread = std::hypot(along * direction.x(), across * direction.y()) / c;
    if (spread == 0.0) return 0.0;
    if (gloss.distribution == FacetDistribution::ggx) return 0.5 * (std::sqrt(1.0 + spread * spread) - 1.0);
    const double q = 1.0 / spread;
    return 0.5 * (std::exp(-q * q) / (q * std::sqrt(base::pi)) - boost::math::erfc(q));
}

// Equation (target.12).
double mirror_share(const Gloss& gloss, double cosine) {
    const double phase = 4.0 * base::pi * gloss.rms_height * cosine / gloss.wavelength;
    return std::exp(-phase * phase);
}

// Equation (target.15).
double glossy_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view) {
    if (to_light.z() <= 0.0 || to_view.z() <= 0.0) return 0.0;
    const double rough = 1.0 - std::max(mirror_share(gloss, to_light.z()), mirror_share(gloss, to_view.z()));
    if (rough <= 0.0) return 0.0;
    const Local half = (to_light + to_view).normalized();
    const double visible = 1.0 / (1.0 + smith_lambda(gloss, to_light) + smith_lambda(gloss, to_view));
    return rough * fresnel(gloss.index, half.dot(to_light)).unpolarised() * facet_density(gloss, half) * visible /
           (4.0 * to_light.z() * to_view.z());
}

}  // namespace spotwright::target
