// A sensor in a line, as its owner would describe it.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::sensor {

/// What tells sensors of a shelf apart.
struct Summary {
    std::string name;  ///< in the library, or the file
    std::string title;
    std::string principle;            ///< the word of the key
    bool specular = false;            ///< beam and receiver stand at opposite angles from the normal
    double reference_distance = 0.0;  ///< [m]
    scenario::Pair range{0.0, 0.0};   ///< as displacement, near and far end. [m]
    scenario::Pair spot{0.0, 0.0};    ///< 1/e^2 diameters at the reference point, in-plane and out-of-plane. [m]
    double wavelength = 0.0;          ///< [m]
    std::string laser_class;          ///< estimated
    scenario::Pair period{0.0, 0.0};  ///< shortest and longest sampling period that a user may set. [s]
    std::vector<scenario::Offer> offers;
    scenario::Housing housing;
};

/// @param scenario  With its sensor before any part.
[[nodiscard]] Summary summary_of(const scenario::Scenario& scenario);

/// Sensors of the library, or of all sensor files (.toml) of a folder, sorted by name, each before a white tile.
/// @param folder  Empty: the library.
/// @throws IoError  The folder cannot be read or holds no sensor file.
/// @throws ScenarioError  Anything wrong in a sensor file.
[[nodiscard]] std::vector<scenario::Scenario> shelf(const std::string& folder);

}  // namespace spotwright::sensor
