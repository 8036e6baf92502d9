// Errors of a budget that come from a part that moves or changes under the beam.
#pragma once

#include <vector>

#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

/// Errors of outputs, against the truth at the middle of their newest exposure.
struct MotionErrors {
    std::vector<double> errors;  ///< empty: the part stands still, or there is no valid output. [m]
    double mean = 0.0;           ///< [m]
    double deviation = 0.0;      ///< [m]
    double lost_share = 0.0;     ///< of outputs that are none: the part is out of range, or beside the beam. [1]
};

/// Of a series without noise of photons and electronics: the emitter a million times as strong before pixels that hold
/// a million times as much, without ambient light. Time of flight: with its noise.
/// @param speckle  The surface's speckle, as it passes or stands; otherwise none.
/// @throws ScenarioError  As `take_moving_series`.
[[nodiscard]] MotionErrors motion_errors(const sensor::Setup& setup, bool speckle, int threads);

}  // namespace spotwright::study
