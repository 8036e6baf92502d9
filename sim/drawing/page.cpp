#include "sim/drawing/page.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/drawing/part_detail.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;

const Vector2 page_mm(297.0, 210.0);

// The first lines of a text that fit, the last of them cut short with an ellipsis where there is more.
std::vector<std::string> first_lines(std::string_view words, double size, double width, std::size_t most) {
    std::vector<std::string> lines = wrap(words, size, width);
    if (lines.size() > most) {
        lines.resize(most);
        lines.back() = wrap(lines.back(), size, width - size).front() + " …";
    }
    return lines;
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
    const double on_paper = scale * page_mm.x() / page_width * mm;
    const std::string ratio = on_paper >= 1.0 ? number(on_paper, 3) + " : 1" : "1 : " + number(1.0 / on_paper, 3);
    canvas.text(left + Vector2(0.0, 18.0), "to scale, " + ratio + " on A4", {small_size});
}

}  // namespace

double draw_title(Canvas& canvas, std::string_view title) {
    double baseline = page_margin + 14.0;
    for (const std::string& line : first_lines(title, title_size, page_width - 2.0 * page_margin, 2)) {
        canvas.text({page_margin, baseline}, line, {title_size, Anchor::start, true});
        baseline += 25.0;
    }
    return baseline - 4.0;
}

void draw_caption(Canvas& canvas, std::string_view words, double baseline) {
    const std::vector<std::string> line = first_lines(words, body_size, page_width - 2.0 * page_margin, 1);
    canvas.text({page_margin, baseline}, line.front(), {body_size, Anchor::start, false, false, 0.0, palette::grey});
}

double draw_heading(Canvas& canvas, const Box& area, std::string_view words) {
    canvas.text({area.left, area.top + heading_size}, words, {heading_size, Anchor::start, true});
    canvas.line({area.left, area.top + 20.0}, {area.right, area.top + 20.0}, {palette::faint, 1.0});
    return area.top + 20.0;
}

double draw_sentences(Canvas& canvas, std::span<const std::string> sentences, const Box& area) {
    double baseline = area.top;
    for (const std::string& sentence : sentences) {
        for (const std::string& line : wrap(sentence, small_size, area.right - area.left)) {
            canvas.text({area.left, baseline}, line, {small_size});
            baseline += small_spacing;
        }
    }
    return baseline;
}

double sentences_height(const std::vector<std::string>& sentences, double width) {
    std::size_t lines = 0;
    for (const std::string& sentence : sentences) lines += wrap(sentence, small_size, width).size();
    return small_spacing * static_cast<double>(lines);
}

std::vector<std::string> sentences_with_room(const std::vector<std::string>& sentences, double width, double height) {
    std::vector<std::string> kept;
    for (const std::string& sentence : sentences) {
        kept.push_back(sentence);
        if (sentences_height(kept, width) > height) {
            kept.pop_back();
            break;
        }
    }
    return kept;
}

double draw_section(Canvas& canvas, const Box& area, const std::string& heading,
                    const std::vector<std::string>& sentences) {
    const double line = draw_heading(canvas, area, heading);
    return draw_sentences(canvas, sentences, {area.left, line + 15.0, area.right, area.bottom}) + 3.0;
}

void draw_level_mark(Canvas& canvas, const Vector2& centre, measure::Level level) {
    constexpr double radius = 6.0;
    const Pen pen{palette::ink, 1.4};
    const bool filled = level == measure::Level::stable;
    canvas.circle(centre, radius, filled ? palette::ink : palette::paper, pen);
    const Vector2 slant(0.7 * radius, 0.7 * radius);
    if (level == measure::Level::marginal) canvas.circle(centre, 0.45 * radius, palette::ink, pen);
    if (level == measure::Level::unreadable) {
        canvas.line(centre - slant, centre + slant, pen);
        canvas.line(centre - Vector2(slant.x(), -slant.y()), centre + Vector2(slant.x(), -slant.y()), pen);
    }
}

double draw_rows(Canvas& canvas, std::span<const Row> rows, const Box& area, double top) {
    double baseline = top;
    for (const Row& row : rows) {
        baseline += row_spacing;
        canvas.text({area.left, baseline}, row.name, {small_size});
        canvas.text({area.right, baseline}, row.value, {body_size, Anchor::end});
    }
    return baseline + 4.0;
}

std::vector<std::string> draw_foot(Canvas& canvas, const MountingNotes& notes, const Box& area) {
    draw_frame(canvas, {area.left + 6.0, area.top + 34.0});
    draw_scale_bar(canvas, {area.left + 84.0, area.top + 30.0}, notes.scale);
    Box place{area.left + 246.0, area.top + 8.0, area.right, area.bottom};
    for (std::size_t i = 0; i < notes.remarks.size(); ++i) {
        const std::size_t lines = wrap(notes.remarks[i], small_size, place.right - place.left).size();
        if (place.top + small_spacing * static_cast<double>(lines - 1) > place.bottom) {
            return {notes.remarks.begin() + static_cast<std::ptrdiff_t>(i), notes.remarks.end()};
        }
        place.top = draw_sentences(canvas, std::span(notes.remarks).subspan(i, 1), place);
    }
    return {};
}

std::string page_of(const Canvas& canvas, std::string_view title) {
    return canvas.document({page_width, page_height}, page_mm, title);
}

}  // namespace spotwright::drawing
