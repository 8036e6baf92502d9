// Charts as plain values, and their picture: curves over x, or bars beside categories, with all that it takes to read
// them.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

enum class Marker { none, disc, square, triangle, diamond, saltire, cross, star };

/// Curves differ in dashes, marker and lightness, so that they differ in black-and-white print.
struct CurveStyle {
    const char* colour = palette::ink;
    const char* dashes = dash::solid;
    Marker marker = Marker::none;
    bool hollow = false;
    double width = 1.6;  ///< 0: no line
};

/// Curves that stand beside each other. Colours: M. Okabe, K. Ito, "Color universal design" (2008), in an order in
/// which neighbours differ in lightness; more curves than styles repeat them.
[[nodiscard]] CurveStyle curve_style(std::size_t index);
inline constexpr std::size_t curve_styles = 10;

/// x, y in the units of the axes.
using ChartPoint = std::array<double, 2>;

enum class CurveFill { none, area, band };  ///< down to zero; up to the curve before

struct ChartCurve {
    std::string label{};               ///< in the legend; empty: not there
    std::vector<ChartPoint> points{};  ///< what is not finite, or not positive on a logarithmic scale, leaves a gap
    CurveStyle style{};
    bool line = true;
    bool stepped = false;  ///< each value holds up to the next place
    CurveFill fill = CurveFill::none;
    std::string end_name{};  ///< beside its right end, with a leader; empty: none
    std::string id{};        ///< of its line; later stretches have -1, -2 and so on after it; empty: none
};

struct ChartBars {
    std::string label{};
    std::vector<std::array<double, 2>> spans{};  ///< from, to; one for each category
    const char* colour = palette::ink;
    bool hatched = false;
};

/// A value at which a line runs across the whole chart, as for a tolerance.
struct ChartMark {
    double value = 0.0;
    bool level = false;      ///< of y rather than of x
    std::string label{};     ///< in the legend; marks of the same label are one there
    std::string end_name{};  ///< beside the right end of a level
    std::string words{};     ///< beside the foot of a mark of x
    Pen pen{palette::ink, 1.0, "6 4"};
    std::string id{};
};

/// A row above the plot: values of x at which a curve has no value, and why.
struct ChartLane {
    struct Note {
        double from = 0.0;
        double to = 0.0;
        std::string words;  ///< left out where there is no room
    };
    std::string name{};  ///< at its right end
    CurveStyle style{};
    std::vector<double> places{};
    std::vector<Note> notes{};  ///< in the order of x
    std::string id{};
};

struct ChartTick {
    double value = 0.0;
    std::string label{};
    std::string below{};  ///< in a second row, along x
};

struct ChartAxis {
    std::string label{};  ///< with its unit, as "error / um"
    bool logarithmic = false;
    std::optional<double> low{};  ///< the least that is shown; what is drawn widens it
    std::optional<double> high{};
    bool soft = false;               ///< bounds are widened to round ticks; without bounds they always are
    bool whole = false;              ///< counts: no ticks between whole numbers
    std::vector<ChartTick> ticks{};  ///< the axis's own; empty: round values
};

struct Chart {
    std::string id{};           ///< of letters, unique on its page
    std::string caption{};      ///< what to see; not part of the picture
    std::string description{};  ///< for those who do not see it
    ChartAxis x{};
    ChartAxis y{};
    std::vector<ChartCurve> curves{};
    std::vector<std::string> categories{};
    std::vector<ChartBars> bars{};
    std::vector<ChartMark> marks{};
    std::vector<ChartLane> lanes{};
    int height = 330;                       ///< of curves with their axes; bars take what they need. [page units]
    std::vector<std::string> table_head{};  ///< of its data; empty: the text prints them anyway
    std::vector<std::vector<std::string>> table{};
};

/// Whether the chart has at least one value to draw.
[[nodiscard]] bool has_values(const Chart& chart);

/// Height that a chart asks for at a width, legend included. [page units]
[[nodiscard]] double chart_height(const Chart& chart, double width);

/// Draws a chart into an area: name of y, plot, numbers, name of x, legend. Without any value a sentence says so.
void draw_chart(Canvas& canvas, const Box& area, const Chart& chart);

/// Across a chart that stands by itself. [page units]
inline constexpr double chart_width = 680.0;

/// The chart as an SVG element by itself that scales to the room it is given.
[[nodiscard]] std::string chart_svg(const Chart& chart);

}  // namespace spotwright::drawing
