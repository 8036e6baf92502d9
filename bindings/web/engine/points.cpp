#include "bindings/web/engine/points.hpp"

#include <cmath>

#include "sim/emitter/beam.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/part.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::um;
using Eigen::Vector2d, Eigen::Vector3d;

Vector2d in_plane(const Vector3d& p) {
    return {p.x(), p.z()};
}

// From the emitter's face to a fifth of the span beyond the far end.
Json beam_edge(const scenario::Scenario& s, const emitter::Beam& beam, double side) {
    constexpr int steps = 40;
    const auto [near, far] = s.mount.range;
    const double end = s.mount.reference_distance + (far + 0.2 * (far - near)) / std::cos(s.emitter.angle);
    std::vector<Vector2d> points;
    for (int i = 0; i <= steps; ++i) {
        const double along = end * i / steps;
        points.push_back(
            in_plane(beam.face + along * beam.direction + side * emitter::radius_at(beam, 0, along) * beam.axes[0]));
    }
    return points_mm(points);
}

std::optional<Vector2d> edge_on_part(const emitter::Beam& beam, const target::Part& part, double along, double side) {
    const emitter::BeamRay ray = emitter::ray_from_face(beam, along, {side, 0.0});
    const auto hit = target::meet(part, ray);
    if (!hit) return std::nullopt;
    return in_plane(ray.origin + hit->distance * ray.direction);
}

}  // namespace

Json outlines_mm(const std::vector<drawing::Outline>& outlines) {
    Json list = Json::array();
    for (const drawing::Outline& outline : outlines) {
        list.push_back({{"points", points_mm(outline.points)}, {"closed", outline.closed}});
    }
    return list;
}

Json spot_edges(const scenario::Scenario& s) {
    const emitter::Beam beam = sensor::beam_of(s);
    const target::Part part = sensor::part_of(s, s.target.displacement);
    const auto axis = target::meet(part, {beam.face, beam.direction});
    if (!axis) return nullptr;
    const auto left = edge_on_part(beam, part, axis->distance, -1.0);
    const auto right = edge_on_part(beam, part, axis->distance, 1.0);
    if (!left || !right) return nullptr;
    return Json::array({point_mm(*left), point_mm(*right)});
}

Json common_scene(const scenario::Scenario& s, const std::array<double, 3>& radius) {
    const emitter::Beam beam = sensor::beam_of(s);
    const double displacement = s.target.displacement;
    return {{"principle", scenario::word_of(s, "principle")},
            {"emitter", point_mm(in_plane(beam.face))},
            {"beam_direction", direction(in_plane(beam.direction))},
            {"beam_edges", Json::array({beam_edge(s, beam, -1.0), beam_edge(s, beam, 1.0)})},
            {"beam_radius_um", {radius[0] / um, radius[1] / um, radius[2] / um}},
            {"displacement_mm", displacement / mm},
            {"true_mm", sensor::lit_displacement(s, displacement).value_or(displacement) / mm}};
}

}  // namespace spotwright::web
