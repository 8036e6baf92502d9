// Paths over time from CSV files: of a moving part, and of the sensor's temperature.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Columns time_s, along_mm and, if wanted, across_mm; see `parse_table`. At least two rows, times rising.
/// @throws ScenarioError  With the line.
[[nodiscard]] MotionPath parse_motion_path(std::string_view text, const std::string& file);

/// Columns time_s, temperature_C, likewise.
[[nodiscard]] TemperaturePath parse_temperature_path(std::string_view text, const std::string& file);

/// The same from files of at most 64 MiB. @throws IoError  They cannot be read.
[[nodiscard]] MotionPath load_motion_path(const std::string& path);
[[nodiscard]] TemperaturePath load_temperature_path(const std::string& path);

/// Value of a path at a time: straight lines between its rows, the first and last value beyond them.
/// @param time, value  Of the same length, at least one, times rising.
[[nodiscard]] double value_at(std::span<const double> time, std::span<const double> value, double when);

}  // namespace spotwright::scenario
