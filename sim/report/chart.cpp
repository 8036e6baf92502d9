#include "sim/report/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <sstream>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/record/text.hpp"

namespace spotwright::report {

namespace {

using nlohmann::ordered_json;

// Seven digits are more than a chart can show, and keep the page small.
ordered_json coordinate(double value) {
    if (!std::isfinite(value)) return nullptr;
    return std::strtod(fmt::format("{:.7g}", value).c_str(), nullptr);
}

ordered_json pairs(const std::vector<std::array<double, 2>>& points) {
    ordered_json list = ordered_json::array();
    for (const auto& [x, y] : points) list.push_back(ordered_json::array({coordinate(x), coordinate(y)}));
    return list;
}

ordered_json dash_lengths(std::string_view dashes) {
    ordered_json list = ordered_json::array();
    std::istringstream in{std::string(dashes)};
    for (double length = 0.0; in >> length;) list.push_back(length);
    return list;
}

ordered_json axis_json(const ChartAxis& axis) {
    ordered_json json{{"label", record::valid_utf8(axis.label)}, {"scale", axis.logarithmic ? "log" : "linear"}};
    if (axis.low) json["min"] = coordinate(*axis.low);
    if (axis.high) json["max"] = coordinate(*axis.high);
    if (axis.soft) json["soft"] = true;
    return json;
}

ordered_json curve_json(const ChartCurve& curve) {
    static constexpr std::array<const char*, 3> fills{"none", "area", "band"};
    return {{"label", record::valid_utf8(curve.label)},
            {"points", pairs(curve.points)},
            {"colour", curve.style.colour},
            {"dash", dash_lengths(curve.style.dashes)},
            {"marker", curve.style.marker},
            {"hollow", curve.style.hollow},
            {"width", curve.style.width},
            {"line", curve.line},
            {"stepped", curve.stepped},
            {"fill", fills[static_cast<std::size_t>(curve.fill)]}};
}

// The library's marker as a shape about (0, 0).
std::string marker_shape(const CurveStyle& style) {
    const std::string paint = fmt::format("fill=\"{}\" stroke=\"{}\" stroke-width=\"1.4\"",
                                          style.hollow ? "#fff" : style.colour, style.colour);
    const auto path = [&paint](const char* outline) {
        return fmt::format("<path transform=\"translate(22 6)\" d=\"{}\" {}/>", outline, paint);
    };
    if (style.marker == "circle") return fmt::format("<circle cx=\"22\" cy=\"6\" r=\"3.2\" {}/>", paint);
    if (style.marker == "rect") return path("M-3-3h6v6h-6z");
    if (style.marker == "triangle") return path("M0-3.6l3.6 6.2h-7.2z");
    if (style.marker == "rectRot") return path("M0-4l4 4-4 4-4-4z");
    if (style.marker == "crossRot") return path("M-2.8-2.8l5.6 5.6M2.8-2.8l-5.6 5.6");
    if (style.marker == "cross") return path("M0-4v8M-4 0h8");
    if (style.marker == "star") return path("M0-4v8M-4 0h8M-2.8-2.8l5.6 5.6M2.8-2.8l-5.6 5.6");
    return {};
}

std::string curve_sample(const ChartCurve& curve) {
    std::string sample = "<svg width=\"44\" height=\"12\" aria-hidden=\"true\">";
    if (curve.fill != CurveFill::none) sample += "<rect y=\"1\" width=\"44\" height=\"10\" fill=\"#d9d9d9\"/>";
    if (curve.line && curve.style.width > 0.0) {
        sample += fmt::format("<path d=\"M0 6h44\" stroke=\"{}\" stroke-width=\"{:g}\" stroke-dasharray=\"{}\"/>",
                              curve.style.colour, curve.style.width,
                              curve.style.dashes.empty() ? "none" : curve.style.dashes);
    }
    return sample + marker_shape(curve.style) + "</svg>";
}

std::string bar_sample(const ChartBars& bars) {
    std::string sample = fmt::format(
        "<svg width=\"44\" height=\"12\" aria-hidden=\"true\"><rect x=\"1\" y=\"1\" width=\"28\" height=\"10\" "
        "fill=\"{0}\" stroke=\"{1}\"/>",
        bars.hatched ? "#fff" : bars.colour, bars.colour);
    if (bars.hatched) {
        sample += fmt::format("<path d=\"M2 11L12 1M10 11L20 1M18 11L28 1\" stroke=\"{}\" stroke-width=\"2.4\"/>",
                              bars.colour);
    }
    return sample + "</svg>";
}

std::string legend(const Chart& chart) {
    std::string items;
    for (const ChartCurve& curve : chart.curves) {
        if (curve.label.empty()) continue;
        items += fmt::format("<li>{}{}</li>\n", curve_sample(curve), drawing::escape(curve.label));
    }
    for (const ChartBars& bars : chart.bars) {
        items += fmt::format("<li>{}{}</li>\n", bar_sample(bars), drawing::escape(bars.label));
    }
    return items.empty() ? "" : "<ul class=\"legend\">\n" + items + "</ul>\n";
}

}  // namespace

CurveStyle curve_style(std::size_t index) {
    static constexpr std::array<CurveStyle, curve_styles> styles{{
        {"#000000", "", "circle"},
        {"#0072B2", "7 4", "rect", true},
        {"#E69F00", "2 3", "triangle", false, 2.2},
        {"#D55E00", "12 3 2 3", "rectRot"},
        {"#009E73", "", "crossRot", true, 1.2},
        {"#56B4E9", "14 5", "star", true},
        {"#CC79A7", "4 2", "triangle", true},
        {"#000000", "2 3", "circle", true},
        {"#0072B2", "", "cross", true, 1.2},
        {"#D55E00", "4 2", "star", true},
    }};
    return styles[index % styles.size()];
}

ordered_json chart_json(const Chart& chart) {
    ordered_json json{{"id", "chart-" + chart.id}, {"x", axis_json(chart.x)}, {"y", axis_json(chart.y)}};
    json["sets"] = ordered_json::array();
    for (const ChartCurve& curve : chart.curves) json["sets"].push_back(curve_json(curve));
    if (!chart.bars.empty()) {
        constexpr double label_width = 210.0;
        json["bars"] = true;
        json["y"]["categories"] = ordered_json::array();
        for (const std::string& name : chart.categories) {
            json["y"]["categories"].push_back(drawing::wrap(record::one_line(name), drawing::body_size, label_width));
        }
    }
    for (const ChartBars& bars : chart.bars) {
        json["sets"].push_back({{"label", record::valid_utf8(bars.label)},
                                {"values", pairs(bars.spans)},
                                {"colour", bars.colour},
                                {"hatched", bars.hatched}});
    }
    if (!chart.marks.empty()) {
        json["marks"] = ordered_json::array();
        for (const double mark : chart.marks) json["marks"].push_back(coordinate(mark));
    }
    return json;
}

std::string chart_figure(const Chart& chart) {
    std::string text = fmt::format(
        "<figure class=\"chart\">\n<canvas id=\"chart-{}\" width=\"680\" height=\"{}\" role=\"img\" aria-label=\"{}\" "
        "hidden></canvas>\n{}<figcaption>{}</figcaption>\n</figure>\n",
        chart.id, chart.height, drawing::escape(chart.description), legend(chart), drawing::escape(chart.caption));
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
