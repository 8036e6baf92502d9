#include "sim/target/shape.hpp"

#include <boost/math/tools/roots.hpp>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>

#include "sim/base/constants.hpp"

namespace spotwright::target {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

constexpr double infinite = std::numeric_limits<double>::infinity();

// The part of a ray between two heights.
struct HeightInterval {
    double begin = 0.0;
    double end = 0.0;
};

std::optional<HeightInterval> between_heights(const BeamRay& ray, double low, double high, double nearest) {
    const double rise = ray.direction.z();
    const double z = ray.origin.z();
    if (rise == 0.0) {
        if (z < low || z > high) return std::nullopt;
        return HeightInterval{nearest, infinite};
    }
    const double first = ((rise < 0.0 ? high : low) - z) / rise;
    const double last = ((rise < 0.0 ? low : high) - z) / rise;
    // Rounding must not cut off a surface that lies level at either height.
    const double slack = 1e-12 * (1.0 + std::abs(first) + std::abs(last));
    const HeightInterval stretch{std::max(nearest, first - slack), last + slack};
    if (stretch.begin > stretch.end) return std::nullopt;
    return stretch;
}

std::optional<Hit> meet_plane(const BeamRay& ray, double height, double nearest) {
    const double fall = -ray.direction.z();
    if (fall <= 0.0) return std::nullopt;
    const double distance = (ray.origin.z() - height) / fall;
    if (distance <= nearest) return std::nullopt;
    return Hit{distance, Vector3d::UnitZ()};
}

std::optional<Hit> meet_one(const Flat&, const BeamRay& ray, double nearest) {
    return meet_plane(ray, 0.0, nearest);
}

// A straight piece from a to b in the x-z plane; its outside is on the left of the way from a to b.
std::optional<Hit> meet_piece(const Vector2d& a, const Vector2d& b, const BeamRay& ray, double nearest) {
    const Vector2d along = b - a;
    const Vector2d outward(-along.y(), along.x());
    const Vector2d from(ray.origin.x() - a.x(), ray.origin.z() - a.y());
    const Vector2d way(ray.direction.x(), ray.direction.z());
    const double approach = -outward.dot(way);
    if (approach <= 0.0) return std::nullopt;
    const double distance = outward.dot(from) / approach;
    if (distance <= nearest) return std::nullopt;
    const double length2 = along.squaredNorm();
    const double share = (from + distance * way).dot(along) / length2;
    // Neighbours share their point; a little more than the piece, so that no ray slips through between them.
    constexpr double slack = 1e-9;
    if (share < -slack || share > 1.0 + slack) return std::nullopt;
    const Vector2d normal = outward / std::sqrt(length2);
    return Hit{distance, Vector3d(normal.x(), 0.0, normal.y())};
}

void keep_nearer(std::optional<Hit>& best, const std::optional<Hit>& other) {
    if (other && (!best || other->distance < best->distance)) best = other;
}

std::optional<Hit> meet_one(const Extrusion& shape, const BeamRay& ray, double nearest) {
    const auto stretch = between_heights(ray, shape.lowest, shape.highest, nearest);
    if (!stretch) return std::nullopt;
    const std::vector<Vector2d>& p = shape.points;
    const double x0 = ray.origin.x() + stretch->begin * ray.direction.x();
    const double x1 = ray.direction.x() == 0.0 ? x0 : ray.origin.x() + stretch->end * ray.direction.x();
    const auto [left, right] = std::minmax({x0, x1});
    std::optional<Hit> best;
    if (left <= p.front().x()) {
        auto level = meet_plane(ray, p.front().y(), nearest);
        if (level && ray.origin.x() + level->distance * ray.direction.x() <= p.front().x()) keep_nearer(best, level);
    }
    if (right >= p.back().x()) {
        auto level = meet_plane(ray, p.back().y(), nearest);
        if (level && ray.origin.x() + level->distance * ray.direction.x() >= p.back().x()) keep_nearer(best, level);
    }
    const auto by_x = [](const Vector2d& point, double x) { return point.x() < x; };
    const auto first = std::lower_bound(p.begin(), p.end(), left, by_x);
    for (auto i = first == p.begin() ? first : first - 1; i + 1 < p.end() && i->x() <= right; ++i) {
        keep_nearer(best, meet_piece(*i, *(i + 1), ray, nearest));
    }
    return best;
}

// Both roots of t^2 + 2 half_b t + c.
std::optional<HeightInterval> roots(double half_b, double c) {
    const double discriminant = half_b * half_b - c;
    if (discriminant < 0.0) return std::nullopt;
    // The root far from zero first: the other would lose its digits in a difference.
    const double far = -half_b - std::copysign(std::sqrt(discriminant), half_b);
    const double other = far != 0.0 ? c / far : 0.0;
    return HeightInterval{std::min(far, other), std::max(far, other)};
}

// Ball and roll, `square` removing what does not count from a vector: nothing, or its part along y.
template <class Square>
std::optional<Hit> meet_round(double radius, bool concave, const BeamRay& ray, double nearest, Square square) {
    const Vector3d centre(0.0, 0.0, concave ? radius : -radius);
    const Vector3d from = square(Vector3d(ray.origin - centre));
    const Vector3d way = square(ray.direction);
    const double scale = way.squaredNorm();
    if (scale <= 0.0) return std::nullopt;
    const auto distances = roots(from.dot(way) / scale, (from.squaredNorm() - radius * radius) / scale);
    if (!distances) return std::nullopt;
    const double distance = concave ? distances->end : distances->begin;
    if (distance <= nearest) return std::nullopt;
    const Vector3d out = (from + distance * way) / radius;
    if (!concave) return Hit{distance, out};
    if (out.z() > 0.0) return std::nullopt;  // above the rim
    return Hit{distance, -out};
}

std::optional<Hit> meet_one(const Roll& roll, const BeamRay& ray, double nearest) {
    return meet_round(roll.radius, roll.concave, ray, nearest,
                      [](const Vector3d& v) { return Vector3d(v.x(), 0.0, v.z()); });
}

std::optional<Hit> meet_one(const Ball& ball, const BeamRay& ray, double nearest) {
    return meet_round(ball.radius, ball.concave, ray, nearest, [](const Vector3d& v) { return v; });
}

std::optional<Hit> meet_one(const Ripple& wave, const BeamRay& ray, double nearest) {
    const auto stretch = between_heights(ray, -wave.amplitude, wave.amplitude, nearest);
    if (!stretch) return std::nullopt;
    const double k = 2.0 * base::pi / wave.period;
    const auto above = [&](double t) {
        return ray.origin.z() + t * ray.direction.z() -
               wave.amplitude * std::cos(k * (ray.origin.x() + t * ray.direction.x()));
    };
    // Steps of a 64th of the period see every crossing but a graze; a ray along the crests needs one step.
    constexpr double steps_per_period = 64.0;
    constexpr double most_steps = 65536.0;
    const double end = std::min(stretch->end, stretch->begin + 1e3);
    const double across = std::abs(ray.direction.x()) * (end - stretch->begin);
    const double steps = std::clamp(std::ceil(across / wave.period * steps_per_period), 1.0, most_steps);
    double t0 = stretch->begin;
    double f0 = above(t0);
    for (double i = 1.0; i <= steps; i += 1.0) {
        const double t1 = stretch->begin + (end - stretch->begin) * i / steps;
        const double f1 = above(t1);
        if (f0 >= 0.0 && f1 < 0.0) {
            std::uintmax_t iterations = 100;
            const auto root = boost::math::tools::toms748_solve(
                above, t0, t1, f0, f1, boost::math::tools::eps_tolerance<double>(50), iterations);
            const double t = 0.5 * (root.first + root.second);
            const double slope = -wave.amplitude * k * std::sin(k * (ray.origin.x() + t * ray.direction.x()));
            const Vector3d normal = Vector3d(-slope, 0.0, 1.0).normalized();
            if (t > nearest && normal.dot(ray.direction) < 0.0) return Hit{t, normal};
        }
        t0 = t1;
        f0 = f1;
    }
    return std::nullopt;
}

// The bilinear surface of one cell along a ray: where height above it, a quadratic in t, falls to zero.
struct Cell {
    double x0 = 0.0;
    double y0 = 0.0;
    double a = 0.0;  // height = a + b x + c y + d x y from the corner
    double b = 0.0;
    double c = 0.0;
    double d = 0.0;
};

std::optional<Hit> meet_cell(const Cell& cell, const BeamRay& ray, double begin, double end) {
    const double x = ray.origin.x() - cell.x0;
    const double y = ray.origin.y() - cell.y0;
    const Vector3d& w = ray.direction;
    const double q2 = -cell.d * w.x() * w.y();
    const double q1 = w.z() - cell.b * w.x() - cell.c * w.y() - cell.d * (x * w.y() + y * w.x());
    const double q0 = ray.origin.z() - (cell.a + cell.b * x + cell.c * y + cell.d * x * y);
    const auto hit_at = [&](double t) -> std::optional<Hit> {
        if (!(t > begin && t <= end)) return std::nullopt;
        const double hx = cell.b + cell.d * (y + t * w.y());
        const double hy = cell.c + cell.d * (x + t * w.x());
        const Vector3d normal = Vector3d(-hx, -hy, 1.0).normalized();
        if (normal.dot(w) >= 0.0) return std::nullopt;
        return Hit{t, normal};
    };
    std::optional<Hit> best;
    if (std::abs(q2) < 1e-12 * std::abs(q1)) {
        if (q1 != 0.0) keep_nearer(best, hit_at(-q0 / q1));
    } else if (const auto pair = roots(0.5 * q1 / q2, q0 / q2)) {
        keep_nearer(best, hit_at(pair->begin));
        keep_nearer(best, hit_at(pair->end));
    }
    return best;
}

// Cells of a row of places, with one without end on either side: cell 0 lies before places[0].
std::size_t cell_of(const std::vector<double>& places, double x, double direction) {
    const auto after = direction < 0.0 ? std::lower_bound(places.begin(), places.end(), x)
                                       : std::upper_bound(places.begin(), places.end(), x);
    return static_cast<std::size_t>(after - places.begin());
}

// Distance along the ray at which it leaves the cell along one axis.
double exit_of(const std::vector<double>& places, std::size_t cell, double origin, double direction) {
    if (direction > 0.0) return cell < places.size() ? (places[cell] - origin) / direction : infinite;
    if (direction < 0.0) return cell > 0 ? (places[cell - 1] - origin) / direction : infinite;
    return infinite;
}

Cell cell_at(const HeightMap& map, std::size_t i, std::size_t k) {
    const std::size_t rows = map.y.size();
    const auto near = [](std::size_t cell) { return cell > 0 ? cell - 1 : 0; };
    const auto far = [](std::size_t cell, std::size_t size) { return std::min(cell, size - 1); };
    const std::size_t i0 = near(i);
    const std::size_t i1 = far(i, map.x.size());
    const std::size_t k0 = near(k);
    const std::size_t k1 = far(k, rows);
    const double h00 = map.height[i0 * rows + k0];
    const double h10 = map.height[i1 * rows + k0];
    const double h01 = map.height[i0 * rows + k1];
    const double h11 = map.height[i1 * rows + k1];
    Cell cell{map.x[i0], map.y[k0], h00, 0.0, 0.0, 0.0};
    const double dx = map.x[i1] - map.x[i0];
    const double dy = map.y[k1] - map.y[k0];
    if (dx > 0.0) cell.b = (h10 - h00) / dx;
    if (dy > 0.0) cell.c = (h01 - h00) / dy;
    if (dx > 0.0 && dy > 0.0) cell.d = (h11 - h10 - h01 + h00) / (dx * dy);
    return cell;
}

std::optional<Hit> meet_one(const HeightMap& map, const BeamRay& ray, double nearest) {
    const auto stretch = between_heights(ray, map.lowest, map.highest, nearest);
    if (!stretch) return std::nullopt;
    const Vector3d start = ray.origin + stretch->begin * ray.direction;
    std::size_t i = cell_of(map.x, start.x(), ray.direction.x());
    std::size_t k = cell_of(map.y, start.y(), ray.direction.y());
    double begin = stretch->begin;
    // Each turn leaves a cell for good, so there are no more turns than rows and columns together.
    for (std::size_t turns = map.x.size() + map.y.size() + 2; turns > 0 && begin <= stretch->end; --turns) {
        const double exit_x = exit_of(map.x, i, ray.origin.x(), ray.direction.x());
        const double exit_y = exit_of(map.y, k, ray.origin.y(), ray.direction.y());
        const double end = std::min({exit_x, exit_y, stretch->end});
        const double slack = 1e-12 * (1.0 + std::abs(end));
        if (auto hit = meet_cell(cell_at(map, i, k), ray, std::max(begin - slack, nearest), end + slack)) return hit;
        if (end >= stretch->end) break;
        if (exit_x <= exit_y) i += ray.direction.x() > 0.0 ? 1 : std::size_t(-1);
        if (exit_y <= exit_x) k += ray.direction.y() > 0.0 ? 1 : std::size_t(-1);
        begin = end;
    }
    return std::nullopt;
}

// Top, then the walls that face the ray's origin, then the plane around. The upright walls are met by light from
// outside only.
std::optional<Hit> meet_one(const Block& block, const BeamRay& ray, double nearest) {
    const auto at = [&ray](double distance) -> Vector3d { return ray.origin + distance * ray.direction; };
    const Vector2d& half = block.half_width;
    const auto over = [&half](const Vector3d& p) { return std::abs(p.x()) <= half.x() && std::abs(p.y()) <= half.y(); };
    std::optional<Hit> best;
    if (const auto top = meet_plane(ray, block.height, nearest); top && over(at(top->distance))) best = top;
    if (const auto ground = meet_plane(ray, 0.0, nearest); ground && !over(at(ground->distance))) {
        keep_nearer(best, ground);
    }
    for (int axis = 0; axis < 2; ++axis) {
        const double way = ray.direction[axis];
        if (way == 0.0) continue;
        const double side = way < 0.0 ? 1.0 : -1.0;  // of the wall that faces the ray
        const double distance = (side * half[axis] - ray.origin[axis]) / way;
        if (distance <= nearest) continue;
        const Vector3d place = at(distance);
        if (place.z() < 0.0 || place.z() > block.height || std::abs(place[1 - axis]) > half[1 - axis]) continue;
        keep_nearer(best, Hit{distance, side * Vector3d::Unit(axis)});
    }
    return best;
}

}  // namespace

Extrusion make_extrusion(std::vector<Vector2d> points) {
    Extrusion shape;
    shape.points = std::move(points);
    const auto [low, high] = std::minmax_element(shape.points.begin(), shape.points.end(),
                                                 [](const Vector2d& a, const Vector2d& b) { return a.y() < b.y(); });
    shape.lowest = low->y();
    shape.highest = high->y();
    return shape;
}

HeightMap make_height_map(const scenario::HeightTable& table) {
    HeightMap map{table.x, table.y, table.height, 0.0, 0.0};
    const auto [low, high] = std::minmax_element(map.height.begin(), map.height.end());
    map.lowest = *low;
    map.highest = *high;
    return map;
}

std::optional<Hit> meet(const Shape& shape, const BeamRay& ray, double nearest) {
    return std::visit([&](const auto& one) { return meet_one(one, ray, nearest); }, shape);
}

bool hides_itself(const Shape& shape) {
    if (const auto* roll = std::get_if<Roll>(&shape)) return roll->concave;
    if (const auto* ball = std::get_if<Ball>(&shape)) return ball->concave;
    return !std::holds_alternative<Flat>(shape);
}

}  // namespace spotwright::target
