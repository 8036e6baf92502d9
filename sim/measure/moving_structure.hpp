// How finely the places of a moving part must be looked at, for its shape and for what is on its surface.
#pragma once

#include <array>
#include <limits>

#include "sim/measure/motion.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::measure {

/// Along one axis of the shape: images `step` apart serve all places between; beyond first and last the light is the
/// same everywhere.
struct Structure {
    double step = 0.0;  ///< 0: places make no difference. [m]
    double first = -std::numeric_limits<double>::infinity();
    double last = std::numeric_limits<double>::infinity();
    double period = 0.0;  ///< after which the light repeats; 0: never. [m]
};

/// Of the part's shape and markings, along the shape's own x and y.
/// @param radius  Of the beam on the part, 1/e^2. [m]
[[nodiscard]] std::array<Structure, 2> structure_of(const sensor::TriangulationSetup& setup, const MovedPart& part,
                                                    double radius);

/// Whether the shape has edges, next to which the lit point jumps.
[[nodiscard]] bool has_edges(const target::Shape& shape);

}  // namespace spotwright::measure
