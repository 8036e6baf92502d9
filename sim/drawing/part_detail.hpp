// Detail B: the lit place of the part, enlarged.
#pragma once

#include "sim/drawing/mounting.hpp"
#include "sim/drawing/page_view.hpp"

namespace spotwright::drawing {

/// What detail B shows, and where on the page.
struct PartDetail {
    double half_width = 0.0;  ///< of what is shown, about the lit spot. [m]
    double scale = 0.0;       ///< page units per metre of the drawing that it enlarges. [1/m]
};

/// Sizes to try for the whole of detail B, words included, the best first. [page units]
[[nodiscard]] std::vector<Vector2> part_detail_sizes();

/// Surface, beam at its true width, the rays from its axis and edges to the centre of the lens, places that the lens
/// does not see, and a scale bar of its own. The part must be drawn.
/// @param place  Of one of the sizes.
void draw_part_detail(Canvas& canvas, const scenario::Scenario& scenario, const Mounting& mounting,
                      const receiver::Receiver& receiver, const PartDetail& detail, const Box& place);

/// The largest of 1, 2 or 5 times a power of ten that is no longer than `limit`.
[[nodiscard]] double round_length(double limit);

}  // namespace spotwright::drawing
