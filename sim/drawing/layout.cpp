#include "sim/drawing/layout.hpp"

#include <fmt/format.h>

#include <cstddef>
#include <optional>

#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/layout_panels.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/page_view.hpp"
#include "sim/drawing/part_detail.hpp"

namespace spotwright::drawing {

namespace {

using base::mW, base::nm, base::degree;

constexpr double panels_left = 752.0;

std::string caption_of(const scenario::Scenario& s) {
    std::string caption =
        fmt::format("Laser triangulation, {} nm, {} mW; receiver at {}° to the mounting normal",
                    number(s.emitter.wavelength / nm), number(s.emitter.power / mW), number(s.receiver.angle / degree));
    if (s.emitter.angle != 0.0) caption += fmt::format(", emitter at {}°", number(s.emitter.angle / degree));
    return caption;
}

double draw_panels(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                   const Mounting& mounting, double scale, double top) {
    constexpr double gap = 16.0;
    Box area{panels_left, top, page_width - page_margin, page_height - page_margin};
    area.top = draw_array_detail(canvas, layout, mounting, scale, area) + gap;
    area.top = draw_numbers(canvas, scenario, layout, area) + gap;
    area.top = draw_legend(canvas, area) + gap;
    return draw_laser_class(canvas, layout, area);
}

struct Attempt {
    Canvas canvas;
    MountingNotes notes;
    std::optional<Box> place;  ///< of detail B
};

Attempt attempt(Canvas canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                const Mounting& mounting, const Box& drawn, const Box& area) {
    MountingNotes notes = draw_mounting(canvas, scenario, layout, mounting, drawn, true);
    std::optional<Box> place;
    for (const Vector2& size : part_detail_sizes()) {
        if (notes.detail && !place) place = free_place(canvas.covered(), area, size, notes.spot);
    }
    return {std::move(canvas), std::move(notes), place};
}

// The mounting, and detail B where there is one: in a free place of the drawing if there is any, or beside or below a
// smaller drawing.
MountingNotes draw_mounting_with_detail(Canvas& canvas, const scenario::Scenario& scenario,
                                        const sensor::Layout& layout, const Mounting& mounting, const Box& area) {
    Attempt best = attempt(canvas, scenario, layout, mounting, area, area);
    if (best.notes.detail && !best.place) {
        constexpr double least = 0.3;  // of the scale: a smaller drawing is worse than none of the detail
        const double full_scale = best.notes.scale;
        const Vector2 size(area.right - area.left, area.bottom - area.top);
        for (const double given_up : {0.1, 0.2, 0.3, 0.4, 0.48}) {
            for (const Box& drawn : {Box{area.left, area.top, area.right - given_up * size.x(), area.bottom},
                                     Box{area.left, area.top, area.right, area.bottom - given_up * size.y()}}) {
                if (mounting_scale(scenario, layout, mounting, drawn) < least * full_scale) continue;
                Attempt other = attempt(canvas, scenario, layout, mounting, drawn, area);
                if (other.place && (!best.place || other.notes.scale > best.notes.scale)) best = std::move(other);
            }
        }
    }
    if (best.notes.detail && !best.place) return draw_mounting(canvas, scenario, layout, mounting, area, false);
    if (best.place) {
        draw_part_detail(best.canvas, scenario, mounting, layout.receiver, *best.notes.detail, *best.place);
    }
    canvas = std::move(best.canvas);
    return std::move(best.notes);
}

}  // namespace

std::string draw_layout(const scenario::Scenario& scenario, const sensor::Layout& layout) {
    Canvas canvas;
    const std::string title = scenario.title.empty() ? "Layout of the mounting" : scenario.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, caption_of(scenario), caption);
    const Mounting mounting = make_mounting(scenario, layout);
    const double top = caption + 22.0;
    const double foot = page_height - 98.0;
    const MountingNotes notes = draw_mounting_with_detail(canvas, scenario, layout, mounting,
                                                          {page_margin, top, panels_left - 22.0, foot - 12.0});
    const std::vector<std::string> left_over =
        draw_foot(canvas, notes, {page_margin, foot, panels_left - 16.0, page_lowest});
    const double panels_end = draw_panels(canvas, scenario, layout, mounting, notes.scale, top);
    draw_sentences(canvas, left_over, {panels_left, panels_end + 20.0, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
