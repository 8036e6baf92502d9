// Parts of the picture of a chart.
#pragma once

#include "sim/drawing/chart_axis.hpp"

namespace spotwright::drawing {

inline constexpr double line_spacing = 14.0;  ///< of body text in a chart. [page units]

/// Where a chart's values stand.
struct Plot {
    Box box;
    AxisScale x;
    AxisScale y;

    [[nodiscard]] Vector2 at(const ChartPoint& point) const { return {x.place(point[0]), y.place(point[1])}; }
    [[nodiscard]] bool shows(const ChartPoint& point) const {
        return has_place(point[0], x.logarithmic) && has_place(point[1], y.logarithmic);
    }
};

void draw_frame(Canvas& canvas, const Plot& plot);

/// A marker of a style about a point; none draws nothing.
void draw_marker(Canvas& canvas, const Vector2& at, const CurveStyle& style);

/// A bar's face; hatched bars are white with slanting strokes.
void draw_bar(Canvas& canvas, const Box& box, const char* colour, bool hatched);

/// Fills, lines and markers, in the order of the curves.
void draw_curves(Canvas& canvas, const Plot& plot, const Chart& chart);

void draw_marks(Canvas& canvas, const Plot& plot, const Chart& chart);

/// Names at the right ends of curves and levels, with leaders, none over another. @param left  Where they begin.
/// @param right  Where they end.
void draw_end_names(Canvas& canvas, const Plot& plot, const Chart& chart, double left, double right);

/// Width that names at right ends ask for; 0 where there is none. [page units]
[[nodiscard]] double end_names_width(const Chart& chart);

inline constexpr double lane_height = 22.0;  ///< [page units]

/// Rows over the plot, the first of them on top. @param right  Where their names end.
void draw_lanes(Canvas& canvas, const Plot& plot, const Chart& chart, double right);

/// Numbers and names of the x axis below the plot. @return Lowest place used. [page units]
double draw_x_axis(Canvas& canvas, const Plot& plot, const Chart& chart, const Box& area);

void draw_y_axis(Canvas& canvas, const Plot& plot, const Chart& chart);

/// Height of the numbers and the name of the x axis. [page units]
[[nodiscard]] double x_axis_height(const Chart& chart, double width);

/// Bars beside their categories, down from the area's top. @return Lowest place used. [page units]
double draw_bars(Canvas& canvas, const Box& area, const Chart& chart);

[[nodiscard]] double bars_height(const Chart& chart, double width);

/// Curves, bars and marks that have a label, in rows that fit the width.
void draw_legend(Canvas& canvas, const Box& area, const Chart& chart);

[[nodiscard]] double legend_height(const Chart& chart, double width);

/// What the axes must span.
[[nodiscard]] Reach x_reach(const Chart& chart);
[[nodiscard]] Reach y_reach(const Chart& chart);

}  // namespace spotwright::drawing
