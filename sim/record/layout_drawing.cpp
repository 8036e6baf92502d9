#include "sim/record/layout_drawing.hpp"

#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/record/drawing_page.hpp"
#include "sim/record/layout_panels.hpp"

namespace spotwright::record {

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

void draw_panels(Canvas& canvas, const scenario::Scenario& scenario, const study::Layout& layout,
                 const Mounting& mounting, double scale, double top) {
    constexpr double gap = 16.0;
    Box area{panels_left, top, page_width - page_margin, page_height - page_margin};
    area.top = draw_array_detail(canvas, layout, mounting, scale, area) + gap;
    area.top = draw_numbers(canvas, scenario, layout, area) + gap;
    area.top = draw_legend(canvas, area) + gap;
    draw_laser_class(canvas, layout, area);
}

}  // namespace

std::string draw_layout(const scenario::Scenario& scenario, const study::Layout& layout) {
    Canvas canvas;
    const std::string title = scenario.title.empty() ? "Layout of the mounting" : scenario.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, caption_of(scenario), caption);
    const Mounting mounting = make_mounting(scenario, layout);
    const double top = caption + 22.0;
    const double foot = page_height - 98.0;
    const MountingNotes notes =
        draw_mounting(canvas, scenario, layout, mounting, {page_margin, top, panels_left - 22.0, foot - 12.0});
    draw_foot(canvas, notes, {page_margin, foot, panels_left - 16.0, page_height - page_margin});
    draw_panels(canvas, scenario, layout, mounting, notes.scale, top);
    return page_of(canvas, title);
}

}  // namespace spotwright::record
