// Bars of a chart beside the names of their categories.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/drawing/chart_parts.hpp"

namespace spotwright::drawing {

namespace {

constexpr double bar_height = 13.0;
constexpr double bar_gap = 3.0;
constexpr double category_gap = 10.0;

// Room for the names at the left side: what the longest of them takes, a third of the width at most. [page units]
double names_room(const Chart& chart, double width) {
    double longest = 0.0;
    for (const std::string& name : chart.categories) longest = std::max(longest, text_width(name, body_size));
    return std::min(longest, width / 3.0) + 8.0;
}

double category_height(const Chart& chart, std::size_t lines) {
    const double bars = (bar_height + bar_gap) * static_cast<double>(chart.bars.size()) - bar_gap;
    return std::max(bars, line_spacing * static_cast<double>(lines)) + category_gap;
}

std::vector<std::vector<std::string>> wrapped_names(const Chart& chart, double width) {
    std::vector<std::vector<std::string>> names;
    for (const std::string& name : chart.categories) {
        names.push_back(wrap(name, body_size, names_room(chart, width) - 8.0));
    }
    return names;
}

std::string span_words(const Chart& chart, const ChartBars& bars, std::size_t category) {
    const auto& [from, to] = bars.spans[category];
    const std::string value = from == 0.0 ? number(to) : fmt::format("{} to {}", number(from), number(to));
    return fmt::format("{}: {}, {} {}", chart.categories[category], bars.label, chart.x.label, value);
}

// The bars of a category, and a word where there is no value.
void draw_category(Canvas& canvas, const Plot& plot, const Chart& chart, std::size_t category, double middle) {
    const auto count = static_cast<double>(chart.bars.size());
    double top = middle - 0.5 * ((bar_height + bar_gap) * count - bar_gap);
    for (const ChartBars& bars : chart.bars) {
        if (category < bars.spans.size()) {
            const auto& [from, to] = bars.spans[category];
            if (has_place(from, plot.x.logarithmic) && has_place(to, plot.x.logarithmic)) {
                canvas.open_group({}, "class=\"bar\"");
                canvas.title(span_words(chart, bars, category));
                const double one = plot.x.place(from);
                const double other = plot.x.place(to);
                draw_bar(canvas, {std::min(one, other), top, std::max(one, other), top + bar_height}, bars.colour,
                         bars.hatched);
                canvas.close_group();
            } else {
                canvas.text({plot.box.left + 6.0, top + bar_height - 3.0}, "no value",
                            {small_size, Anchor::start, false, false, 0.0, palette::grey});
            }
        }
        top += bar_height + bar_gap;
    }
}

}  // namespace

void draw_bar(Canvas& canvas, const Box& box, const char* colour, bool hatched) {
    const std::array corners{Vector2(box.left, box.top), Vector2(box.right, box.top), Vector2(box.right, box.bottom),
                             Vector2(box.left, box.bottom)};
    canvas.polygon(corners, hatched ? palette::paper : colour, {colour, 1.0});
    if (!hatched) return;
    constexpr double spacing = 8.0;
    std::vector<std::array<Vector2, 2>> strokes;
    // Along each stroke x + y stays the same.
    for (double sum = box.left + box.top + 0.75 * spacing; sum < box.right + box.bottom; sum += spacing) {
        const double left = std::max(box.left, sum - box.bottom);
        const double right = std::min(box.right, sum - box.top);
        if (right > left) strokes.push_back({Vector2(left, sum - left), Vector2(right, sum - right)});
    }
    canvas.strokes(strokes, {colour, 2.2});
}

double bars_height(const Chart& chart, double width) {
    double height = category_gap;
    for (const auto& name : wrapped_names(chart, width)) height += category_height(chart, name.size());
    return height + x_axis_height(chart, width);
}

double draw_bars(Canvas& canvas, const Box& area, const Chart& chart) {
    const double width = area.right - area.left;
    const std::vector<std::vector<std::string>> names = wrapped_names(chart, width);
    Plot plot;
    plot.box = {area.left + names_room(chart, width), area.top + 4.0, area.right - 24.0, area.top + 4.0};
    std::vector<double> middles;
    double top = plot.box.top + 0.5 * category_gap;
    for (const auto& name : names) {
        const double height = category_height(chart, name.size());
        middles.push_back(top + 0.5 * height);
        top += height;
    }
    plot.box.bottom = top;
    plot.x = axis_scale(chart.x, x_reach(chart), plot.box.left, plot.box.right);
    const double lowest = draw_x_axis(canvas, plot, chart, area);
    draw_frame(canvas, plot);
    for (std::size_t i = 0; i < names.size(); ++i) {
        double baseline = middles[i] - 0.5 * line_spacing * static_cast<double>(names[i].size() - 1) + 4.0;
        for (const std::string& line : names[i]) {
            canvas.text({plot.box.left - 8.0, baseline}, line, {body_size, Anchor::end});
            baseline += line_spacing;
        }
        draw_category(canvas, plot, chart, i, middles[i]);
    }
    if (!plot.x.logarithmic && plot.x.low < 0.0 && plot.x.high > 0.0) {
        canvas.line({plot.x.place(0.0), plot.box.top}, {plot.x.place(0.0), plot.box.bottom}, {palette::grey, 0.9});
    }
    draw_marks(canvas, plot, chart);
    return lowest;
}

}  // namespace spotwright::drawing
