// Values of a material at a wavelength.
#include "sim/scenario/material.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"

namespace spotwright::scenario {

namespace {

// Where a wavelength stands in a rising table.
struct Bracket {
    std::size_t below;
    double share;
};

Bracket bracket_in(const std::vector<double>& known, double wavelength, const std::string& what) {
    if (known.empty() || wavelength < known.front() || wavelength > known.back()) {
        const std::string allowed =
            known.empty() ? "none known"
                          : fmt::format("{:g} to {:g} nm", known.front() / base::nm, known.back() / base::nm);
        throw base::DomainError("wavelength in nm for the " + what, wavelength / base::nm, allowed);
    }
    const auto above =
        std::max<std::ptrdiff_t>(1, std::lower_bound(known.begin(), known.end(), wavelength) - known.begin());
    const auto i = static_cast<std::size_t>(above);
    return {i - 1, (wavelength - known[i - 1]) / (known[i] - known[i - 1])};
}

double value_at(const ReflectanceTable& table, double wavelength, const std::string& of) {
    const Bracket at = bracket_in(table.wavelength, wavelength, "reflectance of " + of);
    return std::lerp(table.value[at.below], table.value[at.below + 1], at.share);
}

std::complex<double> value_at(const IndexTable& table, double wavelength, const std::string& of) {
    const Bracket at = bracket_in(table.wavelength, wavelength, "refractive index of " + of);
    return {std::lerp(table.n[at.below], table.n[at.below + 1], at.share),
            std::lerp(table.k[at.below], table.k[at.below + 1], at.share)};
}

}  // namespace

double reflectance_at(const Material& material, double wavelength) {
    if (!has_base(material) && (material.index || material.volume)) return 0.0;
    return value_at(material.reflectance, wavelength, material.name);
}

std::complex<double> index_at(const Material& material, double wavelength) {
    return value_at(material.index.value_or(IndexTable{}), wavelength, material.name);
}

LayerBacking layer_backing_at(const Layer& layer, double wavelength) {
    if (layer.backing.empty()) return {layer.backing_reflectance, std::nullopt};
    if (layer.backing_index) return {0.0, value_at(*layer.backing_index, wavelength, layer.backing)};
    return {value_at(layer.backing_base, wavelength, layer.backing), std::nullopt};
}

VolumeCoefficients volume_at(const Material& material, double wavelength) {
    const VolumeTable table = material.volume.value_or(VolumeTable{});
    const Bracket here = bracket_in(table.wavelength, wavelength, "volume of " + material.name);
    const auto at = [&here](const std::vector<double>& value) {
        return std::lerp(value[here.below], value[here.below + 1], here.share);
    };
    return {at(table.reduced_scattering), at(table.absorption), at(table.anisotropy)};
}

double volume_index_at(const Material& material, double wavelength) {
    return material.index ? index_at(material, wavelength).real() : 1.0;
}

bool has_base(const Material& material) {
    return !material.reflectance.wavelength.empty();
}

double nearest_known_wavelength(const Material& material, double wavelength) {
    const auto into = [](const std::vector<double>& known, double at) {
        return known.empty() ? at : std::clamp(at, known.front(), known.back());
    };
    // All tables know the emitter's wavelength, so that the order does not matter.
    double nearest = into(material.reflectance.wavelength, wavelength);
    if (material.index) nearest = into(material.index->wavelength, nearest);
    if (material.volume) nearest = into(material.volume->wavelength, nearest);
    return nearest;
}

}  // namespace spotwright::scenario
