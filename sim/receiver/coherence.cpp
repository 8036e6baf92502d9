#include "sim/receiver/coherence.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

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
    const double lobe = target::scatter(bare, d.to_light, d.to_view, d.normal, d.light);
    const double all = target::scatter(surface, d.to_light, d.to_view, d.normal, d.light);
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

double volume_path_deviation(const target::Volume& volume, double deviation,
                             std::span<const target::WeighedPath> paths) {
    if (deviation <= 0.0) return 0.0;
    const double found =
        paths.empty() ? volume_contrast_square(volume, deviation) : path_contrast_square(paths, deviation);
    const double square = std::clamp(found, 1e-12, 1.0);
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

// Equation (speckle.17), by shares of the light on a raster of paths.
double path_contrast_square(std::span<const target::WeighedPath> paths, double wavenumber_deviation) {
    double longest = 0.0;
    double sum = 0.0;
    for (const target::WeighedPath& each : paths) {
        longest = std::max(longest, each.path);
        sum += each.weight;
    }
    if (!(sum > 0.0) || wavenumber_deviation <= 0.0) return 1.0;
    constexpr double step = 0.05;  // in 1 / sigma_k
    constexpr double most = 65536.0;
    constexpr std::size_t reach = 120;  // exp(-6^2) is nothing
    const double per_path = wavenumber_deviation / step;
    const auto bins = static_cast<std::size_t>(std::min(std::ceil(longest * per_path) + 2.0, most));
    std::vector<double> share(bins + reach, 0.0);
    for (const target::WeighedPath& each : paths) {
        // Shared out to both neighbours, so that the mean path stays.
        const double at = std::min(each.path * per_path, static_cast<double>(bins) - 2.0);
        const auto below = static_cast<std::size_t>(at);
        const double above = at - static_cast<double>(below);
        share[below] += (1.0 - above) * each.weight / sum;
        share[below + 1] += above * each.weight / sum;
    }
    std::array<double, reach> alike{};
    for (std::size_t k = 0; k < reach; ++k) alike[k] = std::exp(-std::pow(step * static_cast<double>(k), 2));
    double square = 0.0;
    for (std::size_t i = 0; i < bins; ++i) {
        double others = 0.5 * share[i];
        for (std::size_t k = 1; k < reach; ++k) others += alike[k] * share[i + k];
        square += 2.0 * share[i] * others;
    }
    return square;
}

double pattern_contrast(const Coherence& coherence) {
    return polarisation_contrast(coherence.polarisation_degree) *
           spectral_contrast(coherence.wavenumber_deviation, coherence.path_deviation);
}

Coherence coherence_of(const scenario::Material& material, const target::Surface& surface,
                       const ScatterDirections& directions, double wavelength, double linewidth,
                       std::span<const target::WeighedPath> paths) {
    Coherence coherence;
    coherence.wavenumber_deviation = wavenumber_deviation(wavelength, linewidth);
    if (surface.volume) {
        coherence.polarisation_degree = material.coherence.polarisation_degree;
        coherence.path_deviation = volume_path_deviation(*surface.volume, coherence.wavenumber_deviation, paths);
        return coherence;
    }
    const double lobe = lobe_share(surface, directions);
    coherence.polarisation_degree = std::lerp(material.coherence.polarisation_degree, 1.0, lobe);
    const double cosines = directions.to_light.dot(directions.normal) + directions.to_view.dot(directions.normal);
    const double height_path = cosines * material.roughness.rms_height;
    const double base_path = material.volume ? volume_path_deviation(*target::make_surface(material, wavelength).volume,
                                                                     coherence.wavenumber_deviation, {})
                                             : material.coherence.path_deviation;
    coherence.path_deviation = std::sqrt(lobe * height_path * height_path + (1.0 - lobe) * base_path * base_path);
    return coherence;
}

}  // namespace spotwright::receiver
