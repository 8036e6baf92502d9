// Mean electrons of pixels that are exposed again and again. Every instruction set gives the same bits.
#pragma once

#include <span>

#include "sim/scenario/scenario.hpp"

namespace spotwright::detector {

/// What all pixels of an exposure have in common.
struct PixelExposure {
    double ambient_rate = 0.0;  ///< photoelectrons per second and pixel from ambient light. [1/s]
    double exposure = 0.0;      ///< [s]
    double dark = 0.0;          ///< electrons of the dark current. [e]
    double most = 0.0;          ///< 100 full wells: a limit that only keeps the count representable. [e]
};

/// @param exposure  [s]  @param temperature  [K]
[[nodiscard]] PixelExposure make_pixel_exposure(const scenario::Detector& detector, double ambient_rate,
                                                double exposure, double temperature);

/// Mean electrons of some pixels: min((signal + ambient) exposure response + dark, most).
/// Equation (detector.4).
/// @param signal_rate  Photoelectrons per second of these pixels; empty: laser off. [1/s]
/// @param response  Of at least these pixels. [1]
void expose_pixels(const PixelExposure& exposure, std::span<const float> signal_rate, std::span<const float> response,
                   std::span<float> electrons);

}  // namespace spotwright::detector
