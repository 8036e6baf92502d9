// The fast model of speckle: a gamma field along the pixels, with the statistics of the coherent one.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "sim/receiver/speckle_view.hpp"

namespace spotwright::receiver {

/// Statistics of speckle on the pixels about a spot's centre, by closed forms and quadrature.
struct SpeckleField {
    double contrast = 0.0;          ///< of a pixel, over width and height; the gamma law's shape is its inverse square
    double pattern_contrast = 0.0;  ///< before pixels add it up. [1]
    double size = 0.0;              ///< full width at half maximum of a speckle along the array. [m]
    std::vector<double> correlation;  ///< of pixels 0, 1, 2, ... apart; the first is 1
    std::vector<float> taps;  ///< filter that makes white normal numbers so correlated; symmetric, squares sum to 1
};

[[nodiscard]] SpeckleField make_speckle_field(const SpeckleView& view);

/// Draws relative intensities, mean 1, for whole blocks of pixels: gamma's law from normal numbers by Wilson and
/// Hilferty's cube, never below 0. Each draw belongs to (seed, stream, reading, pixel), on any instruction set.
/// Source: E. B. Wilson, M. M. Hilferty, PNAS 17, 684 (1931).
/// @param relative  Filled; its size is a multiple of 64. [1]
void draw_speckle(const SpeckleField& field, std::uint64_t seed, std::int64_t reading, std::int64_t first_block,
                  std::span<float> relative);

}  // namespace spotwright::receiver
