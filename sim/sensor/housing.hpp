// The body of the sensor before the part: how near it comes, how much room it needs, and what does not fit.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::sensor {

/// Corners of the body in the plane of the mounting, (x, z) of the sensor's frame: front left, front right, back right,
/// back left. None where the scenario does not know its width or depth. [m]
[[nodiscard]] std::optional<std::array<Eigen::Vector2d, 4>> body_of(const scenario::Scenario& scenario);

/// The point of the body that a part comes nearest to, and the place on the plane of the part below it.
struct Approach {
    Eigen::Vector2d corner = Eigen::Vector2d::Zero();  ///< (x, z) of the sensor's frame. [m]
    Eigen::Vector2d foot = Eigen::Vector2d::Zero();    ///< [m]
    double clearance = 0.0;                            ///< from one to the other; < 0: the part cuts the body. [m]
};

/// Clearance to a part at a displacement with the tilt of the scenario, the sensor's own tilt the other way. The part
/// counts as a plane. With an out-of-plane tilt the edges at half of the thickness count, and the places are where the
/// plane of the mounting shows them.
/// @return none: the body is not known.
[[nodiscard]] std::optional<Approach> approach_of(const scenario::Scenario& scenario, double displacement);

/// Room around a mounted sensor.
struct Room {
    double clearance = 0.0;       ///< least distance of the body from a part at the reference point: `approach_of`. [m]
    double near_clearance = 0.0;  ///< the same for a part at the near end of the range. [m]
    double height = 0.0;          ///< from the far end of the range to the back of the body, along the normal. [m]
    double width = 0.0;           ///< of the body along x. [m]
    double thickness = 0.0;       ///< of the body along y; 0: not known. [m]
};

/// @return none: the body is not known.
[[nodiscard]] std::optional<Room> room_of(const scenario::Scenario& scenario);

/// What does not fit in the geometry of a triangulation sensor, a sentence each: the lens is far from the plane of the
/// emitter face or outside the body, the near end of the range lies at or behind the front, the range takes less than a
/// fifth of the array.
[[nodiscard]] std::vector<std::string> misfits_of(const scenario::Scenario& scenario, const Layout& layout);

}  // namespace spotwright::sensor
