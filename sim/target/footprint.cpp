#include "sim/target/footprint.hpp"

#include <array>
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

struct Node2 {
    std::array<double, 2> offset;
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
    Plane plane{into_sensor * Eigen::Vector3d(0.0, 0.0, -displacement), into_sensor * Eigen::Vector3d::UnitZ()};
    const emitter::Beam beam = emitter::make_beam(scenario);
    const emitter::BeamRay axis{beam.face, beam.direction};
    // The beam's axis lights the same point however the part is turned there.
    if (const auto along = distance_to(plane, axis)) plane.point = axis.origin + *along * axis.direction;
    plane.normal = into_sensor * (turn(scenario.target.tilt) * Eigen::Vector3d::UnitZ());
    return plane;
}

Eigen::Vector3d lay_direction(const scenario::Scenario& scenario) {
    const Eigen::Vector3d on_part(std::cos(scenario.target.lay), std::sin(scenario.target.lay), 0.0);
    return turn(scenario.mount.tilt).transpose() * (turn(scenario.target.tilt) * on_part);
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
    std::vector<Node2> angles;
    for (const Node& in_plane : gaussian_nodes(sampling.angles_in_plane)) {
        for (const Node& out_of_plane : gaussian_nodes(sampling.angles_out_of_plane)) {
            angles.push_back({{in_plane.offset, out_of_plane.offset}, in_plane.weight * out_of_plane.weight});
        }
    }
    points.reserve(columns.size() * rows.size() * angles.size());
    for (const Node& column : columns) {
        for (const Node& row : rows) {
            for (const Node2& angle : angles) {
                const emitter::BeamRay ray = emitter::ray_at(beam, *along, {column.offset, row.offset}, angle.offset);
                const std::optional<double> distance = distance_to(plane, ray);
                if (!distance) continue;
                points.push_back({ray.origin + *distance * ray.direction, -ray.direction, plane.normal,
                                  beam.power * column.weight * row.weight * angle.weight});
            }
        }
    }
    return points;
}

}  // namespace spotwright::target
