// A scenario file to begin with: decided keys as they are, every other key as a comment with its default and meaning.
#pragma once

#include <map>
#include <string>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Keys that stand in the file, each with a remark, which may be empty: by dotted name, such as `mount.range_mm`.
using DecidedKeys = std::map<std::string, std::string>;

/// Text of a scenario file that reads back to the same scenario. Values behind comments are the scenario's: defaults,
/// or what a sensor file or the design rule of the receiver makes of the decided keys. Keys that a sensor has fixed are
/// left out, likewise sections of other shapes than the scenario's, and `flight` where no light is timed, unless one of
/// their keys is decided. Meanings and bounds come from the table of keys.
[[nodiscard]] std::string commented_toml(const Scenario& scenario, const DecidedKeys& decided);

}  // namespace spotwright::scenario
