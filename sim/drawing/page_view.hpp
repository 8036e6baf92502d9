// From metres in the plane of the mounting to places on the page.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

/// z up the page, x to the right, one scale for both.
struct View {
    double scale = 1.0;  ///< page units per metre. [1/m]
    Vector2 origin = Vector2::Zero();

    [[nodiscard]] Vector2 at(const Eigen::Vector2d& point) const {
        return {origin.x() + scale * point.x(), origin.y() - scale * point.y()};
    }
    /// A direction of the mounting's plane on the page.
    [[nodiscard]] static Vector2 direction(const Eigen::Vector2d& d) { return {d.x(), -d.y()}; }
};

/// A point that must be on the page with room around it for things of constant size. The box holds distances from the
/// point in page units: left and top negative.
struct Extent {
    Eigen::Vector2d point;  ///< [m]
    Box room;
};

/// The largest view that holds all extents within the area, centred in it.
[[nodiscard]] View fit(std::span<const Extent> extents, const Box& area);

/// A mark of an angle, with its apex at a point of the page.
struct AngleMark {
    Vector2 apex;
    double from = 0.0;  ///< clockwise from upwards. [rad]
    double to = 0.0;
    double min_radius = 0.0;
    double max_radius = 0.0;
    std::string value;
};

/// The place of a box of some size within an area where it covers nothing, the nearest to a point.
/// @return none where there is no such place.
[[nodiscard]] std::optional<Box> free_place(std::span<const Covered> covered, const Box& area, const Vector2& size,
                                            const Vector2& near);

/// A straight segment of a line already on the page.
using Segment = std::array<Vector2, 2>;

/// Where a line of text along `line` would meet other lines, as shares of its length.
[[nodiscard]] std::vector<double> shares_crossed(const Segment& line, std::span<const Segment> others);

/// Where an arc was drawn.
struct AngleArc {
    double radius = 0.0;
    double end = 0.0;            ///< the mark's `to`, or past it where the value stands there. [rad]
    std::vector<Segment> value;  ///< above, through and below the value where it stands past the end
};

/// Draws the arc at the least radius at which its value has room within the angle, between the lines that cross it.
/// @return none, and nothing drawn, where there is no such radius.
std::optional<AngleArc> draw_angle_within(Canvas& canvas, const AngleMark& mark, std::span<const Segment> lines);

/// Draws the arc with its value past the end of the angle, in the nearest gap between lines.
AngleArc draw_angle_beyond(Canvas& canvas, const AngleMark& mark, std::span<const Segment> lines);

}  // namespace spotwright::drawing
