#include "sim/target/footprint.hpp"

#include <array>
#include <cmath>

namespace spotwright::target {

namespace {

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

// The nodes on one side, for both; one in the middle stands for itself.
std::vector<Node> folded(const std::vector<Node>& nodes) {
    constexpr double rounding = 1e-12;
    std::vector<Node> half;
    for (const Node& node : nodes) {
        if (node.offset > rounding) half.push_back({node.offset, 2.0 * node.weight});
        if (std::abs(node.offset) <= rounding) half.push_back(node);
    }
    return half;
}

}  // namespace

std::vector<LitPoint> strike(const emitter::Beam& beam, const Part& part, const BeamSampling& sampling) {
    std::vector<LitPoint> points;
    const std::optional<Hit> on_axis = meet(part, {beam.face, beam.direction});
    if (!on_axis) return points;

    const std::vector<Node> columns = gaussian_nodes(sampling.in_plane);
    const std::vector<Node> rows =
        sampling.folded ? folded(gaussian_nodes(sampling.out_of_plane)) : gaussian_nodes(sampling.out_of_plane);
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
                const BeamRay ray =
                    emitter::ray_from_face(beam, on_axis->distance, {column.offset, row.offset}, angle.offset);
                const std::optional<Hit> hit = meet(part, ray);
                if (!hit) continue;
                points.push_back({ray.origin + hit->distance * ray.direction, -ray.direction, hit->normal,
                                  beam.power * column.weight * row.weight * angle.weight});
            }
        }
    }
    return points;
}

}  // namespace spotwright::target
