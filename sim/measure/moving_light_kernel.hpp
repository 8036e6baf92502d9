// Pixel by pixel work on the light of a moving part. Every instruction set gives the same bits.
#pragma once

#include <array>
#include <cstddef>
#include <span>

namespace spotwright::measure {

/// Adds four samples of each pixel, each times its share: to[k] += sum over t of share[t] sample[t][k].
/// @param sample  Four rows of at least as many values as `to`.
void add_taps(const std::array<const float*, 4>& sample, const std::array<float, 4>& share, std::span<float> to);

/// The same of doubles, the difference of two such sums: to[k] += scale (sum of ahead - sum of behind).
struct DoubleTaps {
    std::array<const double*, 4> sample{};
    std::array<double, 4> share{};
};
void add_difference(const DoubleTaps& ahead, const DoubleTaps& behind, double scale, std::span<float> to);

/// Patterns that are mixed, at most four, on the pixels in question.
struct MixedPatterns {
    std::array<const float*, 4> intensity{};  ///< over its mean. [1]
    std::array<float, 4> share{};
    std::size_t count = 0;
};

/// Adds a mixed pattern: sum[k] += weight max(0, 1 + sum over i of share[i] (intensity[i][k] - 1)).
void add_mixed(const MixedPatterns& mixed, float weight, std::span<float> sum);

/// Puts light, nowhere taken as less than none, under such a pattern and an even share: rate[k] = max(0, rate[k])
/// (weight max(0, ...) + even).
void put_under(const MixedPatterns& mixed, float weight, float even, std::span<float> rate);

}  // namespace spotwright::measure
