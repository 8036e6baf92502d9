// Grains of a translucent part: places that send back more and less light, and so shift the spot from place to place.
#pragma once

#include <cstdint>
#include <vector>

#include <Eigen/Core>

#include "sim/receiver/speckle_view.hpp"
#include "sim/scenario/material.hpp"

namespace spotwright::receiver {

/// Grains as a row of pixels sees them. The light that a place of the face sends back is 1 + e times its mean, e a
/// Gaussian random field of standard deviation `variation` that is alike over a distance r by exp(-(r / length)^2).
/// Source: derived, see docs/theory/speckle.md; length = size / 2, so that what is alike covers the area of a grain.
struct GrainView {
    double length = 0.0;     ///< [m]
    double variation = 0.0;  ///< [1]
    double reach = 0.0;      ///< along x, farther from the lit point the face sends no light that counts. [m]
    double across = 0.0;     ///< standard deviation of the light's place along y, within the row's strip. [m]
    double du_dx = 1.0;      ///< image of the surface on the array. [1]
    PixelRow row;
};

/// Grains finer than half a pixel, or a sixteenth of the strip, are replaced by coarser ones that vary less: the
/// product of length and variation, on which all sums depend, stays.
[[nodiscard]] GrainView grain_view(const scenario::Grain& grain, const SpeckleView& view);

/// 1 + e on the pixels, never below 0, for a place of the part under the beam. Places that lie near each other share
/// their grains.
/// @param place  Of the lit point on the part. [m]
[[nodiscard]] std::vector<float> grain_pattern(const GrainView& grain, std::uint64_t seed,
                                               const Eigen::Vector2d& place);

/// Standard deviation, from place to place, of the centroid of all light of a Gaussian spot:
/// variation sqrt(sx^2 / 2 (ex - ex^3) ey), e = (1 + 4 s^2 / length^2)^-1/2 for x and y. For grains much finer than the
/// spot it is variation length / sqrt(8) of a round one, whatever its size.
/// @param deviation  sx and sy of the spot's light on the face. [m]  @return on the face, along x. [m]
/// Equation (speckle.18).
[[nodiscard]] double grain_limit(double length, double variation, const Eigen::Vector2d& deviation);

}  // namespace spotwright::receiver
