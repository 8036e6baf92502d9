#include "sim/record/material_range_json.hpp"

#include "sim/base/units.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/material_values.hpp"

namespace spotwright::record {

namespace {

using nlohmann::ordered_json;

ordered_json ends_json(const std::optional<scenario::Factors>& factors, double value, double unit,
                       double most = std::numeric_limits<double>::infinity()) {
    const auto ends = scenario::from_to(factors, value, most);
    return ends ? ordered_json{(*ends)[0] / unit, (*ends)[1] / unit} : ordered_json{};
}

// Null outside the wavelengths that the material knows.
template <class Value>
ordered_json if_known(Value value) {
    try {
        return value();
    } catch (const base::DomainError&) {
        return nullptr;
    }
}

}  // namespace

ordered_json range_json(const scenario::Material& material, double wavelength) {
    if (!material.range) return nullptr;
    const scenario::MaterialRange& range = *material.range;
    const double per_mm = base::unit_of("_per_mm").factor;
    const scenario::Roughness& roughness = material.roughness;
    ordered_json slope;
    if (range.rms_slope) {
        slope = {ends_json(range.rms_slope, roughness.rms_slope[0], 1.0),
                 ends_json(range.rms_slope, roughness.rms_slope[1], 1.0)};
    }
    const auto reflectance = [&] {
        return ends_json(range.reflectance, scenario::reflectance_at(material, wavelength), 1.0, 1.0);
    };
    const auto scattering = [&] {
        return ends_json(range.reduced_scattering, scenario::volume_at(material, wavelength).reduced_scattering,
                         per_mm);
    };
    const auto absorption = [&] {
        return ends_json(range.absorption, scenario::volume_at(material, wavelength).absorption, per_mm);
    };
    return {{"reflectance", range.reflectance ? if_known(reflectance) : ordered_json{}},
            {"rms_slope", slope},
            {"rms_height_um", ends_json(range.rms_height, roughness.rms_height, base::um)},
            {"reduced_scattering_per_mm", range.reduced_scattering ? if_known(scattering) : ordered_json{}},
            {"absorption_per_mm", range.absorption ? if_known(absorption) : ordered_json{}},
            {"source", valid_utf8(range.source)}};
}

}  // namespace spotwright::record
