#include "sim/drawing/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/drawing/chart_parts.hpp"

namespace spotwright::drawing {

namespace {

constexpr Pen grid_pen{palette::faint, 0.6};
constexpr Pen frame_pen{palette::grey, 0.9};
constexpr double tick_length = 4.0;
constexpr double minor_length = 2.5;
constexpr const char* no_values = "No value here that a chart could show.";

std::size_t lines_of(const std::string& words, double width) {
    return words.empty() ? 0 : wrap(words, small_size, width).size();
}

// Of the name of y and the lanes below it.
double head_height(const Chart& chart, double width) {
    constexpr double above_frame = 8.0;
    return line_spacing * static_cast<double>(lines_of(chart.y.label, width)) + above_frame +
           lane_height * static_cast<double>(chart.lanes.size());
}

std::string axis_words(const AxisScale& scale) {
    return fmt::format("{:.9g} {:.9g} {:.3f} {:.3f} {}", scale.low, scale.high, scale.start, scale.end,
                       scale.logarithmic ? "log" : "linear");
}

// Scales of a plot within an area, its sides moved in until the numbers of y, and the first and the last of x, have
// room.
Plot plot_in(const Box& area, const Chart& chart, double names) {
    Plot plot;
    const double width = area.right - area.left;
    plot.box = {area.left, area.top + head_height(chart, width), area.right - names,
                area.bottom - x_axis_height(chart, width)};
    plot.y = axis_scale(chart.y, y_reach(chart), plot.box.bottom, plot.box.top);
    plot.box.left += widest_label(axis_ticks(chart.y, plot.y, Along::y)) + 10.0;
    constexpr double min_side = 14.0;
    if (names == 0.0) plot.box.right -= min_side;
    const Reach reach = x_reach(chart);
    plot.x = axis_scale(chart.x, reach, plot.box.left, plot.box.right);
    const AxisTicks ticks = axis_ticks(chart.x, plot.x, Along::x);
    if (ticks.labelled.empty()) return plot;
    const auto half = [](const ChartTick& tick) { return 0.5 * text_width(tick.label, small_size); };
    const ChartTick& first = ticks.labelled.front();
    const ChartTick& last = ticks.labelled.back();
    plot.box.left += std::max(0.0, area.left + half(first) - plot.x.place(first.value));
    plot.box.right -= std::max(0.0, plot.x.place(last.value) + half(last) - area.right);
    plot.x = axis_scale(chart.x, reach, plot.box.left, plot.box.right);
    return plot;
}

// The curves of a chart with their axes.
void draw_plot(Canvas& canvas, const Box& area, const Chart& chart) {
    const double width = area.right - area.left;
    constexpr double most_names = 0.22;
    const double names = std::min(end_names_width(chart), most_names * width);
    const Plot plot = plot_in(area, chart, names);
    double baseline = area.top + 11.0;
    if (!chart.y.label.empty()) {
        for (const std::string& line : wrap(chart.y.label, small_size, width)) {
            canvas.text({area.left, baseline}, line, {small_size});
            baseline += line_spacing;
        }
    }
    draw_y_axis(canvas, plot, chart);
    draw_x_axis(canvas, plot, chart, area);
    canvas.open_group(
        {}, fmt::format("class=\"plot\" data-x=\"{}\" data-y=\"{}\"", axis_words(plot.x), axis_words(plot.y)));
    draw_frame(canvas, plot);
    draw_marks(canvas, plot, chart);
    draw_curves(canvas, plot, chart);
    canvas.close_group();
    draw_lanes(canvas, plot, chart, area.right);
    if (names > 0.0) draw_end_names(canvas, plot, chart, plot.box.right + 14.0, area.right);
}

}  // namespace

Reach x_reach(const Chart& chart) {
    Reach reach{chart.x.logarithmic};
    for (const ChartCurve& curve : chart.curves) {
        for (const auto& [x, y] : curve.points) {
            if (has_place(y, chart.y.logarithmic)) reach.include(x);
        }
    }
    for (const ChartBars& bars : chart.bars) {
        for (const auto& span : bars.spans) {
            for (const double value : span) reach.include(value);
        }
    }
    for (const ChartLane& lane : chart.lanes) {
        for (const double place : lane.places) reach.include(place);
    }
    if (reach.empty()) return reach;
    for (const ChartMark& mark : chart.marks) {
        if (!mark.level) reach.include(mark.value);
    }
    return reach;
}

Reach y_reach(const Chart& chart) {
    Reach reach{chart.y.logarithmic};
    for (const ChartCurve& curve : chart.curves) {
        for (const auto& [x, y] : curve.points) {
            if (has_place(x, chart.x.logarithmic)) reach.include(y);
        }
    }
    if (reach.empty() && chart.lanes.empty()) return reach;
    for (const ChartMark& mark : chart.marks) {
        if (mark.level) reach.include(mark.value);
    }
    return reach;
}

void draw_frame(Canvas& canvas, const Plot& plot) {
    const Box& box = plot.box;
    const std::array corners{Vector2(box.left, box.top), Vector2(box.right, box.top), Vector2(box.right, box.bottom),
                             Vector2(box.left, box.bottom)};
    canvas.polygon(corners, "none", frame_pen);
}

namespace {

bool has_second_row(const ChartAxis& axis) {
    return std::any_of(axis.ticks.begin(), axis.ticks.end(), [](const ChartTick& tick) { return !tick.below.empty(); });
}

}  // namespace

double x_axis_height(const Chart& chart, double width) {
    constexpr double numbers = 20.0;
    return numbers + (has_second_row(chart.x) ? line_spacing : 0.0) +
           line_spacing * static_cast<double>(lines_of(chart.x.label, width)) + 4.0;
}

double draw_x_axis(Canvas& canvas, const Plot& plot, const Chart& chart, const Box& area) {
    const AxisTicks ticks = axis_ticks(chart.x, plot.x, Along::x);
    canvas.open_group(chart.id + "-x-axis");
    for (const ChartTick& tick : ticks.labelled) {
        const double x = plot.x.place(tick.value);
        canvas.line({x, plot.box.top}, {x, plot.box.bottom + tick_length}, grid_pen);
        canvas.text({x, plot.box.bottom + 16.0}, tick.label, {small_size, Anchor::middle});
    }
    canvas.close_group();
    for (const double value : ticks.minor) {
        const double x = plot.x.place(value);
        canvas.line({x, plot.box.bottom}, {x, plot.box.bottom + minor_length}, frame_pen);
    }
    double baseline = plot.box.bottom + 16.0;
    if (has_second_row(chart.x)) {
        baseline += line_spacing;
        for (const ChartTick& tick : ticks.labelled) {
            canvas.text({plot.x.place(tick.value), baseline}, tick.below,
                        {small_size, Anchor::middle, false, false, 0.0, palette::grey});
        }
    }
    if (!chart.x.label.empty()) {
        const double width = area.right - area.left;
        for (const std::string& line : wrap(chart.x.label, small_size, width)) {
            baseline += line_spacing;
            // In the middle of the plot, or as near to it as the page allows.
            const double half = 0.5 * text_width(line, small_size);
            const double middle = 0.5 * (plot.box.left + plot.box.right);
            const double x = std::max(area.left + half, std::min(middle, area.right - half));
            canvas.text({x, baseline}, line, {small_size, Anchor::middle});
        }
    }
    return plot.box.bottom + x_axis_height(chart, area.right - area.left);
}

void draw_y_axis(Canvas& canvas, const Plot& plot, const Chart& chart) {
    const AxisTicks ticks = axis_ticks(chart.y, plot.y, Along::y);
    canvas.open_group(chart.id + "-y-axis");
    for (const ChartTick& tick : ticks.labelled) {
        const double y = plot.y.place(tick.value);
        canvas.line({plot.box.left - tick_length, y}, {plot.box.right, y}, grid_pen);
        canvas.text({plot.box.left - 7.0, y + 3.8}, tick.label, {small_size, Anchor::end});
    }
    canvas.close_group();
    for (const double value : ticks.minor) {
        const double y = plot.y.place(value);
        canvas.line({plot.box.left - minor_length, y}, {plot.box.left, y}, frame_pen);
    }
}

bool has_values(const Chart& chart) {
    const bool reaches = !x_reach(chart).empty();
    return chart.bars.empty() ? reaches && !y_reach(chart).empty() : reaches && !chart.categories.empty();
}

double chart_height(const Chart& chart, double width) {
    constexpr double sentence = 30.0;
    if (!has_values(chart)) return sentence;
    const double plot = chart.bars.empty() ? static_cast<double>(chart.height) : bars_height(chart, width);
    return plot + legend_height(chart, width);
}

void draw_chart(Canvas& canvas, const Box& area, const Chart& chart) {
    if (!has_values(chart)) {
        canvas.text({area.left, area.top + 20.0}, no_values, {body_size});
        return;
    }
    const double legend = legend_height(chart, area.right - area.left);
    Box plot = area;
    plot.bottom -= legend;
    if (chart.bars.empty()) {
        draw_plot(canvas, plot, chart);
    } else {
        plot.bottom = draw_bars(canvas, plot, chart);
    }
    draw_legend(canvas, {area.left, plot.bottom, area.right, plot.bottom + legend}, chart);
}

std::string chart_svg(const Chart& chart) {
    Canvas canvas;
    constexpr double edge = 1.0;
    const double height = std::ceil(chart_height(chart, chart_width - 2.0 * edge)) + 2.0 * edge;
    draw_chart(canvas, {edge, edge, chart_width - edge, height - edge}, chart);
    return canvas.element({chart_width, height},
                          fmt::format("class=\"chart\" id=\"chart-{}\" role=\"img\" aria-label=\"{}\"", chart.id,
                                      escape(chart.description)));
}

}  // namespace spotwright::drawing
