// Lines and areas cut off at the edges of a box.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <vector>

#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

/// The part of a straight line within the box; none where it passes outside.
[[nodiscard]] std::optional<std::array<Vector2, 2>> clip_line(const Vector2& from, const Vector2& to, const Box& box);

/// The visible parts of a line, in order. A closed one comes without its first point at the end.
struct ClippedLine {
    std::vector<Vector2> points;
    bool closed = false;  ///< only where nothing was cut off
};

[[nodiscard]] std::vector<ClippedLine> clip_polyline(std::span<const Vector2> points, bool closed, const Box& box);

/// An area within the box, by J. E. Sutherland and G. W. Hodgman, "Reentrant polygon clipping", CACM 17, 32 (1974).
/// Empty where nothing remains; parts that come apart stay joined along the edge of the box.
[[nodiscard]] std::vector<Vector2> clip_polygon(std::span<const Vector2> corners, const Box& box);

/// Whether a point lies within an area, by the even-odd rule.
[[nodiscard]] bool is_within(std::span<const Vector2> corners, const Vector2& point);

}  // namespace spotwright::drawing
