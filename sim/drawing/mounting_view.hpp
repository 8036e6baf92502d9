// The mounting drawn to scale, with its dimensions.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "sim/drawing/mounting.hpp"
#include "sim/drawing/part_detail.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

/// Line styles of near end, reference and far end, the same in every part of the drawing.
inline constexpr std::array<Pen, 3> end_pens{Pen{palette::near_end, 1.3, dash::dashed},
                                             Pen{palette::ink, 1.0, dash::chain},
                                             Pen{palette::far_end, 1.5, dash::dotted}};

/// Light of the part where it stands.
inline constexpr Pen part_pen{palette::beam_edge, 1.8, dash::solid};

/// What the drawing has to say about itself.
struct MountingNotes {
    double scale = 0.0;                ///< page units per metre. [1/m]
    std::vector<std::string> remarks;  ///< what is not as it looks, for print beside the drawing
    Vector2 spot = Vector2::Zero();    ///< the lit spot on the page, or the reference point where no part is drawn
    std::optional<PartDetail> detail;  ///< where the part shows only enlarged
};

/// Draws into an area of the page, as large as fits. Texts keep their size whatever the scale.
/// @param may_enlarge  There may be a detail B of the part, which is left to the caller.
MountingNotes draw_mounting(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                            const Mounting& mounting, const Box& area, bool may_enlarge);

/// The scale it would have; about 0 where the words alone take more than the area. [page units / m]
[[nodiscard]] double mounting_scale(const scenario::Scenario& scenario, const sensor::Layout& layout,
                                    const Mounting& mounting, const Box& area);

}  // namespace spotwright::drawing
