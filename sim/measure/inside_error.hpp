// What the models leave out of parts that let light in and are not flat.
#pragma once

#include <optional>

#include "sim/sensor/sensor.hpp"

namespace spotwright::measure {

/// By how much light that enters the part shifts its reading, where the models scatter it at the face alone
/// (a shape other than a plane). An estimate: the reading of a plane of the material in its place and at its tilt,
/// with light inside, less that of the plane without, both by the spot model and without noise. Good where the part is
/// flat over the depth and width from which the light comes; near edges and on thin walls it tells the order. [m]
/// @param displacement  Of the place that is read. [m]
/// @return none for other parts, and where either plane gives no reading.
[[nodiscard]] std::optional<double> inside_error(const sensor::TriangulationSetup& setup, double displacement);

/// Of the part where the scenario has it; 0 where there is none, and for time of flight. [m]
[[nodiscard]] double inside_error_of(const sensor::Setup& setup);

}  // namespace spotwright::measure
