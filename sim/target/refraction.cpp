#include "sim/target/refraction.hpp"

#include <cmath>
#include <limits>

#include "sim/base/errors.hpp"

namespace spotwright::target {

namespace {

void check(std::span<const Layer> layers, double height, double lateral_distance) {
    // Written so that a number that is none is refused too.
    if (!(height > 0.0 && std::isfinite(height))) throw base::DomainError("height in m", height, "> 0");
    if (!(lateral_distance >= 0.0 && std::isfinite(lateral_distance))) {
        throw base::DomainError("lateral distance in m", lateral_distance, ">= 0");
    }
    if (layers.size() > most_layers) {
        throw base::DomainError("number of layers", static_cast<double>(layers.size()), "0 to 4");
    }
    for (const Layer& layer : layers) {
        if (!(layer.thickness >= 0.0 && std::isfinite(layer.thickness))) {
            throw base::DomainError("thickness of a layer in m", layer.thickness, ">= 0");
        }
        if (!(layer.index >= 1.0 && std::isfinite(layer.index))) {
            throw base::DomainError("index of a layer", layer.index, ">= 1");
        }
    }
}

// Lateral distance that a ray of tangent u outside covers, and its derivative.
struct Reach {
    double distance;
    double slope;
};

Reach reach(std::span<const Layer> layers, double height, double u) {
    Reach sum{height * u, height};
    for (const Layer& layer : layers) {
        // tan t_i = u / sqrt(n^2 + (n^2 - 1) u^2), by hypot so that no square overflows.
        const double root = std::hypot(layer.index, std::sqrt((layer.index - 1.0) * (layer.index + 1.0)) * u);
        const double share = layer.index / root;
        sum.distance += layer.thickness * u / root;
        sum.slope += layer.thickness * share * share / root;
    }
    return sum;
}

double tangent_outside(std::span<const Layer> layers, double height, double lateral_distance) {
    double u = 0.0;
    // From 0 every step leads upwards until rounding ends it; over 15 orders of each length at most 8 were needed.
    for (int i = 0; i < 100; ++i) {
        const Reach at = reach(layers, height, u);
        const double step = (lateral_distance - at.distance) / at.slope;
        u += step;
        if (!(step > 4.0 * std::numeric_limits<double>::epsilon() * u)) break;
    }
    return u;
}

}  // namespace

std::optional<Eigen::Vector3d> refract(const Eigen::Vector3d& direction, const Eigen::Vector3d& normal,
                                       double relative_index) {
    const double along = direction.dot(normal);
    const double cosine2 = 1.0 - (1.0 - along * along) / (relative_index * relative_index);
    if (cosine2 < 0.0) return std::nullopt;
    const double turned = std::copysign(std::sqrt(cosine2), along) - along / relative_index;
    return Eigen::Vector3d(direction / relative_index + turned * normal).normalized();
}

Eigen::Vector3d mirrored(const Eigen::Vector3d& direction, const Eigen::Vector3d& normal) {
    return direction - 2.0 * direction.dot(normal) * normal;
}

Inclination inside(const Inclination& outside, double index) {
    const double sine = outside.sine / index;
    // cos'^2 = (cos^2 + n^2 - 1) / n^2 keeps its digits at grazing light, where 1 - sin'^2 would lose them for n = 1.
    return {sine, std::hypot(outside.cosine, std::sqrt((index - 1.0) * (index + 1.0))) / index};
}

// Equations (inside.1), (inside.2) and (inside.3).
ExitRay exit_ray(std::span<const Layer> layers, double height, double lateral_distance) {
    check(layers, height, lateral_distance);
    const double u = tangent_outside(layers, height, lateral_distance);
    const double secant = std::hypot(1.0, u);
    ExitRay way;
    way.outside = {u / secant, 1.0 / secant};
    const double length = height * secant;
    way.optical_path = way.sagittal_distance = way.tangential_distance = length;
    double first = 1.0;  // n_1^2 cos t_1 / cos t
    for (const Layer& layer : layers) {
        const Inclination in = inside(way.outside, layer.index);
        const double ratio = way.outside.cosine / in.cosine;
        const double path = layer.thickness / in.cosine;
        way.exit += layer.thickness * in.tangent();
        way.optical_path += layer.index * path;
        way.sagittal_distance += path / layer.index;
        way.tangential_distance += path / layer.index * ratio * ratio;
        if (way.inside.empty()) first = layer.index * layer.index / ratio;
        way.inside.push_back(in);
    }
    way.solid_angle_per_area = 1.0 / (first * way.sagittal_distance * way.tangential_distance);
    return way;
}

}  // namespace spotwright::target
