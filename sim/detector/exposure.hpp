// How long a reading is exposed, and how often readings come.
#pragma once

#include "sim/scenario/scenario.hpp"

namespace spotwright::detector {

struct Timing {
    double exposure = 0.0;  ///< [s]
    double period = 0.0;    ///< sampling period. [s]
};

/// The exposure that a still part ends up with. Fixed: as written. Automatic: the one that brings the brightest pixel
/// to `level` of full well, not shorter than the written exposure and not longer than the longest period, which
/// stretches the sampling period where needed.
/// @param brightest_rate  Electrons per second of the brightest pixel, ambient light and dark current included. [1/s]
/// Equation (detector.10).
[[nodiscard]] Timing settled_timing(const scenario::Exposure& exposure, double full_well, double brightest_rate);

}  // namespace spotwright::detector
