#include "sim/record/layout_drawing.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/record/layout_panels.hpp"
#include "sim/record/mounting_view.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::mW, base::nm, base::degree;

// A4 landscape, in mm and in units of 1/96 inch.
const Vector2 page_mm(297.0, 210.0);
const Vector2 page(1123.0, 794.0);
constexpr double margin = 36.0;
constexpr double panels_left = 752.0;

std::string shown_title(const scenario::Scenario& scenario) {
    return scenario.title.empty() ? "Layout of the mounting" : scenario.title;
}

// At most two lines, the second cut short with an ellipsis.
double draw_title(Canvas& canvas, const scenario::Scenario& scenario) {
    const double width = page.x() - 2.0 * margin;
    std::vector<std::string> lines = wrap(shown_title(scenario), title_size, width);
    if (lines.size() > 2) {
        lines.resize(2);
        lines[1] = wrap(lines[1], title_size, width - title_size).front() + " …";
    }
    double baseline = margin + 14.0;
    for (const std::string& line : lines) {
        canvas.text({margin, baseline}, line, {title_size, Anchor::start, true});
        baseline += 25.0;
    }
    return baseline - 4.0;
}

void draw_caption(Canvas& canvas, const scenario::Scenario& s, double baseline) {
    std::string caption =
        fmt::format("Laser triangulation, {} nm, {} mW; receiver at {}° to the mounting normal",
                    number(s.emitter.wavelength / nm), number(s.emitter.power / mW), number(s.receiver.angle / degree));
    if (s.emitter.angle != 0.0) caption += fmt::format(", emitter at {}°", number(s.emitter.angle / degree));
    canvas.text({margin, baseline}, caption, {body_size, Anchor::start, false, false, 0.0, palette::grey});
}

// The axes of the sensor's frame.
void draw_frame(Canvas& canvas, const Vector2& origin) {
    constexpr double length = 32.0;
    const Pen pen{palette::grey, 1.1};
    const Vector2 x(1.0, 0.0);
    const Vector2 z(0.0, -1.0);
    canvas.line(origin, origin + length * x, pen);
    canvas.line(origin, origin + length * z, pen);
    canvas.line(origin, origin - 20.0 * z, {palette::grey, 1.1, dash::dotted});
    canvas.arrow_head(origin + length * x, x);
    canvas.arrow_head(origin + length * z, z);
    canvas.arrow_head(origin - 22.0 * z, -z);
    canvas.text(origin + (length + 5.0) * x + Vector2(0.0, 4.0), "x", {body_size});
    canvas.text(origin + length * z + Vector2(6.0, 6.0), "z", {body_size});
    canvas.text(origin - 20.0 * z + Vector2(6.0, 2.0), "s", {body_size});
}

// The largest of 1, 2 or 5 times a power of ten that is no longer than `limit`.
double round_length(double limit) {
    const double decade = std::pow(10.0, std::floor(std::log10(limit)));
    for (const double step : {5.0, 2.0}) {
        if (step * decade <= limit) return step * decade;
    }
    return decade;
}

void draw_scale_bar(Canvas& canvas, const Vector2& left, double scale) {
    const double length = round_length(130.0 / scale / mm) * mm;
    const Vector2 right = left + Vector2(length * scale, 0.0);
    const Vector2 tick(0.0, 4.0);
    canvas.open_group("scale-bar");
    canvas.line(left, right, {palette::ink, 2.0});
    canvas.line(left - tick, left + tick, {palette::ink, 1.2});
    canvas.line(right - tick, right + tick, {palette::ink, 1.2});
    canvas.close_group();
    canvas.text(left + Vector2(0.0, -9.0), number(length / mm) + " mm", {body_size});
    const double on_paper = scale * page_mm.x() / page.x() * mm;
    const std::string ratio = on_paper >= 1.0 ? number(on_paper, 3) + " : 1" : "1 : " + number(1.0 / on_paper, 3);
    canvas.text(left + Vector2(0.0, 18.0), "to scale, " + ratio + " on A4", {small_size});
}

void draw_remarks(Canvas& canvas, const std::vector<std::string>& remarks, const Box& area) {
    constexpr double spacing = 13.5;
    double baseline = area.top;
    for (const std::string& remark : remarks) {
        for (const std::string& line : wrap(remark, small_size, area.right - area.left)) {
            canvas.text({area.left, baseline}, line, {small_size});
            baseline += spacing;
        }
    }
}

void draw_panels(Canvas& canvas, const scenario::Scenario& scenario, const study::Layout& layout,
                 const Mounting& mounting, double scale, double top) {
    constexpr double gap = 16.0;
    Box area{panels_left, top, page.x() - margin, page.y() - margin};
    area.top = draw_array_detail(canvas, layout, mounting, scale, area) + gap;
    area.top = draw_numbers(canvas, scenario, layout, area) + gap;
    area.top = draw_legend(canvas, area) + gap;
    draw_laser_class(canvas, layout, area);
}

}  // namespace

std::string draw_layout(const scenario::Scenario& scenario, const study::Layout& layout) {
    Canvas canvas;
    const double caption = draw_title(canvas, scenario);
    draw_caption(canvas, scenario, caption);
    const Mounting mounting = make_mounting(scenario, layout);
    const double top = caption + 22.0;
    const double strip = page.y() - 98.0;
    const MountingNotes notes =
        draw_mounting(canvas, scenario, layout, mounting, {margin, top, panels_left - 22.0, strip - 12.0});
    draw_frame(canvas, {margin + 6.0, strip + 34.0});
    draw_scale_bar(canvas, {margin + 84.0, strip + 30.0}, notes.scale);
    draw_remarks(canvas, notes.remarks, {margin + 246.0, strip + 8.0, panels_left - 16.0, page.y() - margin});
    draw_panels(canvas, scenario, layout, mounting, notes.scale, top);
    return canvas.document(page, page_mm, shown_title(scenario));
}

}  // namespace spotwright::record
