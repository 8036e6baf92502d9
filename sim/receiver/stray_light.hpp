// Light that comes to the array by other ways than the image: a ghost, and what dirt scatters.
#pragma once

#include <span>

#include "sim/receiver/geometry.hpp"

namespace spotwright::receiver {

/// Adds the ghost to the light of an image, takes from it what dirt takes, and adds what that scatters.
///
/// The ghost is the image's light on the pixels once more, shifted and spread over a disc as a lens out of focus does;
/// what of the disc lies beyond the pixels' height is left out. What dirt scatters comes as a Gaussian about the image,
/// as wide on the array as the angle of scatter at the lens makes it; dirt lies close to the lens.
/// Equations (instrument.5) and (instrument.6). Source: derived; chord of a disc, error function.
/// @param collected  All light behind the lens, what misses the pixels included. [W]
/// @param centre  Of the image. [px]
/// @param power  Of each pixel, changed. [W]
void add_stray_light(const Receiver& receiver, double collected, double centre, std::span<double> power);

}  // namespace spotwright::receiver
