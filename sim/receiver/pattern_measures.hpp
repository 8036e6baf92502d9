// What coherent patterns show by themselves, before any pixel: contrast and speckle size.
#pragma once

#include <cstdint>

#include "sim/receiver/coherent_speckle.hpp"

namespace spotwright::receiver {

struct PatternMeasures {
    double contrast = 0.0;  ///< standard deviation of intensity over its mean. [1]
    double size = 0.0;      ///< full width at half maximum of the covariance along the array. [m]
};

/// Measures the bright part of the patterns of some separate places.
/// @param patterns  How many, > 0: with n of them contrast is known to some 1 / sqrt(n times speckles in the spot).
[[nodiscard]] PatternMeasures measure_patterns(const SpecklePlan& plan, std::uint64_t seed, std::int64_t patterns);

}  // namespace spotwright::receiver
