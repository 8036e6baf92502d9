// How far a real part of a material may differ, as JSON.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/scenario/material.hpp"

namespace spotwright::record {

/// From and to of each value of a material, and their source. Null without a range; an entry is null where nothing is
/// known, at this wavelength too. `rms_slope` is along the lay, across it.
/// @param wavelength  Of the reflectance of the base and the coefficients of the volume. [m]
[[nodiscard]] nlohmann::ordered_json range_json(const scenario::Material& material, double wavelength);

}  // namespace spotwright::record
