// The error that averaging does not cure: outputs of a part that stands still and of one that moves on, for growing
// averages.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/sensor/instrument.hpp"

namespace spotwright::study {

/// Root mean square errors of outputs that average so many readings. Errors count from the mean over all patches, so
/// that what is systematic, and the same for all three, stays out.
struct AveragedError {
    std::int64_t average = 1;
    double response_time = 0.0;  ///< until the output has wholly followed a step. [s]
    double still = 0.0;          ///< the part stands still: over many places where it may. [m]
    double moved = 0.0;          ///< each reading meets another patch of the surface. [m]
    double noise = 0.0;          ///< of the still part, about the mean of its patch. [m]
    double still_values = 0.0;   ///< independent values behind `still`: patches, or outputs of the only patch
    double moved_values = 0.0;   ///< outputs behind `moved`
    double noise_values = 0.0;   ///< degrees of freedom of `noise`
};

struct AveragingOptions {
    std::int64_t greatest = 256;  ///< average, > 0: studied are the powers of two up to it
    int threads = 0;              ///< 0: all cores
};

/// Reads the scenario's part with its own median, and averages of 1, 2, 4, ... in place of its own. An output stands on
/// full windows of readings of its own, so that outputs are independent of one another.
///
/// Speckle stays as it is while the part stands still: still^2 = speckle^2 + noise^2 / N, moved^2 = (speckle^2 +
/// noise^2) / N. With `run.patches` of 256, and as many outputs of the moved part at the greatest average, each is
/// known to 1 / sqrt(512), some 4 %.
/// @return empty where the part gives no valid outputs.
[[nodiscard]] std::vector<AveragedError> averaging_study(const sensor::TriangulationSetup& setup,
                                                         const AveragingOptions& options = {});

}  // namespace spotwright::study
