// A sensor that stands askew on its mounting.
#pragma once

#include <cmath>

#include "sim/scenario/scenario.hpp"

namespace spotwright::sensor {

/// Cosine between the sensor's own normal and that of the mounting: readings times this are displacements. [1]
/// @param tilt  As `mount.tilt_deg`, both within 89 deg. [rad]
[[nodiscard]] inline double scale_of_turned(const scenario::Pair& tilt) {
    return std::cos(tilt[0]) * std::cos(tilt[1]);
}

/// By how much such a sensor reads a displacement too long, for it measures along its beam. [m]
[[nodiscard]] inline double excess_of_turned(const scenario::Pair& tilt, double displacement) {
    return displacement * (1.0 / scale_of_turned(tilt) - 1.0);
}

}  // namespace spotwright::sensor
