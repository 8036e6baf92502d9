// What the sensor's temperature does to a reading, and what setting its zero now and then takes away.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/sensor/sensor.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::study {

/// Change of a reading of the reference per kelvin, one cause alone or all together.
struct DriftCause {
    std::string name;
    double near = 0.0;  ///< at the near end of the range. [m/K]
    double here = 0.0;  ///< where the part stands. [m/K]
    double far = 0.0;   ///< at the far end. [m/K]
};

/// One moment of a path of temperatures.
struct DriftPoint {
    double time = 0.0;         ///< [s]
    double temperature = 0.0;  ///< [K]
    double error = 0.0;        ///< reading less that at 20 C. [m]
    double after_reset = 0.0;  ///< the same less that of the reference point when the zero was last set. [m]
};

/// What is left of the drift over the path when the zero is set at an interval.
struct ResetInterval {
    double interval = 0.0;  ///< [s]
    double rms = 0.0;       ///< of the remaining error. [m]
    double largest = 0.0;   ///< [m]
};

struct DriftStudy {
    std::vector<DriftCause> causes;     ///< each alone; the last one is all together
    std::vector<DriftPoint> path;       ///< of the file, with the warm-up, or of the warm-up alone; else empty
    std::vector<ResetInterval> resets;  ///< empty like the path; falling, the first one is never, none: endless
};

/// The reference is read in place of the part, without noise. Zero is set at the reference point at the start of the
/// path and then at the interval: the scenario's, and halves of the whole path down to a 64th.
/// @throws ScenarioError  The reference cannot be read where the part stands, at an end of the range or at a
///   temperature of the path.
/// Equations (temperature.6) and (temperature.7).
[[nodiscard]] DriftStudy drift_study(const sensor::Setup& setup, int threads);

}  // namespace spotwright::study
