#include "sim/receiver/coherence.hpp"

#include <algorithm>
#include <cmath>

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "sim/base/constants.hpp"

namespace spotwright::receiver {

namespace {

// Share of the light towards the view that comes from the glossy lobe.
double lobe_share(const target::Surface& surface, const ScatterDirections& d) {
    if (!surface.gloss) return 0.0;
    if (surface.volume) return 0.0;
    target::Surface bare = surface;
    bare.reflectance = 0.0;
    const double lobe = target::scatter(bare, d.to_light, d.to_view, d.normal);
    const double all = target::scatter(surface, d.to_light, d.to_view, d.normal);
    if (all > 0.0) return std::clamp(lobe / all, 0.0, 1.0);
    return surface.reflectance > 0.0 ? 0.0 : 1.0;
}

// C^2 = int N(dk; 0, sqrt(2) sigma_k) |chi(dk)|^2 d(dk): the mean over pairs of wavelengths of the line.
double volume_contrast_square(const target::Volume& volume, double deviation) {
    const auto integrand = [&](double t) {
        const double weight = std::exp(-0.25 * t * t) / std::sqrt(4.0 * base::pi);
        return weight * std::norm(target::path_transform(volume, t * deviation));
    };
    constexpr double reach = 10.0;
    constexpr unsigned deepest = 10;
    constexpr double accuracy = 1e-6;
    return 2.0 *
           boost::math::quadrature::gauss_kronrod<double, 31>::integrate(integrand, 0.0, reach, deepest, accuracy);
}

double volume_path_deviation(const target::Volume& volume, double deviation) {
    if (deviation <= 0.0) return 0.0;
    const double square = std::clamp(volume_contrast_square(volume, deviation), 1e-12, 1.0);
    return std::sqrt(1.0 / (square * square) - 1.0) / (2.0 * deviation);
}

}  // namespace

double wavenumber_deviation(double wavelength, double linewidth) {
    const double deviation = linewidth / std::sqrt(8.0 * std::log(2.0));
    return 2.0 * base::pi * deviation / (wavelength * wavelength);
}

// Equation (speckle.5).
double polarisation_contrast(double polarisation_degree) {
    return std::sqrt(0.5 * (1.0 + polarisation_degree * polarisation_degree));
}

// Equation (speckle.6).
double spectral_contrast(double wavenumber_deviation, double path_deviation) {
    const double phase = 2.0 * wavenumber_deviation * path_deviation;
    return 1.0 / std::sqrt(std::sqrt(1.0 + phase * phase));
}

double pattern_contrast(const Coherence& coherence) {
    return polarisation_contrast(coherence.polarisation_degree) *
           spectral_contrast(coherence.wavenumber_deviation, coherence.path_deviation);
}

Coherence coherence_of(const scenario::Material& material, const target::Surface& surface,
                       const ScatterDirections& directions, double wavelength, double linewidth) {
    Coherence coherence;
    coherence.wavenumber_deviation = wavenumber_deviation(wavelength, linewidth);
    if (surface.volume) {
        coherence.polarisation_degree = material.coherence.polarisation_degree;
        coherence.path_deviation = volume_path_deviation(*surface.volume, coherence.wavenumber_deviation);
        return coherence;
    }
    const double lobe = lobe_share(surface, directions);
    coherence.polarisation_degree = std::lerp(material.coherence.polarisation_degree, 1.0, lobe);
    const double cosines = directions.to_light.dot(directions.normal) + directions.to_view.dot(directions.normal);
    const double height_path = cosines * material.roughness.rms_height;
    const double base_path = material.coherence.path_deviation;
    coherence.path_deviation = std::sqrt(lobe * height_path * height_path + (1.0 - lobe) * base_path * base_path);
    return coherence;
}

}  // namespace spotwright::receiver
