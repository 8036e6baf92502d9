// The fast model of speckle: a gamma field along the pixels, with the statistics of the coherent one.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "sim/receiver/speckle_view.hpp"

namespace spotwright::receiver {

/// Relative intensity max(0, mean + deviation z)^3 of a standard normal number z: gamma's law but for less than 1.2 %
/// of probability at shape 1 and 0.1 % from shape 8 on. Source: E. B. Wilson, M. M. Hilferty, PNAS 17, 684 (1931).
struct CubeRoot {
    double mean = 1.0;       ///< of the cube root of relative intensity. [1]
    double deviation = 0.0;  ///< [1]
};

/// The cube with mean 1 and this contrast, 0 ... 1: by moments, where Wilson and Hilferty give them to 0.2 %.
[[nodiscard]] CubeRoot cube_root_of(double contrast);

/// Statistics of speckle on the pixels about a spot's centre, by closed forms and quadrature.
struct SpeckleField {
    double contrast = 0.0;  ///< of a pixel, over width and height; the gamma law's shape is its inverse square. [1]
    double pattern_contrast = 0.0;    ///< before pixels add it up, the footprint's slant included. [1]
    double size = 0.0;                ///< full width at half maximum along the array, of large footprints. [m]
    std::vector<double> correlation;  ///< of pixels 0, 1, 2, ... apart; the first is 1, beyond the last it is left out
    CubeRoot cube_root;
    std::vector<float> taps;  ///< filter that makes white normal numbers so correlated; symmetric, squares sum to 1
};

/// Taps on either side of the middle one, at most. Speckle wider than some 100 pixels is drawn too narrow.
inline constexpr std::size_t most_side_taps = 256;

/// See docs/theory/speckle.md. Takes well below a millisecond.
[[nodiscard]] SpeckleField make_speckle_field(const SpeckleView& view);

/// Fewest taps whose noise has these correlations but for 0.005 at any lag, and their sum but for 1 %.
/// @param correlation  Of normal numbers 0, 1, 2, ... pixels apart; the first is 1. What no noise can have is cut off.
[[nodiscard]] std::vector<float> filter_taps(const std::vector<double>& correlation);

/// Draws relative intensities, mean 1, for whole blocks of pixels. Each draw belongs to (seed, stream, reading, pixel),
/// on any instruction set.
/// @param relative  Filled; its size is a multiple of 64. [1]
void draw_speckle(const SpeckleField& field, std::uint64_t seed, std::int64_t reading, std::int64_t first_block,
                  std::span<float> relative);

}  // namespace spotwright::receiver
