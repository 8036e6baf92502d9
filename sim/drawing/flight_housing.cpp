#include "sim/drawing/flight_housing.hpp"

#include <cmath>
#include <string>

#include "sim/base/units.hpp"
#include "sim/sensor/housing.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;

}  // namespace

Vector2 beside_beam(const scenario::Scenario& s, const Eigen::Vector2d& point) {
    const Vector2 up(std::sin(s.emitter.angle), std::cos(s.emitter.angle));
    const Vector2 from_face = point - s.mount.reference_distance * up;
    return {-from_face.dot(up), from_face.dot(Vector2(up.y(), -up.x()))};
}

double part_distance(const scenario::Scenario& s) {
    return s.mount.reference_distance + s.target.displacement / std::cos(s.emitter.angle);
}

std::array<Vector2, 4> housing_corners(const scenario::Scenario& s, const BeamView& view, double top, double bottom) {
    const double left = view.face.x() - housing_depth;
    const auto body = sensor::body_of(s);
    if (!body) {
        return {Vector2(left, top), Vector2(view.face.x(), top), Vector2(view.face.x(), bottom), Vector2(left, bottom)};
    }
    std::array<Vector2, 4> corners;
    for (std::size_t i = 0; i < 2; ++i) {
        const Vector2 place = beside_beam(s, body->at(i));
        corners.at(i) = view.at(place.x(), place.y());
        corners.at(3 - i) = {left, corners.at(i).y()};
    }
    return corners;
}

void draw_housing_width(Canvas& canvas, const scenario::Scenario& s, const std::array<Vector2, 4>& corners,
                        std::span<const double> leaders) {
    if (!sensor::body_of(s)) return;
    Dimension d;
    d.from = corners[3];
    d.to = corners[2];
    d.offset = {-16.0, 0.0};
    for (const double leader : leaders) {
        for (const double half_text : {-4.0, 4.0}) {
            d.crossed.push_back((leader + half_text - d.from.y()) / (d.to.y() - d.from.y()));
        }
    }
    const std::string value = number(s.housing.width / mm) + " mm";
    d.values = {"housing " + value + " wide", value};
    draw_dimension(canvas, d);
}

void draw_flight_room(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout,
                      const BeamView& view) {
    const auto room = sensor::room_of(s);
    const auto approach = sensor::approach_of(s, s.target.displacement);
    if (!room || !approach) return;
    constexpr double row = 19.0;
    draw_dimension(canvas, {{view.face.x() - housing_depth, view.area.bottom},
                            {view.at(layout.distance[2], 0.0).x(), view.area.bottom},
                            {0.0, 6.0 * row},
                            4.0,
                            4.0,
                            {},
                            {"room needed " + number(room->height / mm, 6) + " mm, clearance " +
                                 number(approach->clearance / mm, 6) + " mm",
                             "room needed " + number(room->height / mm, 6) + " mm"}});
    const double part = part_distance(s);
    const Vector2 corner = beside_beam(s, approach->corner);
    const Vector2 foot = beside_beam(s, approach->foot);
    Dimension d;
    d.from = view.at(corner.x(), corner.y());
    d.to = view.at(foot.x(), foot.y());
    constexpr double least = 12.0;
    if (part <= 0.0 || part >= view.end || (d.to - d.from).norm() < least || approach->clearance <= 0.0) return;
    // Of a tilted part the nearest point may lie far beside the drawing.
    const auto is_in_area = [&view](const Vector2& p) {
        return p.x() >= view.area.left && p.x() <= view.area.right && p.y() >= view.area.top &&
               p.y() <= view.area.bottom;
    };
    if (!is_in_area(d.from) || !is_in_area(d.to)) return;
    d.offset = {0.0, corner.y() < 0.0 ? 8.0 : -8.0};
    d.from_gap = d.to_gap = 2.0;
    for (const double distance : layout.distance) {
        d.crossed.push_back((view.at(distance, 0.0).x() - d.from.x()) / (d.to.x() - d.from.x()));
    }
    const std::string value = number(approach->clearance / mm, 6) + " mm";
    d.values = {"clearance " + value, value};
    canvas.open_group("clearance");
    draw_dimension(canvas, d);
    canvas.close_group();
}

}  // namespace spotwright::drawing
