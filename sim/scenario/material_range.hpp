// How far a real part of a material may differ from the values of its file.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>

namespace spotwright::scenario {

struct Material;

/// From, to: factors of the value in the file.
using Factors = std::array<double, 2>;

/// Parts of one name differ: each property is `from` to `to` times its value. None where nothing is known.
struct MaterialRange {
    std::optional<Factors> reflectance;         ///< of the diffuse base
    std::optional<Factors> rms_slope;           ///< of the interface, along and across the lay alike
    std::optional<Factors> rms_height;          ///< of the interface
    std::optional<Factors> reduced_scattering;  ///< of the volume
    std::optional<Factors> absorption;          ///< of the volume
    std::string source;
    bool operator==(const MaterialRange&) const = default;
};

/// A property that may differ.
struct RangedProperty {
    std::string_view name;  ///< as in a material file
    std::optional<Factors> MaterialRange::*factors;
};

/// In the order of a material file.
inline constexpr std::array ranged_properties{
    RangedProperty{"reflectance", &MaterialRange::reflectance},
    RangedProperty{"rms_slope", &MaterialRange::rms_slope},
    RangedProperty{"rms_height", &MaterialRange::rms_height},
    RangedProperty{"reduced_scattering", &MaterialRange::reduced_scattering},
    RangedProperty{"absorption", &MaterialRange::absorption},
};

/// The material with one property this many times as large; no reflectance above 1.
[[nodiscard]] Material with_factor(const Material& material, const RangedProperty& property, double factor);

}  // namespace spotwright::scenario
