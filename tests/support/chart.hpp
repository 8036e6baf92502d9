// Reading a chart back: its plot, its scales, its curves and its legend, as whoever looks at it finds them.
#pragma once

#include <catch2/catch.hpp>

#include <sstream>
#include <string>
#include <vector>

#include "sim/drawing/chart.hpp"
#include "tests/support/drawing.hpp"

namespace spotwright::test {

/// How often words stand in a text.
inline std::size_t times(const std::string& text, const std::string& words) {
    std::size_t count = 0;
    for (std::size_t at = text.find(words); at != std::string::npos; at = text.find(words, at + 1)) ++count;
    return count;
}

/// An axis as the plot states it.
struct DrawnAxis {
    double low = 0.0;
    double high = 0.0;
    double start = 0.0;
    double end = 0.0;
    bool logarithmic = false;

    [[nodiscard]] double value(double place) const {
        const double share = (place - start) / (end - start);
        return logarithmic ? std::exp(std::log(low) + share * (std::log(high) - std::log(low)))
                           : low + share * (high - low);
    }
};

inline DrawnAxis axis_of(const std::string& svg, const std::string& name) {
    std::istringstream in(between(between(svg, "class=\"plot\"", ">"), " data-" + name + "=\"", "\""));
    DrawnAxis axis;
    std::string kind;
    in >> axis.low >> axis.high >> axis.start >> axis.end >> kind;
    REQUIRE((kind == "log" || kind == "linear"));
    axis.logarithmic = kind == "log";
    return axis;
}

struct DrawnTick {
    double place;
    std::string label;
};

/// Labelled ticks, from the lines and words of the axis's group: the coordinate is x or y.
inline std::vector<DrawnTick> ticks_of(const std::string& svg, const std::string& chart, const std::string& axis) {
    const std::string group = between(svg, "<g id=\"" + chart + "-" + axis + "-axis\">", "</g>");
    std::vector<DrawnTick> ticks;
    std::size_t at = 0;
    for (const DrawnText& text : texts(group)) {
        at = group.find("<line ", at);
        REQUIRE(at != std::string::npos);
        ticks.push_back({std::stod(between(group, " " + axis + "1=\"", "\"", at)), text.words});
        ++at;
    }
    return ticks;
}

/// A curve as it is drawn: the stretches of its line, where each is an own list of points.
struct DrawnCurve {
    std::string name;
    std::string colour;
    std::vector<std::vector<Vector2>> stretches;

    [[nodiscard]] std::vector<Vector2> points() const {
        std::vector<Vector2> all;
        for (const auto& stretch : stretches) all.insert(all.end(), stretch.begin(), stretch.end());
        return all;
    }
};

inline std::vector<DrawnCurve> curves_of(const std::string& svg) {
    std::vector<DrawnCurve> curves;
    const std::string start = "<g class=\"curve\">";
    for (std::size_t at = svg.find(start); at != std::string::npos; at = svg.find(start, at + 1)) {
        const std::string group = between(svg, start, "</g>", at);
        DrawnCurve curve{unescaped(between(group, "<title>", "</title>")), between(group, " stroke=\"", "\""), {}};
        const std::string line = "<polyline ";
        for (std::size_t in = group.find(line); in != std::string::npos; in = group.find(line, in + 1)) {
            curve.stretches.push_back(points_in(between(group, "points=\"", "\"", in)));
        }
        curves.push_back(curve);
    }
    return curves;
}

/// The words of the legend.
inline std::vector<std::string> legend_of(const std::string& svg) {
    std::vector<std::string> words;
    for (const DrawnText& text : texts(between(svg, "<g class=\"legend\">", "</g>"))) words.push_back(text.words);
    return words;
}

/// What is told of each bar.
inline std::vector<std::string> bars_of(const std::string& svg) {
    std::vector<std::string> words;
    const std::string start = "<g class=\"bar\">";
    for (std::size_t at = svg.find(start); at != std::string::npos; at = svg.find(start, at + 1)) {
        words.push_back(unescaped(between(svg, "<title>", "</title>", at)));
    }
    return words;
}

/// The charts of a page, by identifier, in order.
inline std::vector<std::string> chart_ids(const std::string& page) {
    std::vector<std::string> ids;
    const std::string start = "class=\"chart\" id=\"";
    for (std::size_t at = page.find(start); at != std::string::npos; at = page.find(start, at + 1)) {
        ids.push_back(between(page, start, "\"", at));
    }
    return ids;
}

/// The SVG of one of them.
inline std::string chart_in(const std::string& page, const std::string& id) {
    return between(page, "class=\"chart\" id=\"" + id + "\"", "</svg>");
}

}  // namespace spotwright::test
