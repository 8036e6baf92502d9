// The pixel array by the EMVA 1288 linear model: from light on the pixels to what a frame is drawn from.
#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::detector {

/// Digits and electrons. Digit = black level + gain * electrons, clipped to [0, top digit].
struct Digitiser {
    double gain = 1.0;         ///< K, digits per electron. [DN/e]
    double black_level = 0.0;  ///< digit of zero electrons, so that noise below it is not cut off. [DN]
    double top_digit = 0.0;    ///< full well comes here. [DN]
};

/// Black level at a sixty-fourth of the digits (common practice: a few dark standard deviations), full well at the top.
/// Equation (detector.1).
[[nodiscard]] Digitiser make_digitiser(const scenario::Detector& detector);

/// The specimen's fixed pattern, drawn once from the device seed.
struct FixedPattern {
    std::vector<float> response;  ///< relative response of each pixel, mean 1. [1]
    std::vector<float> offset;    ///< offset of each pixel. [e]
};

/// Equation (detector.2).
[[nodiscard]] FixedPattern make_fixed_pattern(const scenario::Detector& detector);

/// Dark current at a temperature: doubles every 8 K from its value at 20 C. [e/s]
/// Source: EMVA 1288 release 3.1, mu_I(T) = mu_I(T0) 2^((T - T0) / T_d); T_d of 6 to 10 K, from memory.
/// Equation (detector.3).
[[nodiscard]] double dark_current_at(const scenario::Detector& detector, double temperature);

/// Mean of a frame before noise, pixel by pixel.
struct ExpectedFrame {
    std::vector<float> electrons;  ///< mean count of electrons, light and dark current. [e]
    std::vector<float> offset;     ///< fixed offset. [e]
    double read_noise = 0.0;       ///< [e]
    Digitiser digitiser;
};

/// @param signal_rate  Photoelectrons per second of each pixel; empty: laser off. [1/s]
/// @param ambient_rate  The same from ambient light, equal for all pixels. [1/s]
/// @param exposure  [s]  @param temperature  [K]
/// Equation (detector.4).
[[nodiscard]] ExpectedFrame expose(const scenario::Detector& detector, const FixedPattern& pattern,
                                   std::span<const float> signal_rate, double ambient_rate, double exposure,
                                   double temperature);

/// The same for some pixels of a frame whose others stay as they are: all but electrons is left alone.
/// @param first, last  Pixels from the first to before the last, within the frame and the rates.
void expose_pixels(const scenario::Detector& detector, const FixedPattern& pattern, std::span<const float> signal_rate,
                   double ambient_rate, double exposure, double temperature, std::size_t first, std::size_t last,
                   ExpectedFrame& frame);

}  // namespace spotwright::detector
