// Hatching of the side of a line where the material is.
#pragma once

#include <vector>

#include "sim/drawing/page_clip.hpp"
#include "sim/drawing/page_view.hpp"

namespace spotwright::drawing {

/// Slanting strokes over the rim of the material, `depth` deep.
/// @param outlines  On the page; the material lies on the right of the way along them, seen with y downwards.
/// @param along  Direction of the part's surface: strokes lean 45 degrees against it.
/// @param box  Strokes end at its edges.
[[nodiscard]] std::vector<Segment> hatching(const std::vector<ClippedLine>& outlines, const Vector2& along,
                                            double depth, const Box& box);

}  // namespace spotwright::drawing
