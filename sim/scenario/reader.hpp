// Scenario files: TOML in, validated structs out, every problem reported at once.
#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <string_view>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Reads and checks a scenario file.
/// @param settings  Overrides `key=value` with dotted keys, applied in order after the file. `key[0]=value` and so on
///   set one number of a key of several, counted from 0.
/// @throws IoError  The file cannot be read.
/// @throws ScenarioError  Anything wrong in it or in a setting: syntax, unknown keys (with the nearest known name),
///   types, values that are not finite or out of bounds, keys that contradict each other, an unknown material.
[[nodiscard]] Scenario load(const std::filesystem::path& path, std::span<const std::string> settings = {});

/// The same from text. `file` is the name shown in errors; material files are looked up beside it.
[[nodiscard]] Scenario parse(std::string_view text, const std::string& file = "scenario",
                             std::span<const std::string> settings = {});

/// A scenario with some keys changed, checked anew and everything that its keys name found anew.
/// @throws ScenarioError  As `load`.
[[nodiscard]] Scenario with_settings(Scenario scenario, std::span<const std::string> settings);

}  // namespace spotwright::scenario
