#include "sim/drawing/cross_section.hpp"

#include <algorithm>
#include <cmath>

#include "sim/drawing/page_clip.hpp"

namespace spotwright::drawing {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

// Rays begin this far from the part: farther than any height that a scenario may ask for. [m]
constexpr double far_away = 30.0;
constexpr int stations = 1000;  // on either side of the centre

// The window's own axes: x along the reference surface, y up.
struct Probe {
    const target::Part& part;
    const CutWindow& window;
    Vector2d up;
    Vector2d along;
    double side = 1.0;  // 1: from above, -1: from below

    [[nodiscard]] std::optional<double> height(double at) const {
        const auto rough = height_from(at, side * far_away);
        if (!rough) return std::nullopt;
        // Once more from nearby: on the long way round shapes lose half of their digits.
        const auto fine = height_from(at, *rough + side * window.half_width);
        return fine ? fine : rough;
    }

    [[nodiscard]] std::optional<double> height_from(double at, double start) const {
        const Vector2d from = window.centre + at * along + start * up;
        const Vector2d direction = -side * up;
        const auto hit =
            target::meet(part, {Vector3d(from.x(), window.y, from.y()), Vector3d(direction.x(), 0.0, direction.y())});
        if (!hit) return std::nullopt;
        return start - side * hit->distance;
    }
};

Probe probe(const target::Part& part, const CutWindow& window, double side) {
    const Vector2d up = upward(part);
    return {part, window, up, Vector2d(up.y(), -up.x()), side};
}

struct Sample {
    double at = 0.0;
    std::optional<double> height;
};

Sample sample(const Probe& p, double at) {
    return {at, p.height(at)};
}

// Adds what lies between two places where the surface jumps, ends or is steep, so that its line there is as fine as
// elsewhere: a wall or a rim down to rounding.
void refine(const Probe& p, const Sample& a, const Sample& b, int halvings, std::vector<Sample>& list) {
    constexpr double coarse = 4.0;      // stations
    constexpr std::size_t most = 8000;  // a texture finer than print would want more
    const double spacing = p.window.half_width / stations;
    const bool even = a.height.has_value() == b.height.has_value() &&
                      (!a.height || std::abs(*b.height - *a.height) <= coarse * spacing);
    if (even || halvings == 0 || list.size() > most) return;
    const Sample middle = sample(p, 0.5 * (a.at + b.at));
    refine(p, a, middle, halvings - 1, list);
    list.push_back(middle);
    refine(p, middle, b, halvings - 1, list);
}

std::vector<Sample> samples(const Probe& p) {
    constexpr int halvings = 30;
    std::vector<Sample> list{sample(p, -p.window.half_width)};
    for (int i = 1 - stations; i <= stations; ++i) {
        const Sample before = list.back();
        const Sample next = sample(p, p.window.half_width * i / stations);
        refine(p, before, next, halvings, list);
        list.push_back(next);
    }
    return list;
}

// Drops points that a straight line between others replaces, by D. H. Douglas and T. K. Peucker, Cartographica 10, 112
// (1973).
void thin_out(const std::vector<Vector2d>& points, std::size_t first, std::size_t last, double tolerance,
              std::vector<Vector2d>& kept) {
    const Vector2d direction = points[last] - points[first];
    const double length = direction.norm();
    double farthest = tolerance;
    std::size_t at = first;
    for (std::size_t i = first + 1; i < last; ++i) {
        const Vector2d d = points[i] - points[first];
        const double off = length > 0.0 ? std::abs(direction.x() * d.y() - direction.y() * d.x()) / length : d.norm();
        if (off <= farthest) continue;
        farthest = off;
        at = i;
    }
    if (at == first) {
        kept.push_back(points[last]);
        return;
    }
    thin_out(points, first, at, tolerance, kept);
    thin_out(points, at, last, tolerance, kept);
}

// The place at 0, where the beam lands, always stays.
std::vector<Vector2d> thinned(const std::vector<Vector2d>& points, double tolerance) {
    const auto middle = std::find_if(points.begin(), points.end(), [](const Vector2d& p) { return p.x() == 0.0; });
    std::vector<Vector2d> kept{points.front()};
    const std::size_t last = points.size() - 1;
    const auto at = static_cast<std::size_t>(middle - points.begin());
    if (at > 0 && at < last) {
        thin_out(points, 0, at, tolerance, kept);
        thin_out(points, at, last, tolerance, kept);
    } else if (last > 0) {
        thin_out(points, 0, last, tolerance, kept);
    }
    return kept;
}

// Lines without a gap, from left to right.
std::vector<std::vector<Vector2d>> lines(const Probe& p) {
    std::vector<std::vector<Vector2d>> list;
    bool goes_on = false;
    for (const Sample& s : samples(p)) {
        if (s.height) {
            if (!goes_on) list.emplace_back();
            list.back().emplace_back(s.at, *s.height);
        }
        goes_on = s.height.has_value();
    }
    constexpr double tolerance = 2e-4;
    for (auto& line : list) line = thinned(line, tolerance * p.window.half_width);
    return list;
}

// Upper and lower lines that meet at a rim become one.
std::vector<ClippedLine> joined(std::vector<std::vector<Vector2d>> lines_left, double tolerance) {
    const auto meets = [tolerance](const Vector2d& a, const Vector2d& b) { return (a - b).norm() < tolerance; };
    std::vector<ClippedLine> list;
    while (!lines_left.empty()) {
        std::vector<Vector2d> line = std::move(lines_left.back());
        lines_left.pop_back();
        for (bool grew = true; grew;) {
            grew = false;
            for (auto each = lines_left.begin(); each != lines_left.end(); ++each) {
                const bool after = meets(line.back(), each->front());
                if (!after && !meets(each->back(), line.front())) continue;
                if (!after) std::swap(line, *each);
                line.insert(line.end(), each->begin() + 1, each->end());
                lines_left.erase(each);
                grew = true;
                break;
            }
        }
        const bool closed = line.size() > 3 && meets(line.front(), line.back());
        if (closed) line.pop_back();
        list.push_back({std::move(line), closed});
    }
    return list;
}

// Whether a line is lit from above or holds the centre. What else the window cuts from an underside would stand there
// without the part that it belongs to.
bool belongs(const Probe& above, const std::vector<Vector2d>& line, double tolerance) {
    const auto is_top = [&](const Vector2d& p) {
        const auto height = above.height(p.x());
        return height && std::abs(*height - p.y()) < tolerance;
    };
    if (std::any_of(line.begin(), line.end(), is_top)) return true;
    for (std::size_t i = 0; i + 1 < line.size(); ++i) {
        const Vector2d direction = line[i + 1] - line[i];
        const double length2 = direction.squaredNorm();
        const double share = length2 > 0.0 ? std::clamp(-line[i].dot(direction) / length2, 0.0, 1.0) : 0.0;
        if ((line[i] + share * direction).norm() < tolerance) return true;
    }
    return false;
}

}  // namespace

