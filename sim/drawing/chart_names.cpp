// Words beside a chart: names at the ends of curves, rows of what has no value, and the legend.
#include <algorithm>
#include <array>
#include <cmath>

#include "sim/drawing/chart_parts.hpp"

namespace spotwright::drawing {

namespace {

constexpr double name_spacing = 15.0;

struct EndName {
    Vector2 from;
    std::string words;
    const char* colour;
};

std::vector<EndName> end_names(const Plot& plot, const Chart& chart) {
    std::vector<EndName> names;
    for (const ChartCurve& curve : chart.curves) {
        const auto last = std::find_if(curve.points.rbegin(), curve.points.rend(),
                                       [&plot](const ChartPoint& point) { return plot.shows(point); });
        if (curve.end_name.empty() || last == curve.points.rend()) continue;
        const double aside = curve.style.marker == Marker::none ? 1.0 : 6.0;
        names.push_back({plot.at(*last) + Vector2(aside, 0.0), curve.end_name, curve.style.colour});
    }
    for (const ChartMark& mark : chart.marks) {
        if (mark.end_name.empty() || !mark.level || !has_place(mark.value, plot.y.logarithmic)) continue;
        names.push_back({{plot.box.right, plot.y.place(mark.value)}, mark.end_name, mark.pen.colour});
    }
    std::sort(names.begin(), names.end(), [](const EndName& a, const EndName& b) { return a.from.y() < b.from.y(); });
    return names;
}

// Words of a lane below its markers, as near to theirs as they fit.
void draw_notes(Canvas& canvas, const Plot& plot, const ChartLane& lane, double baseline) {
    constexpr double gap = 8.0;
    double end = plot.box.left;
    for (const ChartLane::Note& note : lane.notes) {
        const double width = text_width(note.words, small_size);
        const double wanted = 0.5 * (plot.x.place(note.from) + plot.x.place(note.to) - width);
        const double left = std::min(std::max(wanted, end), plot.box.right - width);
        if (left < end) continue;
        canvas.text({left, baseline}, note.words, {small_size, Anchor::start, false, false, 0.0, palette::grey});
        end = left + width + gap;
    }
}

void draw_lane(Canvas& canvas, const Plot& plot, const ChartLane& lane, double bottom, double right) {
    const double y = bottom - lane_height + 5.0;
    canvas.open_group(lane.id);
    for (const double place : lane.places) {
        const Vector2 at(plot.x.place(place), y);
        draw_marker(canvas, at, lane.style);
        const Vector2 diagonal(5.6, -5.6);
        canvas.line(at - diagonal, at + diagonal, {lane.style.colour, 1.2});
    }
    draw_notes(canvas, plot, lane, bottom - 0.5);
    const double left = plot.box.right + 14.0;
    const std::vector<std::string> lines = wrap(lane.name, small_size, right - left);
    const double first = bottom - (lines.size() > 1 ? 12.0 : 7.0);
    for (std::size_t i = 0; i < std::min<std::size_t>(2, lines.size()); ++i) {
        canvas.text({left, first + 11.0 * static_cast<double>(i)}, lines[i],
                    {small_size, Anchor::start, false, false, 0.0, lane.style.colour});
    }
    canvas.close_group();
}

constexpr double sample_width = 44.0;
constexpr double sample_gap = 6.0;

// An entry of the legend: what draws its sample, and its words.
struct Entry {
    const ChartCurve* curve = nullptr;
    const ChartBars* bars = nullptr;
    const ChartMark* mark = nullptr;
    std::vector<std::string> lines;
    Vector2 at = Vector2::Zero();  ///< of the first baseline, from the legend's left top
};

std::vector<Entry> entries_of(const Chart& chart) {
    std::vector<Entry> entries;
    for (const ChartCurve& curve : chart.curves) {
        if (!curve.label.empty()) entries.push_back({&curve, nullptr, nullptr, {curve.label}});
    }
    for (const ChartBars& bars : chart.bars) {
        if (!bars.label.empty()) entries.push_back({nullptr, &bars, nullptr, {bars.label}});
    }
    std::string before;
    for (const ChartMark& mark : chart.marks) {
        if (!mark.label.empty() && mark.label != before) entries.push_back({nullptr, nullptr, &mark, {mark.label}});
        before = mark.label;
    }
    return entries;
}

// Side by side as far as the width goes. @return Height. [page units]
double set_places(std::vector<Entry>& entries, double width) {
    constexpr double between = 20.0;
    constexpr double row_gap = 3.0;
    double x = 0.0;
    double top = 0.0;
    double row = 0.0;
    for (Entry& entry : entries) {
        entry.lines = wrap(entry.lines.front(), small_size, width - sample_width - sample_gap);
        double longest = 0.0;
        for (const std::string& line : entry.lines) longest = std::max(longest, text_width(line, small_size));
        const double wide = sample_width + sample_gap + longest;
        if (x > 0.0 && x + wide > width) {
            x = 0.0;
            top += row + row_gap;
            row = 0.0;
        }
        entry.at = {x, top + 11.0};
        x += wide + between;
        row = std::max(row, line_spacing * static_cast<double>(entry.lines.size()));
    }
    return top + row;
}

void draw_sample(Canvas& canvas, const Entry& entry, const Vector2& at) {
    const Vector2 left = at + Vector2(0.0, -4.0);
    const Vector2 right = left + Vector2(sample_width, 0.0);
    if (entry.curve != nullptr) {
        const CurveStyle& style = entry.curve->style;
        if (entry.curve->fill != CurveFill::none) {
            canvas.polygon(std::array<Vector2, 4>{left + Vector2(0.0, -5.0), right + Vector2(0.0, -5.0),
                                                  right + Vector2(0.0, 5.0), left + Vector2(0.0, 5.0)},
                           "#d9d9d9", {"#d9d9d9", 0.3});
        }
        if (entry.curve->line && style.width > 0.0) {
            canvas.line(left, right, {style.colour, style.width, style.dashes});
        }
        draw_marker(canvas, 0.5 * (left + right), style);
    } else if (entry.bars != nullptr) {
        draw_bar(canvas, {left.x() + 6.0, left.y() - 5.0, right.x() - 2.0, left.y() + 5.0}, entry.bars->colour,
                 entry.bars->hatched);
    } else {
        canvas.line(left, right, entry.mark->pen);
    }
}

}  // namespace

double end_names_width(const Chart& chart) {
    double longest = 0.0;
    for (const ChartCurve& curve : chart.curves) longest = std::max(longest, text_width(curve.end_name, body_size));
    for (const ChartMark& mark : chart.marks) longest = std::max(longest, text_width(mark.end_name, body_size));
    for (const ChartLane& lane : chart.lanes) longest = std::max(longest, text_width(lane.name, small_size));
    constexpr double leader = 14.0;
    return longest > 0.0 ? longest + leader : 0.0;
}

void draw_end_names(Canvas& canvas, const Plot& plot, const Chart& chart, double left, double right) {
    const std::vector<EndName> names = end_names(plot, chart);
    std::vector<std::vector<std::string>> lines;
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (const EndName& name : names) {
        lines.push_back(wrap(name.words, body_size, right - left));
        wanted.push_back(name.from.y());
        sizes.push_back(name_spacing * static_cast<double>(lines.back().size()) + 4.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, plot.box.top, plot.box.bottom);
    for (std::size_t i = 0; i < names.size(); ++i) {
        canvas.polyline(std::array<Vector2, 2>{names[i].from, Vector2(left - 3.0, centres[i])}, {palette::grey, 0.6});
        double baseline = centres[i] - 0.5 * name_spacing * static_cast<double>(lines[i].size() - 1) + 4.0;
        for (const std::string& line : lines[i]) {
            canvas.text({left, baseline}, line, {body_size, Anchor::start, false, false, 0.0, names[i].colour});
            baseline += name_spacing;
        }
    }
}

void draw_lanes(Canvas& canvas, const Plot& plot, const Chart& chart, double right) {
    double bottom = plot.box.top - 3.0;
    for (auto lane = chart.lanes.rbegin(); lane != chart.lanes.rend(); ++lane) {
        draw_lane(canvas, plot, *lane, bottom, right);
        bottom -= lane_height;
    }
}

double legend_height(const Chart& chart, double width) {
    std::vector<Entry> entries = entries_of(chart);
    return entries.empty() ? 0.0 : 6.0 + set_places(entries, width) + 4.0;
}

void draw_legend(Canvas& canvas, const Box& area, const Chart& chart) {
    std::vector<Entry> entries = entries_of(chart);
    if (entries.empty()) return;
    set_places(entries, area.right - area.left);
    canvas.open_group({}, "class=\"legend\"");
    for (const Entry& entry : entries) {
        const Vector2 at = Vector2(area.left, area.top + 6.0) + entry.at;
        draw_sample(canvas, entry, at);
        for (std::size_t i = 0; i < entry.lines.size(); ++i) {
            canvas.text(at + Vector2(sample_width + sample_gap, line_spacing * static_cast<double>(i)), entry.lines[i],
                        {small_size});
        }
    }
    canvas.close_group();
}

}  // namespace spotwright::drawing
