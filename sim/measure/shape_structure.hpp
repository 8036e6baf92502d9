// How much the light of a shape depends on which place of it the beam meets.
#pragma once

#include <array>
#include <limits>

#include <Eigen/Core>

#include "sim/sensor/instrument.hpp"
#include "sim/target/shape.hpp"

namespace spotwright::measure {

/// How finely the positions of a shape are looked at along an axis, and over what of it. A circle's slope changes by a
/// few thousandths from place to place; an edge moves by an eighth of the beam's radius.
struct ShapeStructure {
    double step = 0.0;                                        ///< 0: light is the same for all. [m]
    double first = -std::numeric_limits<double>::infinity();  ///< beyond first and last the shape is level. [m]
    double last = std::numeric_limits<double>::infinity();    ///< [m]
    double period = 0.0;                                      ///< after which it repeats; 0: never. [m]
};

/// Along x and y of the shape. @param lit  A place of the part that the beam lights, in the sensor's frame. [m]
[[nodiscard]] std::array<ShapeStructure, 2> structure_of(const sensor::TriangulationSetup& setup,
                                                         const target::Shape& shape, const Eigen::Vector3d& lit);

}  // namespace spotwright::measure
