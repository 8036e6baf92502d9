// What the tests of drawings share: a drawing from settings, and what stands in it.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/base/units.hpp"
#include "sim/record/layout_drawing.hpp"
#include "sim/record/svg_canvas.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::test::layout {

using record::Vector2;

// Coordinates are written to 0.001: a distance between two of them is off by sqrt(2) * 0.001 at most.
inline constexpr double rounding = 0.0015;

struct Drawn {
    scenario::Scenario scenario;
    study::Layout layout;
    std::string svg;
};

inline Drawn draw(const std::vector<std::string>& settings) {
    Drawn drawn;
    drawn.scenario = scenario::parse(
        "schema = 1\ntitle = \"Gauge on a bench\"\n[target]\nmaterial = \"white-ceramic\"\n", "scenario", settings);
    drawn.layout = study::make_layout(drawn.scenario);
    drawn.svg = record::draw_layout(drawn.scenario, drawn.layout);
    return drawn;
}

inline std::vector<Vector2> polyline(const std::string& svg, const std::string& id) {
    const std::string start = "<polyline id=\"" + id + "\" points=\"";
    const std::size_t at = svg.find(start);
    if (at == std::string::npos) return {};
    std::istringstream list(svg.substr(at + start.size(), svg.find('"', at + start.size()) - at - start.size()));
    std::vector<Vector2> points;
    double x = 0.0;
    double y = 0.0;
    char comma = ' ';
    while (list >> x >> comma >> y) points.emplace_back(x, y);
    return points;
}

inline double cross(const Vector2& a, const Vector2& b) {
    return a.x() * b.y() - a.y() * b.x();
}

inline double distance_to_line(const Vector2& p, const Vector2& a, const Vector2& b) {
    return std::abs(cross(b - a, p - a)) / (b - a).norm();
}

// Page units per metre, from the face and the reference point as drawn.
inline double drawn_scale(const Drawn& d) {
    const Vector2 face = polyline(d.svg, "beam-axis").front();
    const Vector2 reference = polyline(d.svg, "chief-ray-reference").front();
    return (face - reference).norm() / d.scenario.mount.reference_distance;
}

struct DrawnText {
    Vector2 at;
    double size;
    std::string anchor;
    double turn_deg;
    std::string words;
};

inline std::string unescaped(std::string words) {
    const std::array<std::pair<const char*, const char*>, 4> entities{
        {{"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&amp;", "&"}}};
    for (const auto& [entity, character] : entities) words = std::regex_replace(words, std::regex(entity), character);
    return words;
}

inline std::vector<DrawnText> texts(const std::string& svg) {
    static const std::regex element(
        "<text x=\"([-0-9.]+)\" y=\"([-0-9.]+)\" font-size=\"([0-9.]+)\"([^>]*)>([^<]*)</text>");
    std::vector<DrawnText> list;
    for (std::sregex_iterator it(svg.begin(), svg.end(), element), end; it != end; ++it) {
        const std::string rest = (*it)[4];
        std::smatch anchor;
        std::smatch turn;
        const bool is_turned = std::regex_search(rest, turn, std::regex("rotate\\(([-0-9.]+) "));
        const bool has_anchor = std::regex_search(rest, anchor, std::regex("text-anchor=\"([a-z]+)\""));
        list.push_back({{std::stod((*it)[1]), std::stod((*it)[2])},
                        std::stod((*it)[3]),
                        has_anchor ? anchor[1].str() : "start",
                        is_turned ? std::stod(turn[1]) : 0.0,
                        unescaped((*it)[5])});
    }
    return list;
}

inline record::Box box_of(const DrawnText& text) {
    const double width = record::text_width(text.words, text.size);
    const double shift = text.anchor == "start" ? 0.0 : text.anchor == "middle" ? -0.5 * width : -width;
    return {text.at.x() + shift, text.at.y() - 0.75 * text.size, text.at.x() + shift + width,
            text.at.y() + 0.1 * text.size};
}

// The box of a text, turned with it.
inline std::array<Vector2, 4> corners_of(const DrawnText& text) {
    const record::Box box = box_of(text);
    const double turn = text.turn_deg * base::degree;
    std::array<Vector2, 4> corners{Vector2(box.left, box.top), Vector2(box.right, box.top),
                                   Vector2(box.right, box.bottom), Vector2(box.left, box.bottom)};
    for (Vector2& corner : corners) {
        const Vector2 d = corner - text.at;
        corner = text.at + Vector2(std::cos(turn) * d.x() - std::sin(turn) * d.y(),
                                   std::sin(turn) * d.x() + std::cos(turn) * d.y());
    }
    return corners;
}

// Two rectangles are apart where they are so along a side of one of them.
inline bool are_apart(const std::array<Vector2, 4>& a, const std::array<Vector2, 4>& b) {
    for (const auto* box : {&a, &b}) {
        for (const std::size_t i : {0U, 1U}) {
            const Vector2 axis = (*box)[i + 1] - (*box)[i];
            const auto reach = [&axis](const std::array<Vector2, 4>& corners) {
                std::array<double, 4> along{};
                std::transform(corners.begin(), corners.end(), along.begin(),
                               [&axis](const Vector2& corner) { return axis.dot(corner); });
                return std::minmax({along[0], along[1], along[2], along[3]});
            };
            const auto [a_low, a_high] = reach(a);
            const auto [b_low, b_high] = reach(b);
            if (a_low >= b_high || b_low >= a_high) return true;
        }
    }
    return false;
}

inline constexpr double page_width = 1123.0;
inline constexpr double page_height = 794.0;

// Checks that texts have one of the known sizes, lie on the page and off each other.
inline void check_texts(const std::string& svg) {
    std::vector<DrawnText> before;
    for (const DrawnText& text : texts(svg)) {
        CAPTURE(text.words);
        CHECK((text.size == record::body_size || text.size == record::small_size || text.size == record::heading_size ||
               text.size == record::title_size));
        for (const Vector2& corner : corners_of(text)) {
            CHECK(corner.x() > 0.0);
            CHECK(corner.x() < page_width);
            CHECK(corner.y() > 0.0);
            CHECK(corner.y() < page_height);
        }
        for (const DrawnText& other : before) {
            if (are_apart(corners_of(text), corners_of(other))) continue;
            CAPTURE(other.words);
            CHECK(false);
        }
        before.push_back(text);
    }
}

// Every tag closed in order, attributes quoted, no stray markup in the text. The Python tests parse it in full.
inline bool well_formed(const std::string& svg) {
    static const std::regex piece(
        R"(<\?xml[^<>]*\?>|<(/?)([a-z]+)((?: [A-Za-z0-9:-]+="[^"<]*")*)(/?)>|[^<>&]+|&(?:amp|lt|gt|quot);)");
    std::vector<std::string> open;
    std::string::const_iterator at = svg.begin();
    std::smatch match;
    while (at != svg.end()) {
        if (!std::regex_search(at, svg.end(), match, piece, std::regex_constants::match_continuous)) return false;
        at = match[0].second;
        if (!match[2].matched || match[4].length() > 0) continue;
        if (match[1].length() == 0) {
            open.push_back(match[2]);
        } else {
            if (open.empty() || open.back() != match[2]) return false;
            open.pop_back();
        }
    }
    return open.empty();
}

}  // namespace spotwright::test::layout
