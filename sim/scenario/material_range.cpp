#include "sim/scenario/material_range.hpp"

#include <algorithm>

#include "sim/scenario/material.hpp"

namespace spotwright::scenario {

Material with_factor(const Material& material, const RangedProperty& property, double factor) {
    Material other = material;
    const auto multiply = [factor](std::vector<double>& values) {
        for (double& value : values) value *= factor;
    };
    if (property.factors == &MaterialRange::reflectance) {
        for (double& value : other.reflectance.value) value = std::min(1.0, value * factor);
    }
    if (property.factors == &MaterialRange::rms_slope) {
        for (double& slope : other.roughness.rms_slope) slope *= factor;
    }
    if (property.factors == &MaterialRange::rms_height) other.roughness.rms_height *= factor;
    if (other.volume && property.factors == &MaterialRange::reduced_scattering) {
        multiply(other.volume->reduced_scattering);
    }
    if (other.volume && property.factors == &MaterialRange::absorption) multiply(other.volume->absorption);
    return other;
}

}  // namespace spotwright::scenario
