#include "sim/target/footprint.hpp"

#include <cmath>

#include <Eigen/Geometry>

namespace spotwright::target {

namespace {

// In-plane about y, then out-of-plane about x. A positive in-plane angle turns +z towards +x.
Eigen::Matrix3d turn(const scenario::Pair& tilt) {
    return (Eigen::AngleAxisd(tilt[0], Eigen::Vector3d::UnitY()) * Eigen::AngleAxisd(tilt[1], Eigen::Vector3d::UnitX()))
        .toRotationMatrix();
}

struct Node {
    double offset;  // in 1/e^2 radii
    double weight;
};

std::vector<Node> gaussian_nodes(int count) {
    std::vector<Node> nodes(static_cast<std::size_t>(count));
    const double spacing = 2.0 * beam_reach / count;
    double sum = 0.0;
    for (int i = 0; i < count; ++i) {
        const double offset = (i + 0.5) * spacing - beam_reach;
        nodes[static_cast<std::size_t>(i)] = {offset, std::exp(-2.0 * offset * offset)};
        sum += nodes[static_cast<std::size_t>(i)].weight;
    }
    for (Node& node : nodes) node.weight /= sum;
    return nodes;
}

}  // namespace

Plane make_plane(const scenario::Scenario& scenario, double displacement) {
    const Eigen::Matrix3d into_sensor = turn(scenario.mount.tilt).transpose();
    const Eigen::Vector3d point(0.0, 0.0, -displacement);
    const Eigen::Vector3d normal = turn(scenario.target.tilt) * Eigen::Vector3d::UnitZ();
    return {into_sensor * point, into_sensor * normal};
}

Plane square_plane(double displacement) {
    return {Eigen::Vector3d(0.0, 0.0, -displacement), Eigen::Vector3d::UnitZ()};
}

std::optional<double> distance_to(const Plane& plane, const emitter::BeamRay& ray) {
    const double approach = -plane.normal.dot(ray.direction);
    if (approach <= 0.0) return std::nullopt;
    const double distance = plane.normal.dot(ray.origin - plane.point) / approach;
    return distance;
}

std::vector<LitPoint> strike(const emitter::Beam& beam, const Plane& plane, const BeamSampling& sampling) {
    std::vector<LitPoint> points;
    const std::optional<double> along = distance_to(plane, {beam.face, beam.direction});
    if (!along || *along <= 0.0) return points;

    const std::vector<Node> columns = gaussian_nodes(sampling.in_plane);
    const std::vector<Node> rows = gaussian_nodes(sampling.out_of_plane);
    points.reserve(columns.size() * rows.size());
    for (const Node& column : columns) {
        for (const Node& row : rows) {
            const emitter::BeamRay ray = emitter::ray_at(beam, *along, {column.offset, row.offset});
            const std::optional<double> distance = distance_to(plane, ray);
            if (!distance) continue;
            points.push_back({ray.origin + *distance * ray.direction, -ray.direction, plane.normal,
                              beam.power * column.weight * row.weight});
        }
    }
    return points;
}

}  // namespace spotwright::target
