#include "sim/report/chart.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::report {

namespace {

constexpr double atom = 1e-10;  // [m]

bool exists(const std::optional<double>& value) {
    return value && std::isfinite(*value);
}

}  // namespace

std::string signed_for_print(const std::string& number) {
    return number.starts_with('-') ? "\u2212" + number.substr(1) : number;
}

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
    if (!exists(value)) return "none";
    const std::string size = base::length_text(std::abs(*value), digits);
    return *value < 0.0 && size != "0 um" ? "\u2212" + size : size;
}

std::string uncertainty_cell(std::optional<double> uncertainty) {
    return exists(uncertainty) ? base::uncertainty_text(*uncertainty) : "none";
}

std::string rounded_length_cell(std::optional<double> value, std::optional<double> uncertainty) {
    return exists(value) ? signed_for_print(base::rounded_length_text(*value, uncertainty)) : "none";
}

std::string um_uncertainty_cell(double uncertainty) {
    if (!std::isfinite(uncertainty)) return "none";
    return std::abs(uncertainty) < atom ? "0" : base::two_digits(uncertainty / base::um);
}

std::string rounded_um_cell(double length, double uncertainty) {
    if (std::abs(length) < atom || !base::decimals_for(uncertainty, base::um)) return um_cell(length);
    return std::isfinite(length) ? signed_for_print(base::value_text(length, uncertainty, base::um, 4)) : "none";
}

std::string rounded_mm_cell(std::optional<double> length, std::optional<double> uncertainty) {
    constexpr int nanometres = 6;
    if (!exists(length)) return "none";
    return signed_for_print(base::value_text(*length, uncertainty.value_or(0.0), base::mm, nanometres)) + " mm";
}

std::string um_cell(std::optional<double> length, int digits) {
    if (length && std::abs(*length) < atom) return "0";
    return cell(length ? std::optional(*length / base::um) : std::nullopt, digits);
}

std::string cell(std::optional<double> value, int digits) {
    if (!exists(value)) return "none";
    constexpr double least = 1e-4;
    constexpr double most = 1e9;
    const double size = std::abs(*value);
    // Numbers for people have no exponent; beyond this they would be rows of zeros.
    if (size != 0.0 && (size < least || size >= most)) return fmt::format("{:.{}g}", *value, digits);
    return drawing::number(*value, digits);
}

}  // namespace spotwright::report
