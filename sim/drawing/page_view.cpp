#include "sim/drawing/page_view.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/base/border.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/page_clip.hpp"

namespace spotwright::drawing {

namespace {

struct Bounds {
    Vector2 low = Vector2::Constant(1e300);
    Vector2 high = Vector2::Constant(-1e300);
};

Bounds bounds_at(std::span<const Extent> extents, double scale) {
    const View view{scale, Vector2::Zero()};
    Bounds bounds;
    for (const Extent& extent : extents) {
        const Vector2 p = view.at(extent.point);
        bounds.low = bounds.low.cwiseMin(p + Vector2(extent.room.left, extent.room.top));
        bounds.high = bounds.high.cwiseMax(p + Vector2(extent.room.right, extent.room.bottom));
    }
    return bounds;
}

}  // namespace

View fit(std::span<const Extent> extents, const Box& area) {
    const Vector2 size(area.right - area.left, area.bottom - area.top);
    // The bounds grow with the scale, so the largest that fits is found by halving.
    double too_large = 1.0;
    const auto fits_at = [&](double scale) {
        const Bounds b = bounds_at(extents, scale);
        return ((b.high - b.low).array() <= size.array()).all();
    };
    constexpr double beyond_any = 1e12;
    while (too_large < beyond_any && fits_at(too_large)) too_large *= 2.0;
    constexpr int halvings = 60;
    const double fits = base::border_between(0.0, too_large, fits_at, halvings).holds;
    const Bounds b = bounds_at(extents, fits);
    const Vector2 centre(0.5 * (area.left + area.right), 0.5 * (area.top + area.bottom));
    return {fits, centre - 0.5 * (b.low + b.high)};
}

namespace {

bool is_free(std::span<const Covered> covered, const Box& place) {
    const Vector2 centre(0.5 * (place.left + place.right), 0.5 * (place.top + place.bottom));
    for (const Covered& one : covered) {
        for (std::size_t i = 0; i < one.line.size(); ++i) {
            if (!one.area && i + 1 == one.line.size()) break;
            if (clip_line(one.line[i], one.line[(i + 1) % one.line.size()], place)) return false;
        }
        if (one.area && is_within(one.line, centre)) return false;
    }
    return true;
}

}  // namespace

std::optional<Box> free_place(std::span<const Covered> covered, const Box& area, const Vector2& size,
                              const Vector2& near) {
    constexpr double clearance = 12.0;
    constexpr double step = 10.0;
    std::optional<Box> best;
    double least = 0.0;
    for (double bottom = area.bottom; bottom - size.y() >= area.top; bottom -= step) {
        for (double right = area.right; right - size.x() >= area.left; right -= step) {
            const Box place{right - size.x(), bottom - size.y(), right, bottom};
            const double distance = (Vector2(right, bottom) - 0.5 * size - near).norm();
            if (best && distance >= least) continue;
            const Box with_room{place.left - clearance, place.top - clearance, right + clearance, bottom + clearance};
            if (!is_free(covered, with_room)) continue;
            best = place;
            least = distance;
        }
    }
    return best;
}

std::vector<double> shares_crossed(const Segment& line, std::span<const Segment> others) {
    constexpr double half_text = 7.0;
    const Vector2 direction = line[1] - line[0];
    const Vector2 aside = half_text * Vector2(-direction.y(), direction.x()).normalized();
    std::vector<double> shares;
    for (const double side : {-1.0, 0.0, 1.0}) {
        const Vector2 start = line[0] + side * aside;
        for (const Segment& other : others) {
            const Vector2 across = other[1] - other[0];
            const Vector2 between = other[0] - start;
            const double determinant = direction.x() * across.y() - direction.y() * across.x();
            if (determinant == 0.0) continue;
            const double share = (between.x() * across.y() - between.y() * across.x()) / determinant;
            const double on_other = (between.x() * direction.y() - between.y() * direction.x()) / determinant;
            if (share >= 0.0 && share <= 1.0 && on_other >= 0.0 && on_other <= 1.0) shares.push_back(share);
        }
    }
    return shares;
}

namespace {

constexpr Pen arc_pen{palette::grey, 0.9};
constexpr double radius_step = 4.0;
const Vector2 baseline_shift(0.0, 4.0);  // from the middle of a text to its baseline

Vector2 on_arc(const AngleMark& mark, double radius, double angle) {
    return mark.apex + radius * Vector2(std::sin(angle), -std::cos(angle));
}

// Angles at which a segment crosses the circle around the apex.
void add_crossings(const AngleMark& mark, double radius, const Segment& segment, std::vector<double>& angles) {
    const Vector2 start = segment[0] - mark.apex;
    const Vector2 direction = segment[1] - segment[0];
    const double a = direction.squaredNorm();
    const double b = start.dot(direction);
    const double discriminant = b * b - a * (start.squaredNorm() - radius * radius);
    if (a == 0.0 || discriminant < 0.0) return;
    for (const double sign : {-1.0, 1.0}) {
        const double share = (-b + sign * std::sqrt(discriminant)) / a;
        if (share < 0.0 || share > 1.0) continue;
        const Vector2 p = start + share * direction;
        angles.push_back(std::atan2(p.x(), -p.y()));
    }
}

// All crossings in the ring that a line of text around the arc takes.
std::vector<double> crossings(const AngleMark& mark, double radius, std::span<const Segment> lines) {
    constexpr double half_text = 8.0;
    std::vector<double> angles{mark.from, mark.to};
    for (const double r : {radius - half_text, radius, radius + half_text}) {
        for (const Segment& line : lines) add_crossings(mark, r, line, angles);
    }
    std::sort(angles.begin(), angles.end());
    return angles;
}

// Arc length that the value needs where the arc runs in direction `angle` + 90 deg.
double needed_length(const AngleMark& mark, double angle) {
    constexpr double margin = 9.0;
    return text_width(mark.value, body_size) * std::abs(std::cos(angle)) + body_size * std::abs(std::sin(angle)) +
           margin;
}

// Middle of the widest gap within the angle, if the value fits there.
std::optional<double> roomy_gap(const AngleMark& mark, double radius, const std::vector<double>& angles) {
    const double low = std::min(mark.from, mark.to);
    const double high = std::max(mark.from, mark.to);
    double widest = 0.0;
    double middle = 0.0;
    for (std::size_t i = 0; i + 1 < angles.size(); ++i) {
        if (angles[i] < low || angles[i + 1] > high || angles[i + 1] - angles[i] <= widest) continue;
        widest = angles[i + 1] - angles[i];
        middle = 0.5 * (angles[i] + angles[i + 1]);
    }
    if (2.0 * radius * std::sin(0.5 * widest) < needed_length(mark, middle)) return std::nullopt;
    return middle;
}

// How far past the end of the angle the value and the end of the arc fit between two lines. [rad]
double first_gap_beyond(const AngleMark& mark, double radius, std::span<const Segment> lines) {
    const double side = mark.to > mark.from ? 1.0 : -1.0;
    std::vector<double> beyond;
    for (const double angle : crossings(mark, radius, lines)) {
        if (side * (angle - mark.to) >= 0.0) beyond.push_back(side * (angle - mark.to));
    }
    std::sort(beyond.begin(), beyond.end());
    const double needed = (needed_length(mark, mark.to) + 16.0) / radius;
    for (std::size_t i = 0; i + 1 < beyond.size(); ++i) {
        if (beyond[i + 1] - beyond[i] >= needed) return beyond[i];
    }
    return beyond.back();  // the end of the angle itself is among them
}

// An arrow at the end of the angle; the arc itself is left to the caller, who knows where the value breaks it.
void draw_arc_arrow(Canvas& canvas, const AngleMark& mark, double radius) {
    const double side = mark.to > mark.from ? 1.0 : -1.0;
    canvas.arrow_head(on_arc(mark, radius, mark.to), side * Vector2(std::cos(mark.to), std::sin(mark.to)));
}

}  // namespace

std::optional<AngleArc> draw_angle_within(Canvas& canvas, const AngleMark& mark, std::span<const Segment> lines) {
    const double side = mark.to > mark.from ? 1.0 : -1.0;
    for (double radius = mark.min_radius; radius <= mark.max_radius; radius += radius_step) {
        const auto middle = roomy_gap(mark, radius, crossings(mark, radius, lines));
        if (!middle) continue;
        const double half_gap = side * 0.5 * (needed_length(mark, *middle) - 5.0) / radius;
        canvas.arc(mark.apex, radius, mark.from, *middle - half_gap, arc_pen);
        canvas.arc(mark.apex, radius, *middle + half_gap, mark.to, arc_pen);
        draw_arc_arrow(canvas, mark, radius);
        TextStyle style{body_size, Anchor::middle};
        style.halo = true;
        canvas.text(on_arc(mark, radius, *middle) + baseline_shift, mark.value, style);
        return AngleArc{radius, mark.to, {}};
    }
    return std::nullopt;
}

AngleArc draw_angle_beyond(Canvas& canvas, const AngleMark& mark, std::span<const Segment> lines) {
    double least = base::pi;
    double best = mark.min_radius;
    for (double radius = mark.min_radius; radius <= mark.max_radius; radius += radius_step) {
        const double beyond = first_gap_beyond(mark, radius, lines);
        if (beyond >= least) continue;
        least = beyond;
        best = radius;
    }
    constexpr double lead = 14.0;
    const double side = mark.to > mark.from ? 1.0 : -1.0;
    const double until = mark.to + side * (least + lead / best);
    canvas.arc(mark.apex, best, mark.from, until, arc_pen);
    draw_arc_arrow(canvas, mark, best);
    const Vector2 start = on_arc(mark, best, until) + side * Vector2(4.0, 0.0);
    canvas.text(start + baseline_shift, mark.value, {body_size, side > 0.0 ? Anchor::start : Anchor::end});
    AngleArc arc{best, until, {}};
    const Vector2 width(side * text_width(mark.value, body_size), 0.0);
    constexpr double half_height = 8.0;
    for (const double y : {-half_height, 0.0, half_height}) {
        const Vector2 aside(0.0, y);
        arc.value.push_back({Vector2(start + aside), Vector2(start + width + aside)});
    }
    return arc;
}

}  // namespace spotwright::drawing
