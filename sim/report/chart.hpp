// Charts of a report: what they hold, as data for the page's script, and the figure around them with all that does not
// need a script.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/report/html.hpp"

namespace spotwright::report {

/// How a curve is told from others in print without colour as well: dashes, marker and lightness differ.
struct CurveStyle {
    std::string_view colour;
    std::string_view dashes;  ///< as in SVG; empty: solid
    std::string_view marker;  ///< of the library; empty: none
    bool hollow = false;
    double width = 1.6;
};

/// Curves that stand beside each other. Colours: M. Okabe, K. Ito, "Color universal design" (2008), in an order in
/// which neighbours differ in lightness; more curves than styles repeat them.
[[nodiscard]] CurveStyle curve_style(std::size_t index);
inline constexpr std::size_t curve_styles = 10;

enum class CurveFill { none, area, band };  ///< down to zero; up to the curve before

struct ChartCurve {
    std::string label;
    std::vector<std::array<double, 2>> points;  ///< x, y in the units of the axes; NaN: a gap
    CurveStyle style;
    bool line = true;
    bool stepped = false;  ///< each value holds up to the next place
    CurveFill fill = CurveFill::none;
};

struct ChartBars {
    std::string label;
    std::vector<std::array<double, 2>> spans;  ///< from, to; one for each category
    std::string_view colour;
    bool hatched = false;
};

struct ChartAxis {
    std::string label;  ///< with its unit, as "error / um"
    bool logarithmic = false;
    std::optional<double> low;
    std::optional<double> high;
    bool soft = false;  ///< bounds are the least that is shown, widened to round ticks
};

/// Curves over x, or bars beside categories.
struct Chart {
    std::string id;           ///< of letters
    std::string caption;      ///< what to see
    std::string description;  ///< for those who do not see it
    ChartAxis x;
    ChartAxis y;
    std::vector<ChartCurve> curves;
    std::vector<std::string> categories;
    std::vector<ChartBars> bars;
    std::vector<double> marks;  ///< places of x across which a line is drawn
    int height = 330;           ///< of 680 across. [page pixels]
    TextRow table_head;         ///< of its data; empty: the text prints them anyway
    std::vector<TextRow> table;
};

/// For the page's script.
[[nodiscard]] nlohmann::ordered_json chart_json(const Chart& chart);

/// The figure: canvas, legend, caption, and its data as a table to open.
[[nodiscard]] std::string chart_figure(const Chart& chart);

/// The unit in which lengths up to a size are told best: um below a millimetre, mm from there on.
struct LengthUnit {
    double size = 1.0;  ///< [m]
    std::string_view symbol;
};
[[nodiscard]] LengthUnit length_unit(double largest);

/// A length with its unit, "none" where it does not exist. [m]
[[nodiscard]] std::string length_cell(std::optional<double> value, int digits = 4);

/// The number of a length in um; 0 where it is less than an atom's breadth and so mere rounding. [m]
[[nodiscard]] std::string um_cell(std::optional<double> length, int digits = 4);

/// A number of a table: some significant digits, "none" where it does not exist or is not finite.
[[nodiscard]] std::string cell(std::optional<double> value, int digits = 4);

}  // namespace spotwright::report
