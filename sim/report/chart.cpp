#include "sim/report/chart.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::report {

std::string chart_figure(const Chart& chart) {
    std::string text = fmt::format("<figure class=\"chart\">\n{}<figcaption>{}</figcaption>\n</figure>\n",
                                   drawing::chart_svg(chart), drawing::escape(chart.caption));
    if (!chart.table_head.empty()) {
        text += html_details("Data of this chart", "data", html_table("", chart.table_head, chart.table));
    }
    return text;
}

LengthUnit length_unit(double largest) {
    if (std::abs(largest) >= base::mm) return {base::mm, "mm"};
    return {base::um, "um"};
}

std::string length_cell(std::optional<double> value, int digits) {
    if (!value || !std::isfinite(*value)) return "none";
    const std::string size = base::length_text(std::abs(*value), digits);
    return *value < 0.0 && size != "0 um" ? "\u2212" + size : size;
}

std::string um_cell(std::optional<double> length, int digits) {
    constexpr double atom = 1e-10;
    if (length && std::abs(*length) < atom) return "0";
    return cell(length ? std::optional(*length / base::um) : std::nullopt, digits);
}

std::string cell(std::optional<double> value, int digits) {
    if (!value || !std::isfinite(*value)) return "none";
    constexpr double least = 1e-4;
    constexpr double most = 1e9;
    const double size = std::abs(*value);
    // Numbers for people have no exponent; beyond this they would be rows of zeros.
    if (size != 0.0 && (size < least || size >= most)) return fmt::format("{:.{}g}", *value, digits);
    return drawing::number(*value, digits);
}

}  // namespace spotwright::report
