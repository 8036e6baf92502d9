#include "sim/target/gloss.hpp"

#include <boost/math/special_functions/erf.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/quadrature.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"

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

Local facet_at(const Gloss& gloss, double u, double azimuth) {
    const double radius =
        gloss.distribution == FacetDistribution::beckmann ? std::sqrt(-std::log(u)) : std::sqrt((1.0 - u) / u);
    const double x = std::sqrt(2.0) * gloss.slope_along * radius * std::cos(azimuth);
    const double y = std::sqrt(2.0) * gloss.slope_across * radius * std::sin(azimuth);
    return Local(x, y, 1.0).normalized();
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

// Equations (target.18), (target.21) and (target.22).
HazeLobe make_haze(const scenario::Haze& haze, double wavelength) {
    HazeLobe lobe;
    const double waves = haze.corner_length / wavelength;
    const double phase = 4.0 * base::pi * haze.rms_height / wavelength;
    lobe.strength = phase * phase * waves * waves * (haze.exponent - 1.0) / (2.0 * base::pi);
    lobe.waves = waves;
    lobe.half_power = 0.5 * (haze.exponent + 1.0);
    // Mean cosine of the direction in which the spectrum sends light, by quantiles of its frequency and by azimuth.
    std::vector<base::QuadratureNode> quantiles;
    base::add_gauss_nodes<16>(0.0, 1.0, quantiles);
    const auto mean_cosine = [&](double cosine) {
        constexpr int azimuths = 8;  // of half a turn; the other half is alike
        const double sine = std::sqrt(1.0 - cosine * cosine);
        double sum = 0.0;
        for (const base::QuadratureNode& quantile : quantiles) {
            const double sent = std::sqrt(std::pow(quantile.at, -2.0 / (haze.exponent - 1.0)) - 1.0) / waves;
            for (int k = 0; k < azimuths; ++k) {
                const double azimuth = base::pi * (k + 0.5) / azimuths;
                const double rest = 1.0 - sine * sine - sent * sent - 2.0 * sine * sent * std::cos(azimuth);
                sum += quantile.weight / azimuths * std::sqrt(std::max(0.0, rest));
            }
        }
        return sum;
    };
    // A straight line above these means.
    constexpr int places = 8;
    const double first = mean_cosine(1.0 / places);
    const double slope = std::max(0.0, (mean_cosine(1.0) - first) / (1.0 - 1.0 / places));
    double above = first - slope / places;
    for (int k = 1; k <= places; ++k) {
        const double cosine = static_cast<double>(k) / places;
        above = std::max(above, mean_cosine(cosine) - slope * cosine);
    }
    constexpr double rounded_up = 1.01;
    lobe.lost = rounded_up * phase * phase * above;
    lobe.lost_square = rounded_up * phase * phase * slope;
    return lobe;
}

// Equation (target.22).
double haze_share(const Gloss& gloss, double cosine) {
    return gloss.haze ? cosine * (gloss.haze->lost + gloss.haze->lost_square * cosine) : 0.0;
}

// Equations (target.19), (target.20) and (target.38).
double haze_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view, const Polarisation& light) {
    if (!gloss.haze || to_light.z() <= 0.0 || to_view.z() <= 0.0) return 0.0;
    const HazeLobe& haze = *gloss.haze;
    const double x = to_light.x() + to_view.x();
    const double y = to_light.y() + to_view.y();
    const double fall = std::pow(1.0 + haze.waves * haze.waves * (x * x + y * y), -haze.half_power);
    const Fresnel face = fresnel(gloss.index, to_light.z());
    const double reflected = face.unpolarised() * fresnel(gloss.index, to_view.z()).unpolarised();
    const double unpolarised = haze.strength * to_light.z() * to_view.z() * std::sqrt(reflected) * fall;
    if (light.degree == 0.0 || face.unpolarised() == 0.0) return unpolarised;
    return unpolarised * face.mean(s_share(light, to_light, Local::UnitZ())) / face.unpolarised();
}

namespace {

double coarse_mirror_share(const Gloss& gloss, double cosine) {
    const double phase = 4.0 * base::pi * gloss.rms_height * cosine / gloss.wavelength;
    return std::exp(-phase * phase);
}

}  // namespace

// Equations (target.12) and (target.23).
double mirror_share(const Gloss& gloss, double cosine) {
    const double coarse = coarse_mirror_share(gloss, cosine);
    return gloss.haze ? coarse * (1.0 - haze_share(gloss, cosine)) : coarse;
}

double facet_light_share(const Gloss& gloss, double cosine_light, double cosine_view) {
    const double rough =
        1.0 - std::max(coarse_mirror_share(gloss, cosine_light), coarse_mirror_share(gloss, cosine_view));
    if (!gloss.haze) return rough;
    return rough * (1.0 - std::max(haze_share(gloss, cosine_light), haze_share(gloss, cosine_view)));
}

// Equation (target.15).
double facet_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view, const Polarisation& light) {
    if (to_light.z() <= 0.0 || to_view.z() <= 0.0) return 0.0;
    const double rough = facet_light_share(gloss, to_light.z(), to_view.z());
    if (rough <= 0.0) return 0.0;
    const Local half = (to_light + to_view).normalized();
    const double visible = 1.0 / (1.0 + smith_lambda(gloss, to_light) + smith_lambda(gloss, to_view));
    const double reflected = fresnel(gloss.index, half.dot(to_light)).mean(s_share(light, to_light, half));
    return rough * reflected * facet_density(gloss, half) * visible / (4.0 * to_light.z() * to_view.z());
}

double glossy_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view, const Polarisation& light) {
    const double facets = facet_scatter(gloss, to_light, to_view, light);
    return gloss.haze ? facets + haze_scatter(gloss, to_light, to_view, light) : facets;
}

}  // namespace spotwright::target
