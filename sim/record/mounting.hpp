// The mounting in its own plane, as points to be drawn.
#pragma once

#include <array>
#include <optional>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::record {

/// The part as the beam meets it, cut by the plane of the mounting.
struct PartView {
    Eigen::Vector2d spot = Eigen::Vector2d::Zero();     ///< where the beam's axis lands. [m]
    Eigen::Vector2d normal = Eigen::Vector2d::UnitY();  ///< unit, in the plane
    double along = 0.0;                                 ///< of the spot on the beam, from the emitter face. [m]
    std::optional<double> image;                        ///< u of the spot on the array, by the chief ray. [m]
    std::optional<std::array<double, 2>> image_edges;   ///< u of its 1/e^2 edges, by their chief rays. [m]
    std::optional<std::array<double, 2>> rim_images;    ///< u where light through either rim of the lens arrives. [m]
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
    std::optional<PartView> part;  ///< none where the beam misses the part or the part stands far outside the range
};

[[nodiscard]] Mounting make_mounting(const scenario::Scenario& scenario, const study::Layout& layout);

/// The place of array coordinate u. [m]
[[nodiscard]] Eigen::Vector2d on_array(const receiver::Receiver& receiver, double u);

/// Tilt of the part in the drawing, the sensor's own included: + turns its front towards the receiver. [rad]
[[nodiscard]] double drawn_tilt(const PartView& part);

}  // namespace spotwright::record
