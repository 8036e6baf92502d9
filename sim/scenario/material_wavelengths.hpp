// At which wavelengths materials are known.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "sim/scenario/material.hpp"

namespace spotwright::scenario {

/// From, to: where every table of a material knows a value, that of what lies below its layer included. From 0 to
/// infinity for a material without tables; from > to where its tables have no wavelength in common. [m]
[[nodiscard]] std::array<double, 2> known_wavelengths(const Material& material);

/// Whether `wavelength` lies there. [m]
[[nodiscard]] bool is_known_at(const Material& material, double wavelength);

/// Names of the library that are known at a wavelength and most like a material: of the same kind (diffuse base or
/// volume, interface alone), the nearest in reflectance at normal incidence first. @param most  So many at most.
[[nodiscard]] std::vector<std::string> similar_materials_at(const Material& material, double wavelength,
                                                            std::size_t most);

}  // namespace spotwright::scenario
