#include "sim/scenario/material_wavelengths.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace spotwright::scenario {

namespace {

// What a thick volume sends back, by P. Kubelka and F. Munk with S = 3/4 of the reduced scattering and K = 2 times the
// absorption (from memory): 1 + K / S - sqrt((K / S)^2 + 2 K / S).
double of_volume(const VolumeCoefficients& at) {
    const double ratio = 2.0 * at.absorption / (0.75 * at.reduced_scattering);
    return 1.0 + ratio - std::sqrt(ratio * (ratio + 2.0));
}

// What comes back at normal incidence, only to compare materials: of the base, the volume or, for an interface alone,
// of its index.
double rough_reflectance(const Material& material, double wavelength) {
    if (has_base(material)) return reflectance_at(material, wavelength);
    if (material.volume) return of_volume(volume_at(material, wavelength));
    if (!material.index) return 0.0;
    const std::complex<double> index = index_at(material, wavelength);
    return std::norm((index - 1.0) / (index + 1.0));
}

bool is_of_kind(const Material& a, const Material& b) {
    const auto sends_light_from_inside = [](const Material& m) { return has_base(m) || m.volume.has_value(); };
    return sends_light_from_inside(a) == sends_light_from_inside(b);
}

}  // namespace

std::array<double, 2> known_wavelengths(const Material& material) {
    std::array<double, 2> known{0.0, std::numeric_limits<double>::infinity()};
    const auto narrow = [&known](const std::vector<double>& wavelength) {
        if (wavelength.empty()) return;
        known = {std::max(known[0], wavelength.front()), std::min(known[1], wavelength.back())};
    };
    narrow(material.reflectance.wavelength);
    if (material.index) narrow(material.index->wavelength);
    if (material.volume) narrow(material.volume->wavelength);
    if (material.layer) {
        narrow(material.layer->backing_base.wavelength);
        if (material.layer->backing_index) narrow(material.layer->backing_index->wavelength);
    }
    return known;
}

bool is_known_at(const Material& material, double wavelength) {
    const auto [from, to] = known_wavelengths(material);
    return wavelength >= from && wavelength <= to;
}

std::vector<std::string> similar_materials_at(const Material& material, double wavelength, std::size_t most) {
    const auto [from, to] = known_wavelengths(material);
    if (from > to) return {};
    const double own = rough_reflectance(material, std::clamp(wavelength, from, to));
    std::vector<std::pair<double, std::string>> found;
    for (const std::string& name : material_names()) {
        const Material other = library_material(name);
        if (!is_known_at(other, wavelength) || !is_of_kind(material, other)) continue;
        found.emplace_back(std::abs(rough_reflectance(other, wavelength) - own), name);
    }
    std::sort(found.begin(), found.end());
    if (found.size() > most) found.resize(most);
    std::vector<std::string> names;
    for (const auto& [difference, name] : found) names.push_back(name);
    return names;
}

}  // namespace spotwright::scenario