Vector2d upward(const target::Part& part) {
    const Vector3d normal = part.normal();
    return Vector2d(normal.x(), normal.z()).normalized();
}

double reference_above(const target::Part& part, const Vector2d& point, double y) {
    const Vector3d normal = part.normal();
    return normal.dot(part.origin - Vector3d(point.x(), y, point.y())) / Vector2d(normal.x(), normal.z()).norm();
}

std::vector<Outline> cut(const target::Part& part, const CutWindow& window) {
    const Probe above = probe(part, window, 1.0);
    std::vector<std::vector<Vector2d>> lines_left = lines(above);
    for (auto& line : lines(probe(part, window, -1.0))) {
        std::reverse(line.begin(), line.end());
        lines_left.push_back(std::move(line));
    }
    constexpr double rounding = 1e-6;  // of a rim as seen from far away. [m]
    const double same = 1e-3 * window.half_width + rounding;
    const Box box{-window.half_width, -window.below, window.half_width, window.above};
    std::vector<Outline> outlines;
    for (const ClippedLine& whole : joined(std::move(lines_left), same)) {
        for (const ClippedLine& line : clip_polyline(whole.points, whole.closed, box)) {
            if (!belongs(above, line.points, same)) continue;
            Outline outline{{}, line.closed};
            for (const Vector2d& p : line.points) {
                outline.points.emplace_back(window.centre + p.x() * above.along + p.y() * above.up);
            }
            outlines.push_back(std::move(outline));
        }
    }
    return outlines;
}

double rise_within(const target::Part& part, const CutWindow& window) {
    constexpr int coarse_stations = 50;
    const Probe above = probe(part, window, 1.0);
    double lowest = 0.0;
    double highest = 0.0;
    for (int i = -coarse_stations; i <= coarse_stations; ++i) {
        const auto height = above.height(window.half_width * i / coarse_stations);
        if (!height) continue;
        lowest = std::min(lowest, *height);
        highest = std::max(highest, *height);
    }
    return highest - lowest;
}

}  // namespace spotwright::drawing
