// Scenario files: TOML in, validated structs out, every problem reported at once.
#pragma once

#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

/// Reads and checks a scenario file.
/// @param settings  Overrides `key=value` with dotted keys, applied in order after the file. `key[0]=value` and so on
///   set one number of a key of several, counted from 0.
/// @throws IoError  The file cannot be read.
/// @throws ScenarioError  Anything wrong in it or in a setting: syntax, unknown keys (with the nearest known name),
///   types, values that are not finite or out of bounds, keys that contradict each other, an unknown material, a file
///   out of `reach`.
[[nodiscard]] Scenario load(const std::filesystem::path& path, std::span<const std::string> settings = {},
                            FileReach reach = FileReach::anywhere);

/// The same from text. `file` is the name shown in errors; material files are looked up beside it.
[[nodiscard]] Scenario parse(std::string_view text, const std::string& file = "scenario",
                             std::span<const std::string> settings = {}, FileReach reach = FileReach::anywhere);

class TomlSource;

/// A text of which a scenario takes its keys, or some of them.
struct PartOfScenario {
    const TomlSource* source = nullptr;
    /// Whether a path, as `section.key`, is somebody else's and left alone; empty: none is.
    std::function<bool(const std::string& path)> leaves_alone;
};

/// One scenario from several texts, without a sensor: keys of sensors are rejected. Keys of a later text replace those
/// of an earlier one. @param file  As for `parse`.
/// @throws ScenarioError  As `load`.
[[nodiscard]] Scenario parse_without_sensor(std::span<const PartOfScenario> parts, const std::string& file,
                                            FileReach reach = FileReach::anywhere);

/// A scenario with some keys changed, checked anew and everything that its keys name found anew.
/// @throws ScenarioError  As `load`.
[[nodiscard]] Scenario with_settings(Scenario scenario, std::span<const std::string> settings);

/// What each setting, tried alone, has wrong whatever the other keys say: no such key, a type, bounds, a word, a
/// material or a file. What only contradicts other keys is not among it.
/// @param scenario  Without problems of its own.
[[nodiscard]] std::vector<base::Problem> problems_of(const Scenario& scenario, std::span<const std::string> settings);

/// The value that a setting gives its key, whatever the other keys say: texts and words without quotes, else as TOML in
/// the key's unit; of `key[0]` that one number.
/// @throws ScenarioError  What `problems_of` finds but for materials and files.
[[nodiscard]] std::string value_of_setting(const Scenario& scenario, const std::string& setting);

/// The row of the schema for a key as settings have it, `key[0]` included; null: no such key.
[[nodiscard]] const Key* find_key_of(const std::string& path);

}  // namespace spotwright::scenario
