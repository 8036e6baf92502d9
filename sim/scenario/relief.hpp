// Heights of a relief from a CSV file.
#pragma once

#include <string>
#include <string_view>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// A profile (columns x_mm, height_mm) or a map (x_mm, y_mm, height_mm on a complete grid, rows in any order). The
/// first line names the columns, in any order; empty lines and lines that begin with # are passed over.
/// @param file  Named in errors.
/// @throws ScenarioError  Names, numbers, fewer than two places, a place given twice or missing from the grid: with
/// the line.
[[nodiscard]] HeightTable parse_heights(std::string_view text, const std::string& file);

/// The same from a file of at most 64 MiB. @throws IoError  It cannot be read.
[[nodiscard]] HeightTable load_heights(const std::string& path);

}  // namespace spotwright::scenario
