#include "sim/drawing/page_clip.hpp"

#include <algorithm>
#include <cmath>

namespace spotwright::drawing {

namespace {

// One edge of the box: a point is inside where normal . point >= limit.
struct Edge {
    Vector2 normal;
    double limit = 0.0;

    [[nodiscard]] double inside(const Vector2& p) const { return normal.dot(p) - limit; }
};

std::array<Edge, 4> edges_of(const Box& box) {
    return {Edge{{1.0, 0.0}, box.left}, Edge{{-1.0, 0.0}, -box.right}, Edge{{0.0, 1.0}, box.top},
            Edge{{0.0, -1.0}, -box.bottom}};
}

Vector2 crossing(const Vector2& a, const Vector2& b, const Edge& edge) {
    const double at_a = edge.inside(a);
    return a + at_a / (at_a - edge.inside(b)) * (b - a);
}

}  // namespace

std::optional<std::array<Vector2, 2>> clip_line(const Vector2& from, const Vector2& to, const Box& box) {
    std::array<Vector2, 2> kept{from, to};
    for (const Edge& edge : edges_of(box)) {
        const bool first = edge.inside(kept[0]) >= 0.0;
        const bool last = edge.inside(kept[1]) >= 0.0;
        if (!first && !last) return std::nullopt;
        if (!first) kept[0] = crossing(kept[0], kept[1], edge);
        if (!last) kept[1] = crossing(kept[1], kept[0], edge);
    }
    return kept;
}

std::vector<ClippedLine> clip_polyline(std::span<const Vector2> points, bool closed, const Box& box) {
    std::vector<ClippedLine> parts;
    bool whole = true;
    bool goes_on = false;  // the last part ends where the next segment starts
    const std::size_t segments = closed ? points.size() : points.size() - std::min<std::size_t>(points.size(), 1);
    for (std::size_t i = 0; i < segments; ++i) {
        const Vector2& from = points[i];
        const Vector2& to = points[(i + 1) % points.size()];
        const auto kept = clip_line(from, to, box);
        if (!kept || (*kept)[0] != from) goes_on = false;
        if (kept) {
            if (!goes_on) parts.push_back({{(*kept)[0]}, false});
            parts.back().points.push_back((*kept)[1]);
        }
        goes_on = kept && (*kept)[1] == to;
        whole = whole && kept && (*kept)[0] == from && goes_on;
    }
    if (!closed || parts.empty()) return parts;
    if (whole) {
        parts.front().points.pop_back();
        parts.front().closed = true;
    } else if (goes_on && parts.size() > 1 && parts.front().points.front() == points.front()) {
        // The seam of the closed line lies within the box: its two sides are one part.
        std::vector<Vector2>& last = parts.back().points;
        last.insert(last.end(), parts.front().points.begin() + 1, parts.front().points.end());
        parts.front() = std::move(parts.back());
        parts.pop_back();
    }
    return parts;
}

std::vector<Vector2> clip_polygon(std::span<const Vector2> corners, const Box& box) {
    std::vector<Vector2> kept(corners.begin(), corners.end());
    for (const Edge& edge : edges_of(box)) {
        std::vector<Vector2> next;
        for (std::size_t i = 0; i < kept.size(); ++i) {
            const Vector2& from = kept[i];
            const Vector2& to = kept[(i + 1) % kept.size()];
            const bool first = edge.inside(from) >= 0.0;
            const bool last = edge.inside(to) >= 0.0;
            if (first) next.push_back(from);
            if (first != last) next.push_back(crossing(from, to, edge));
        }
        kept = std::move(next);
    }
    return kept;
}

bool is_within(std::span<const Vector2> corners, const Vector2& point) {
    bool within = false;
    for (std::size_t i = 0; i < corners.size(); ++i) {
        const Vector2& a = corners[i];
        const Vector2& b = corners[(i + 1) % corners.size()];
        if ((a.y() > point.y()) == (b.y() > point.y())) continue;
        if (point.x() < a.x() + (point.y() - a.y()) / (b.y() - a.y()) * (b.x() - a.x())) within = !within;
    }
    return within;
}

}  // namespace spotwright::drawing
