// Noisy frames: photon shot noise, read noise, clipping and quantisation, drawn pixel by pixel.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

#include "sim/base/random.hpp"
#include "sim/detector/array.hpp"

namespace spotwright::detector {

/// Below this mean, electrons are counted by inverting the Poisson distribution exactly; from it on by the expansion of
/// its quantile in powers of 1/sqrt(mean), whose distribution differs from Poisson's by less than 7e-6 at any count.
/// Source: M. B. Giles, "Algorithm 955: approximation of the inverse Poisson cumulative distribution function",
/// ACM TOMS 42(1) (2016), asymptotic form, from memory; the error was computed against the exact distribution.
inline constexpr double exact_count_limit = 24.0;

/// The same limit where a reading's own light takes a mean below it that is not expected there: inversion costs most
/// just below it. Expanded means of 12 and more differ from Poisson's by less than 3.2e-5 at any count.
inline constexpr double changed_count_limit = 12.0;

/// Read noise from which on one normal number a pixel draws shot and read noise together, by the expansion of Cornish
/// and Fisher up to the fifth cumulant. The distribution of light and noise so drawn differs from that of Poisson
/// counts and normal noise by less than 7e-6 at any value and any mean: 5.9e-6 at 2.5 e, 9e-7 at 4 e. Below it, and for
/// counts alone, each is drawn by itself. [e] Source: E. A. Cornish, R. A. Fisher, Revue de l'Institut International de
/// Statistique 5, 307 (1938), from memory; the error was computed against the exact distribution, and a test computes
/// it again.
inline constexpr double min_joined_noise = 2.5;

/// Readings that share the counters of their random numbers: pixel p of reading r takes word r % 4 of counter
/// (p, r / 4), and its normal number is that of this word and its partner's, 0 with 1 and 2 with 3.
inline constexpr std::size_t readings_of_counter = 4;

/// Which random numbers the frames use.
struct FrameNoise {
    std::uint64_t seed = 0;
    base::Stream shot = base::Stream::photon_shot;
    base::Stream read = base::Stream::read_noise;
};

/// Draws one frame.
///
/// digit = clip(floor(black + K (N + offset + read noise) + 1/2), 0, top), N ~ Poisson(mean electrons).
/// The clip at the top digit is the full well. Each draw belongs to (seed, stream, reading, pixel), so any part of any
/// frame may be drawn alone and comes out the same.
/// @param reading  Index of the reading, >= 0.
/// @param first_unit  First unit of 16 pixels to draw.
/// @param digits  Receives the digits of pixels 16 * first_unit onwards, up to the array's end; its size is a multiple
///   of 16, and what lies beyond the array's end is set to zero. [DN]
void draw_frame(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_unit,
                std::span<float> digits);

/// The same pixels of successive readings, digits of one reading after those of the other. Costs less than one by one.
/// @param unit_count  Units that are drawn of each reading, > 0.
/// @param digits  Its size is a multiple of 16 * unit_count.
void draw_frames(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t first_reading,
                 std::int64_t first_unit, std::int64_t unit_count, std::span<float> digits);

/// Some pixels of a frame of its own.
struct OwnFrame {
    const ExpectedFrame* expected = nullptr;
    std::int64_t first_unit = 0;  ///< see `draw_frame`
    std::span<float> digits;      ///< [DN]
};

/// Frames of successive readings, each of its own light, as `draw_frame` draws them one by one. Costs less where joined
/// noise is drawn (see `min_joined_noise`) and readings that share counters look at the same pixels.
void draw_own_frames(std::span<const OwnFrame> frames, const FrameNoise& noise, std::int64_t first_reading);

/// Whether one normal number a pixel stands for shot and read noise.
[[nodiscard]] inline bool is_joined(const ExpectedFrame& expected) {
    return expected.read_noise >= min_joined_noise;
}

/// Light that changes from reading to reading, speckle for one.
struct RelativeLight {
    std::span<const float>
        electrons;                    ///< part of the expected electrons that changes, for each pixel of the array. [e]
    std::span<const float> relative;  ///< intensity over its mean, for each digit drawn. [1]
};

/// The same with mean electrons of expected + light (relative - 1), not below 0. With relative 1 throughout, digits are
/// those of `draw_frame` without it to the last bit.
void draw_frame(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                std::int64_t reading, std::int64_t first_unit, std::span<float> digits);

/// Electron counts alone, without read noise and digits: what photon statistics are tested on.
/// @param counts  As `digits` above. [e]
void draw_counts(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_unit,
                 std::span<float> counts);

}  // namespace spotwright::detector
