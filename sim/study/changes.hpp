// Changes of a sensor, its mounting or its settings that physics and the laser class allow.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/study/advice.hpp"

namespace spotwright::study {

/// One change.
struct Change {
    std::string words;                  ///< for people, as an instruction
    std::string kind;                   ///< changes of one kind exclude each other
    std::vector<std::string> settings;  ///< key=value
    double range = 0.0;                 ///< measuring range given up, as a share. [1]
    int parts = 0;                      ///< that must be other ones
    bool other_sensor = false;          ///< another sensor of the shelf: the last resort
    std::size_t place = 0;              ///< in the list of possible changes
};

/// Those that make sense for the scenario's principle, part and material, in a fixed order. Loss of speed is not among
/// them: it results from the reading.
/// @param result  Of the scenario as it is: how much light there is.
[[nodiscard]] std::vector<Change> possible_changes(const scenario::Scenario& scenario,
                                                   const measure::ReadResult& result);

/// An instruction to turn the sensor, with the factor by which its readings are to be multiplied afterwards.
/// @param tilt  Of the sensor once it is turned. [rad]
[[nodiscard]] std::string words_of_turn(const std::string& words, const scenario::Scenario& scenario,
                                        const scenario::Pair& tilt);

/// How a quarter turn of the sensor about its beam brings it to the lay, with the direction that was taken where nobody
/// wrote it: who acts on the advice looks first. ", across the lay"
[[nodiscard]] std::string words_of_quarter_turn(const scenario::Scenario& scenario);

/// Kinds of changes that the reasons of a verdict point to, the most telling first: a specular mount where the mirrored
/// beam misses the lens, a wider aperture against speckle.
[[nodiscard]] std::vector<std::string> indicated_kinds(const measure::Verdict& verdict);

/// Changes of what is around the light: hot air, the mount, a second sensor. None where there is nothing to change.
[[nodiscard]] std::vector<Change> changes_around(const scenario::Scenario& scenario);

/// The exposure that brings the light of a scenario to the wanted level, by what its sensor offers where it names one;
/// none where it is there already, or no exposure brings it there.
/// @param peak_share  Brightest pixel of full well, at the exposure given. [1]  @param exposure  [s]
[[nodiscard]] std::optional<Change> suited_exposure(const scenario::Scenario& scenario, double peak_share,
                                                    double exposure);

}  // namespace spotwright::study
