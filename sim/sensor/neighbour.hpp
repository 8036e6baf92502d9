// A second sensor whose spot the receiver sees.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/sensor/instrument.hpp"

namespace spotwright::sensor {

/// Light of its spot on the array while it is on: the spot of a beam like this sensor's own, with the power of the
/// other and beside it. The part's reflectance counts as that at this sensor's wavelength; speckle of that spot is left
/// out. Empty where there is no second sensor, or its light does not pass the filter. [1/s]
/// @param displacement  Of the part's reference surface. [m]
[[nodiscard]] std::vector<float> neighbour_light(const TriangulationSetup& setup, double displacement);

/// Time within an exposure during which a second sensor with a clock of its own lights: it does so from (k + 0.382)
/// periods on, k = 0, 1, ...; 0 of the others, whose light is in the profile of a pose. [s]
/// Equation (air.6).
[[nodiscard]] double met_light(const scenario::Neighbour& neighbour, double begin, double exposure);

/// Share of exposures that meet its light at all. [1]
[[nodiscard]] double met_share(const scenario::Neighbour& neighbour, double exposure);

}  // namespace spotwright::sensor
