#include "sim/scenario/material_values.hpp"

#include <algorithm>

namespace spotwright::scenario {

std::optional<std::array<double, 2>> from_to(const std::optional<Factors>& factors, double value, double most) {
    if (!factors) return std::nullopt;
    return std::array<double, 2>{std::min(most, value * (*factors)[0]), std::min(most, value * (*factors)[1])};
}

const char* section_of(const RangedProperty& property) {
    if (property.factors == &MaterialRange::reflectance) return "reflectance";
    const bool of_interface =
        property.factors == &MaterialRange::rms_slope || property.factors == &MaterialRange::rms_height;
    return of_interface ? "roughness" : "volume";
}

}  // namespace spotwright::scenario
