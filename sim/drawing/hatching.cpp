#include "sim/drawing/hatching.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/border.hpp"

namespace spotwright::drawing {

namespace {

// Into the material; turns with the way along the line.
Vector2 inward(const Vector2& from, const Vector2& to) {
    const Vector2 direction = (to - from).normalized();
    return {-direction.y(), direction.x()};
}

struct Nearest {
    double distance2 = 1e300;
    double depth = 0.0;  ///< > 0 in the material
};

void look_at(const ClippedLine& line, const Vector2& q, Nearest& nearest) {
    const std::vector<Vector2>& p = line.points;
    const std::size_t count = p.size();
    const std::size_t segments = line.closed ? count : count - 1;
    for (std::size_t i = 0; i < segments; ++i) {
        const Vector2& a = p[i];
        const Vector2& b = p[(i + 1) % count];
        const double length2 = (b - a).squaredNorm();
        if (length2 == 0.0) continue;
        const double share = std::clamp((q - a).dot(b - a) / length2, 0.0, 1.0);
        const Vector2 off = q - (a + share * (b - a));
        const double distance2 = off.squaredNorm();
        if (distance2 >= nearest.distance2) continue;
        Vector2 in = inward(a, b);
        // At a corner the side is that of both segments together (J. A. Baerentzen, H. Aanaes, IEEE TVCG 11, 243
        // (2005)).
        if (share == 1.0 && (line.closed || i + 1 < segments)) in += inward(b, p[(i + 2) % count]);
        if (share == 0.0 && (line.closed || i > 0)) in += inward(p[(i + count - 1) % count], a);
        const bool past_end = !line.closed && ((share == 0.0 && i == 0) || (share == 1.0 && i + 1 == segments));
        nearest = {distance2, past_end ? -1.0 : std::copysign(std::sqrt(distance2), off.dot(in))};
    }
}

}  // namespace

std::vector<Segment> hatching(const std::vector<ClippedLine>& outlines, const Vector2& along, double depth,
                              const Box& box) {
    constexpr double spacing = 5.13;  // 7.25 along a level surface
    constexpr double step = 0.5;
    const Vector2 behind(-along.y(), along.x());
    const Vector2 direction = (behind - along).normalized();
    const Vector2 aside(-direction.y(), direction.x());
    const Vector2 centre(0.5 * (box.left + box.right), 0.5 * (box.top + box.bottom));
    const double reach = 0.5 * std::hypot(box.right - box.left, box.bottom - box.top);
    const auto is_in = [&](const Vector2& q) {
        if (q.x() < box.left || q.x() > box.right || q.y() < box.top || q.y() > box.bottom) return false;
        Nearest nearest;
        for (const ClippedLine& line : outlines) {
            if (line.points.size() > 1) look_at(line, q, nearest);
        }
        return nearest.depth > 0.0 && nearest.depth < depth;
    };
    std::vector<Segment> strokes;
    const int rows = static_cast<int>(reach / spacing);
    const int steps = static_cast<int>(reach / step);
    for (int row = -rows; row <= rows; ++row) {
        const Vector2 origin = centre + row * spacing * aside;
        const auto edge = [&](double out, double in) {
            const auto is_in_at = [&](double place) { return is_in(origin + place * direction); };
            constexpr int halvings = 8;
            return Vector2(origin + base::border_between(in, out, is_in_at, halvings).holds * direction);
        };
        bool drawing = false;
        Vector2 begin = origin;
        for (int i = -steps; i <= steps; ++i) {
            const bool in = i < steps && is_in(origin + i * step * direction);
            if (in && !drawing) begin = edge((i - 1) * step, i * step);
            const bool ends = drawing && !in;
            drawing = in;
            if (!ends) continue;
            const Vector2 end = edge(i * step, (i - 1) * step);
            constexpr double shortest = 1.5;
            if ((end - begin).norm() > shortest) strokes.push_back({begin, end});
        }
    }
    return strokes;
}

}  // namespace spotwright::drawing
