// The part cut by the plane of the mounting, found with rays alone, so that any shape draws itself.
#pragma once

#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/target/part.hpp"

namespace spotwright::drawing {

/// A line of the cut surface. The material lies on the right of the way along it.
struct Outline {
    std::vector<Eigen::Vector2d> points;  ///< (x, z) of the sensor's frame. [m]
    bool closed = false;                  ///< goes on from its last point to its first
};

/// What of the cut is looked at: a rectangle in the part's own directions.
struct CutWindow {
    Eigen::Vector2d centre = Eigen::Vector2d::Zero();  ///< (x, z) of the sensor's frame. [m]
    double y = 0.0;                                    ///< of the plane of the cut, in the sensor's frame. [m]
    double half_width = 0.0;                           ///< along the reference surface. [m]
    double above = 0.0;                                ///< [m]
    double below = 0.0;                                ///< [m]
};

/// The part's normal as the plane of the mounting shows it: unit, (x, z) of the sensor's frame.
[[nodiscard]] Eigen::Vector2d upward(const target::Part& part);

/// How far the reference surface stands above a point, along `upward`, in the plane at `y`. [m]
[[nodiscard]] double reference_above(const target::Part& part, const Eigen::Vector2d& point, double y);

/// The surface within the window. Rays square to the reference surface find it from above, and its underside from
/// below where it hangs together with the rest or is what the centre lies on; jumps and rims are narrowed down to
/// rounding, so walls stand upright. Structure narrower than a thousandth of the half width may be missed; elsewhere
/// the line is right to 2e-4 of it.
[[nodiscard]] std::vector<Outline> cut(const target::Part& part, const CutWindow& window);

/// Highest less lowest place of the surface over a width about the centre of the window, seen from above. [m]
[[nodiscard]] double rise_within(const target::Part& part, const CutWindow& window);

}  // namespace spotwright::drawing
