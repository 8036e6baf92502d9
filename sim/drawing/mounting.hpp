// The mounting in its own plane, as points to be drawn.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/target/part.hpp"

namespace spotwright::drawing {

/// Light from a place of the part on its way to the lens.
struct Sight {
    /// Stretches of the aperture that the place is seen through, in shares of its half width from the centre, outward
    /// +.
    std::vector<std::array<double, 2>> seen;
    std::optional<Eigen::Vector2d> hidden_at;  ///< where the part stops the ray to the centre of the lens. [m]
};

/// The part as the beam meets it, cut by the plane of the mounting.
struct PartView {
    target::Part shape;
    Eigen::Vector2d spot = Eigen::Vector2d::Zero();     ///< where the beam's axis lands. [m]
    Eigen::Vector2d normal = Eigen::Vector2d::UnitY();  ///< unit, in the plane
    double along = 0.0;                                 ///< of the spot on the beam, from the emitter face. [m]
    double y = 0.0;                                     ///< of the beam, which the cut goes through. [m]
    std::optional<double> image;                        ///< u of the spot on the array, by the chief ray. [m]
    std::optional<std::array<double, 2>> image_edges;   ///< u of its 1/e^2 edges, by their chief rays. [m]
    Sight sight;                                        ///< of the spot
};

/// The body of the sensor.
struct HousingOutline {
    std::array<Eigen::Vector2d, 4> corners;  ///< as `sensor::body_of`. [m]
    /// Windows of emitter and receiver, in the front: left and right end; an end of no width is not known. [m]
    std::array<std::array<Eigen::Vector2d, 2>, 2> windows;
    std::optional<sensor::Approach> approach;  ///< of the part as it is drawn
};

/// Points are (x, z) of the sensor's frame. [m]  Triples run near end, reference, far end.
struct Mounting {
    Eigen::Vector2d face = Eigen::Vector2d::Zero();        ///< centre of the emitter face
    Eigen::Vector2d beam_axis = Eigen::Vector2d::UnitY();  ///< unit, from the reference point to the emitter
    Eigen::Vector2d lens = Eigen::Vector2d::Zero();        ///< centre
    Eigen::Vector2d axis = Eigen::Vector2d::UnitY();       ///< of the receiver: unit, from reference point to lens
    Eigen::Vector2d outward = Eigen::Vector2d::UnitX();    ///< unit, square to `axis`, where images of near targets go
    std::array<Eigen::Vector2d, 2> rims;                   ///< of the aperture, outward first
    std::array<Eigen::Vector2d, 3> spots;
    std::array<Eigen::Vector2d, 3> images;
    std::optional<HousingOutline> housing;  ///< none: not known
    std::optional<PartView> part;  ///< none where the beam misses the part or the part stands far outside the range
};

[[nodiscard]] Mounting make_mounting(const scenario::Scenario& scenario, const sensor::Layout& layout);

/// How the lens sees a place of the part in the plane of the mounting.
/// @param place  In the sensor's frame. [m]
[[nodiscard]] Sight sight_of(const target::Part& part, const receiver::Receiver& receiver,
                             const Eigen::Vector3d& place);

/// u where light of a place arrives through the aperture at a share of its half width, outward +. [m]
/// @return none where it misses the array.
[[nodiscard]] std::optional<double> image_on_array(const receiver::Receiver& receiver, const Eigen::Vector3d& place,
                                                   double share);

/// The place in the aperture at a share of its half width, outward +. [m]
[[nodiscard]] Eigen::Vector2d in_aperture(const Mounting& mounting, const receiver::Receiver& receiver, double share);

/// The place of array coordinate u. [m]
[[nodiscard]] Eigen::Vector2d on_array(const receiver::Receiver& receiver, double u);

/// Tilt of the part in the drawing, the sensor's own included: + turns its front towards the receiver. [rad]
[[nodiscard]] double drawn_tilt(const PartView& part);

}  // namespace spotwright::drawing
