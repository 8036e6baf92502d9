#include "bindings/web/engine/flight_scene.hpp"

#include <cmath>

#include "bindings/web/engine/points.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/cross_section.hpp"
#include "sim/record/json.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::um, base::MHz, base::degree;
using Eigen::Vector2d, Eigen::Vector3d;
using scenario::Scenario;

Vector2d in_plane(const Vector3d& p) {
    return {p.x(), p.z()};
}

// Receiver and beam share a plane: the lens stands `baseline` beside the emitter and looks at the reference point.
struct Plane {
    Vector2d face;
    Vector2d down;    // of the beam, unit
    Vector2d beside;  // square to it, towards the receiver
    Vector2d lens;
    Vector2d axis;     // unit, from the lens to the reference point
    Vector2d outward;  // square to that
};

Plane plane_of(const Scenario& s) {
    const emitter::Beam beam = sensor::beam_of(s);
    Plane plane;
    plane.face = in_plane(beam.face);
    plane.down = in_plane(beam.direction);
    plane.beside = in_plane(beam.axes[0]);
    plane.lens = plane.face + s.flight.baseline * plane.beside;
    plane.axis = (-plane.lens).normalized();
    plane.outward = {-plane.axis.y(), plane.axis.x()};
    return plane;
}

// Outside of it no light reaches the detector.
Json field_edge(const Scenario& s, const sensor::FlightLayout& layout, const Plane& plane, double side) {
    constexpr int steps = 40;
    const double end = 1.05 * layout.distance[2];
    std::vector<Vector2d> points;
    for (int i = 0; i <= steps; ++i) {
        const double axial = end * i / steps;
        const sensor::Field field = sensor::field_at(layout.receiver, 0.5 * s.flight.detector_diameter, axial);
        points.emplace_back(plane.lens + axial * plane.axis + side * field.radius * plane.outward);
    }
    return points_mm(points);
}

Json part(const Scenario& s, double half_width) {
    const emitter::Beam beam = sensor::beam_of(s);
    const target::Part shape = sensor::part_of(s, s.target.displacement);
    const auto hit = target::meet(shape, {beam.face, beam.direction});
    if (!hit) return nullptr;
    const Vector3d spot = beam.face + hit->distance * beam.direction;
    const Vector2d normal = in_plane(hit->normal).normalized();
    const drawing::CutWindow window{in_plane(spot), spot.y(), half_width, half_width, half_width};
    const bool is_plate = s.target.shape == scenario::ShapeKind::plate;
    return {{"surface", outlines_mm(drawing::cut(shape, window))},
            {"half_width_mm", half_width / mm},
            {"up", direction(drawing::upward(shape))},
            {"tilt_deg", std::atan2(normal.x(), normal.y()) / degree},
            {"spot", point_mm(in_plane(spot))},
            {"spot_normal", direction(normal)},
            {"spot_edges", spot_edges(s)},
            {"hidden", false},
            {"back_depth_mm", is_plate ? Json(s.target.plate.thickness / mm) : Json()},
            {"backing_depth_mm", nullptr},
            {"back_light", nullptr}};
}

Json housing(const Scenario& s) {
    const auto corners = sensor::body_of(s);
    if (!corners) return nullptr;
    return {{"corners", points_mm(*corners)}, {"windows", Json::array()}};
}

}  // namespace

Json flight_scene(const Scenario& s, const sensor::FlightLayout& layout) {
    const Plane plane = plane_of(s);
    const double rim = layout.receiver.aperture.half_in_plane;
    std::vector<Vector2d> spots;
    for (const double distance : layout.distance) spots.emplace_back(plane.face + distance * plane.down);
    Json frequencies = Json::array();
    for (const sensor::FrequencyLayout& each : layout.frequencies) frequencies.push_back(each.frequency / MHz);
    Json scene = common_scene(s, layout.beam_radius);
    scene["spots"] = points_mm(spots);
    scene["lens"] = point_mm(plane.lens);
    scene["rims"] =
        Json::array({point_mm(plane.lens + rim * plane.outward), point_mm(plane.lens - rim * plane.outward)});
    scene["receiver_axis"] = direction(-plane.axis);
    scene["angle_between_axes_deg"] = std::acos(std::min(1.0, plane.axis.dot(plane.down))) / degree;
    scene["measurable_mm"] = {nullptr, nullptr};
    scene["array"] = nullptr;
    scene["rays"] = {Json::array(), Json::array(), Json::array()};
    scene["part_rays"] = Json::array();
    scene["part"] = part(s, 0.5 * layout.span);
    scene["reflection"] = nullptr;
    scene["housing"] = housing(s);
    scene["flight"] = {
        {"field_edges", Json::array({field_edge(s, layout, plane, 1.0), field_edge(s, layout, plane, -1.0)})},
        {"unambiguous_mm", layout.unambiguous_distance / mm},
        {"frequencies_MHz", frequencies}};
    scene["layout"] = record::to_json(layout, s);
    return scene;
}

}  // namespace spotwright::web
