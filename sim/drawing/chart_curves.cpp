// Curves and marks of a chart.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "sim/drawing/chart_parts.hpp"

namespace spotwright::drawing {

namespace {

using Polyline = std::vector<Vector2>;

// What lies between gaps, as it is drawn: steps have their corners.
std::vector<Polyline> stretches_of(const ChartCurve& curve, const Plot& plot) {
    std::vector<Polyline> list(1);
    for (const ChartPoint& point : curve.points) {
        if (!plot.shows(point)) {
            if (!list.back().empty()) list.emplace_back();
            continue;
        }
        const Vector2 at = plot.at(point);
        Polyline& last = list.back();
        if (curve.stepped && !last.empty() && last.back().y() != at.y()) last.emplace_back(at.x(), last.back().y());
        last.push_back(at);
    }
    if (list.back().empty()) list.pop_back();
    return list;
}

constexpr const char* fill_colour = "#d9d9d9";

void draw_area(Canvas& canvas, const Plot& plot, const ChartCurve& curve) {
    const bool has_zero = !plot.y.logarithmic && plot.y.low <= 0.0 && plot.y.high >= 0.0;
    const double foot = has_zero ? plot.y.place(0.0) : plot.box.bottom;
    for (Polyline& stretch : stretches_of(curve, plot)) {
        if (stretch.size() < 2) continue;
        stretch.emplace_back(stretch.back().x(), foot);
        stretch.emplace_back(stretch.front().x(), foot);
        canvas.polygon(stretch, fill_colour, {fill_colour, 0.3});
    }
}

// Between two curves, where both have a value.
void draw_band(Canvas& canvas, const Plot& plot, const ChartCurve& one, const ChartCurve& other) {
    Polyline there;
    Polyline back;
    const auto finish = [&] {
        if (there.size() > 1) {
            there.insert(there.end(), back.rbegin(), back.rend());
            canvas.polygon(there, fill_colour, {fill_colour, 0.3});
        }
        there.clear();
        back.clear();
    };
    for (std::size_t i = 0; i < std::min(one.points.size(), other.points.size()); ++i) {
        if (plot.shows(one.points[i]) && plot.shows(other.points[i])) {
            there.push_back(plot.at(one.points[i]));
            back.push_back(plot.at(other.points[i]));
        } else {
            finish();
        }
    }
    finish();
}

// A short line beside which a gap lies on either side is a dot, where no marker shows it.
void draw_lines(Canvas& canvas, const std::vector<Polyline>& stretches, const ChartCurve& curve) {
    int drawn = 0;
    for (const Polyline& stretch : stretches) {
        if (stretch.size() < 2) {
            if (curve.style.marker == Marker::none) {
                canvas.circle(stretch.front(), 0.5 * curve.style.width + 0.6, curve.style.colour,
                              {curve.style.colour, 0.3});
            }
            continue;
        }
        const std::string id = curve.id.empty() || drawn == 0 ? curve.id : fmt::format("{}-{}", curve.id, drawn);
        canvas.polyline(stretch, {curve.style.colour, curve.style.width, curve.style.dashes}, id);
        ++drawn;
    }
}

void draw_curve(Canvas& canvas, const Plot& plot, const ChartCurve& curve) {
    const std::vector<Polyline> stretches = stretches_of(curve, plot);
    const std::string& name = curve.label.empty() ? curve.end_name : curve.label;
    canvas.open_group({}, "class=\"curve\"");
    if (!name.empty()) canvas.title(name);
    if (curve.line && curve.style.width > 0.0) {
        draw_lines(canvas, stretches, curve);
    } else if (!curve.line) {
        // Unseen, for whoever looks for places: markers alone have none to read.
        for (const Polyline& stretch : stretches) canvas.polyline(stretch, {"none", 0.0});
    }
    if (curve.style.marker != Marker::none) {
        for (const ChartPoint& point : curve.points) {
            if (plot.shows(point)) draw_marker(canvas, plot.at(point), curve.style);
        }
    }
    canvas.close_group();
}

void draw_mark_words(Canvas& canvas, const Plot& plot, const ChartMark& mark, double x) {
    const bool left_half = x < 0.5 * (plot.box.left + plot.box.right);
    canvas.text({x + (left_half ? 8.0 : -8.0), plot.box.bottom - 12.0}, mark.words,
                {body_size, left_half ? Anchor::start : Anchor::end, true, true});
}

}  // namespace

CurveStyle curve_style(std::size_t index) {
    static constexpr std::array<CurveStyle, curve_styles> styles{{
        {"#000000", "", Marker::disc},
        {"#0072B2", "7 4", Marker::square, true},
        {"#E69F00", "2 3", Marker::triangle, false, 2.2},
        {"#D55E00", "12 3 2 3", Marker::diamond},
        {"#009E73", "", Marker::saltire, true, 1.2},
        {"#56B4E9", "14 5", Marker::star, true},
        {"#CC79A7", "4 2", Marker::triangle, true},
        {"#000000", "2 3", Marker::disc, true},
        {"#0072B2", "", Marker::cross, true, 1.2},
        {"#D55E00", "4 2", Marker::star, true},
    }};
    return styles[index % styles.size()];
}

void draw_marker(Canvas& canvas, const Vector2& at, const CurveStyle& style) {
    constexpr double radius = 3.2;
    const Pen pen{style.colour, 1.4};
    const char* fill = style.hollow ? palette::paper : style.colour;
    const auto corners = [&](std::initializer_list<Vector2> places) {
        std::vector<Vector2> list;
        for (const Vector2& place : places) list.push_back(at + radius * place);
        canvas.polygon(list, fill, pen);
    };
    const auto stroke = [&](double x, double y) {
        const Vector2 half(radius * x, radius * y);
        canvas.line(at - half, at + half, pen);
    };
    switch (style.marker) {
        case Marker::none:
            break;
        case Marker::disc:
            canvas.circle(at, radius, fill, pen);
            break;
        case Marker::square:
            corners({{-0.95, -0.95}, {0.95, -0.95}, {0.95, 0.95}, {-0.95, 0.95}});
            break;
        case Marker::triangle:
            corners({{0.0, -1.15}, {1.1, 0.85}, {-1.1, 0.85}});
            break;
        case Marker::diamond:
            corners({{0.0, -1.25}, {1.25, 0.0}, {0.0, 1.25}, {-1.25, 0.0}});
            break;
        case Marker::star:
            stroke(1.2, 0.0);
            stroke(0.0, 1.2);
            [[fallthrough]];
        case Marker::saltire:
            stroke(0.9, 0.9);
            stroke(0.9, -0.9);
            break;
        case Marker::cross:
            stroke(1.25, 0.0);
            stroke(0.0, 1.25);
            break;
    }
}

void draw_curves(Canvas& canvas, const Plot& plot, const Chart& chart) {
    for (std::size_t i = 0; i < chart.curves.size(); ++i) {
        const ChartCurve& curve = chart.curves[i];
        if (curve.fill == CurveFill::area) draw_area(canvas, plot, curve);
        if (curve.fill == CurveFill::band && i > 0) draw_band(canvas, plot, chart.curves[i - 1], curve);
    }
    for (const ChartCurve& curve : chart.curves) draw_curve(canvas, plot, curve);
}

void draw_marks(Canvas& canvas, const Plot& plot, const Chart& chart) {
    for (const ChartMark& mark : chart.marks) {
        if (!has_place(mark.value, mark.level ? plot.y.logarithmic : plot.x.logarithmic)) continue;
        const double place = mark.level ? plot.y.place(mark.value) : plot.x.place(mark.value);
        const Vector2 from = mark.level ? Vector2(plot.box.left, place) : Vector2(place, plot.box.top);
        const Vector2 to = mark.level ? Vector2(plot.box.right, place) : Vector2(place, plot.box.bottom);
        canvas.polyline(std::array{from, to}, mark.pen, mark.id);
        if (!mark.level && !mark.words.empty()) draw_mark_words(canvas, plot, mark, place);
    }
}

}  // namespace spotwright::drawing
