// Scenarios drawn at random over all that a scenario may ask of the light on the array, or on the detector of a
// time-of-flight sensor.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::test {

struct DrawnScene {
    scenario::Scenario scenario;
    std::vector<std::string> settings;        ///< `key=value`, by which it can be had again
    std::map<std::string, int> rejected_for;  ///< draws before it that the program rejected, by the first key at fault
};

/// Kinds of part, which follow one another from scene to scene: the shapes, a plate with and without a backing.
inline constexpr int part_kinds = 9;

/// Scene `index` of a seed. What the program rejects is drawn anew, with the same kind of part and mount, and counted;
/// nothing else is left out. The program's checks are those of the reader, of the geometry of the receiver and of the
/// measurable range. That of the calibration is not asked, for it takes the image that is to be tested.
/// @param folder  For the file of a relief; written.
[[nodiscard]] DrawnScene draw_scene(std::uint64_t seed, int index, const std::filesystem::path& folder);

/// The same of a time-of-flight sensor, by phase or by pulses: the same kinds of part, up to ten times as deep. The
/// program's checks are those of the reader and of the layout, without those of the calibration.
[[nodiscard]] DrawnScene draw_timed_scene(std::uint64_t seed, int index, const std::filesystem::path& folder);

}  // namespace spotwright::test
