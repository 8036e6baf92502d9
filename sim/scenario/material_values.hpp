// From what to what the values of a material's file go.
#pragma once

#include <array>
#include <limits>
#include <optional>

#include "sim/scenario/material_range.hpp"

namespace spotwright::scenario {

/// What a real part's value may be where the file's is `value`: from, to, in the unit of `value`; none where nothing is
/// known. @param most  No part's value is above it.
[[nodiscard]] std::optional<std::array<double, 2>> from_to(const std::optional<Factors>& factors, double value,
                                                           double most = std::numeric_limits<double>::infinity());

/// The section of a material file that has the value of a property.
[[nodiscard]] const char* section_of(const RangedProperty& property);

}  // namespace spotwright::scenario
