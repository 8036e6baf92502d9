// The error that averaging does not reduce: outputs of a still part and of a part on a new patch at each reading, by
// the number of readings averaged.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/sensor/instrument.hpp"

namespace spotwright::study {

/// Root mean square errors of outputs that average so many readings. Errors are relative to the mean over all
/// patches, so the systematic error, the same for all three, is left out.
struct AveragedError {
    std::int64_t average = 1;
    double response_time = 0.0;  ///< of the output to a step. [s]
    double still = 0.0;          ///< the part is still: rms over many patches. [m]
    double moved = 0.0;          ///< each reading is on another patch of the surface. [m]
    double noise = 0.0;          ///< of the still part, about the mean of its patch. [m]
    double still_values = 0.0;   ///< independent values behind `still`: patches, or outputs of the only patch
    double moved_values = 0.0;   ///< outputs behind `moved`
    double noise_values = 0.0;   ///< degrees of freedom of `noise`
};

struct AveragingOptions {
    std::int64_t greatest = 256;  ///< average, > 0: studied are the powers of two up to it
    int threads = 0;              ///< 0: all cores
};

/// Reads the scenario's part with its own median, and averages of 1, 2, 4, ... in place of its own. Each output has
/// full windows of its own readings, so outputs are independent.
///
/// Speckle does not change while the part is still: still^2 = speckle^2 + noise^2 / N, moved^2 = (speckle^2 +
/// noise^2) / N. With `run.patches` of 256, and as many outputs of the moved part at the greatest average, each is
/// known to 1 / sqrt(512), some 4 %.
/// @return empty where the part gives no valid outputs.
[[nodiscard]] std::vector<AveragedError> averaging_study(const sensor::TriangulationSetup& setup,
                                                         const AveragingOptions& options = {});

}  // namespace spotwright::study
