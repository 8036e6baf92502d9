// What a target is made of: optical properties, each with its source.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"

namespace spotwright::scenario {

/// Diffuse reflectance against wavelength: the share of incident power scattered back at normal incidence.
struct ReflectanceTable {
    std::vector<double> wavelength;  ///< ascending, at least two. [m]
    std::vector<double> value;       ///< same length, in [0, 1]. [1]
    std::string source;
};

/// Spread of the surface's facet slopes, 0 for a Lambertian surface.
struct FacetSlope {
    double deviation = 0.0;  ///< standard deviation of the slope angle. [rad]
    std::string source;
};

struct Material {
    std::string name;   ///< as written in `target.material`
    std::string title;  ///< a line for people
    ReflectanceTable reflectance;
    FacetSlope slope;
};

/// Reflectance at a wavelength, linear between the table's points. [1]
/// @throws DomainError  Outside the wavelengths of the table: nothing is extrapolated.
[[nodiscard]] double reflectance_at(const Material& material, double wavelength);

/// Names of the built-in library, sorted.
[[nodiscard]] std::vector<std::string> material_names();

/// A material of the built-in library (the files of scenarios/materials, built in).
/// @throws InternalError  The name is not in the library: ask `material_names` first.
[[nodiscard]] Material library_material(std::string_view name);

/// A material from the text of a file.
/// @throws ScenarioError  With every problem of the text.
[[nodiscard]] Material parse_material(std::string_view text, const std::string& file);

}  // namespace spotwright::scenario
