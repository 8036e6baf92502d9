// Reading a drawing back: texts, lines and their places, as the tests of drawings need them.
#pragma once

#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <regex>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::test {

using drawing::Vector2;

/// What stands between `before` and `after`, from `start` on; empty where either is missing.
inline std::string between(const std::string& text, const std::string& before, const std::string& after,
                           std::size_t start = 0) {
    const std::size_t found = text.find(before, start);
    if (found == std::string::npos) return {};
    const std::size_t begin = found + before.size();
    const std::size_t end = text.find(after, begin);
    return end == std::string::npos ? std::string{} : text.substr(begin, end - begin);
}

/// Points of a list as SVG writes it.
inline std::vector<Vector2> points_in(const std::string& list) {
    std::vector<Vector2> points;
    for (std::size_t at = 0; at < list.size();) {
        const std::size_t comma = list.find(',', at);
        const std::size_t end = std::min(list.find(' ', at), list.size());
        points.emplace_back(std::stod(list.substr(at, comma - at)), std::stod(list.substr(comma + 1, end - comma - 1)));
        at = end + 1;
    }
    return points;
}

/// Points of the polyline with this identifier; none where there is no such line.
inline std::vector<Vector2> polyline(const std::string& svg, const std::string& id) {
    return points_in(between(svg, "<polyline id=\"" + id + "\" points=\"", "\""));
}

struct DrawnText {
    Vector2 at;
    double size;
    std::string anchor;
    double turn_deg;
    std::string words;
};

inline std::string unescaped(std::string words) {
    const std::array<std::pair<std::string_view, std::string_view>, 4> entities{
        {{"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&amp;", "&"}}};
    for (const auto& [entity, character] : entities) {
        for (std::size_t at = words.find(entity); at != std::string::npos; at = words.find(entity, at + 1)) {
            words.replace(at, entity.size(), character);
        }
    }
    return words;
}

/// Texts are found by hand: a regular expression over a whole drawing takes minutes under the sanitizers.
inline std::vector<DrawnText> texts(const std::string& svg) {
    const std::string head = "<text x=\"";
    std::vector<DrawnText> list;
    for (std::size_t at = svg.find(head); at != std::string::npos; at = svg.find(head, at + 1)) {
        const std::string tag = svg.substr(at, svg.find('>', at) - at);
        const std::string anchor = between(tag, "text-anchor=\"", "\"");
        const std::string turn = between(tag, "rotate(", " ");
        list.push_back({{std::stod(between(tag, " x=\"", "\"")), std::stod(between(tag, " y=\"", "\""))},
                        std::stod(between(tag, "font-size=\"", "\"")),
                        anchor.empty() ? "start" : anchor,
                        turn.empty() ? 0.0 : std::stod(turn),
                        unescaped(between(svg, ">", "</text>", at))});
    }
    return list;
}

/// Corners of the rectangle that a text fills on the page, its turn included.
inline std::array<Vector2, 4> corners_of(const DrawnText& text) {
    const double width = drawing::text_width(text.words, text.size);
    const double left = text.anchor == "start" ? 0.0 : text.anchor == "middle" ? -0.5 * width : -width;
    const double angle = text.turn_deg * base::degree;
    const Vector2 along(std::cos(angle), std::sin(angle));
    const Vector2 down(-std::sin(angle), std::cos(angle));
    const auto corner = [&](double x, double y) { return Vector2(text.at + x * along + y * down); };
    const double top = -0.75 * text.size;
    const double bottom = 0.1 * text.size;
    return {corner(left, top), corner(left + width, top), corner(left + width, bottom), corner(left, bottom)};
}

/// Whether a line along a side of one of two rectangles parts them.
inline bool apart(const std::array<Vector2, 4>& one, const std::array<Vector2, 4>& other) {
    for (const auto* rectangle : {&one, &other}) {
        for (const std::size_t side : {0U, 1U}) {
            const Vector2 axis = (*rectangle)[side + 1] - (*rectangle)[side];
            const auto extent = [&axis](const std::array<Vector2, 4>& corners) {
                std::array<double, 4> places{};
                for (std::size_t i = 0; i < places.size(); ++i) places[i] = axis.dot(corners[i]);
                const auto [low, high] = std::minmax_element(places.begin(), places.end());
                return std::array<double, 2>{*low, *high};
            };
            const std::array<double, 2> a = extent(one);
            const std::array<double, 2> b = extent(other);
            if (a[1] <= b[0] || b[1] <= a[0]) return true;
        }
    }
    return false;
}

/// Texts have the sizes of the palette, stay on the page, and none lies over another.
inline void check_texts(const std::string& svg) {
    std::vector<DrawnText> passed;
    for (const DrawnText& text : texts(svg)) {
        CAPTURE(text.words);
        CHECK((text.size == drawing::body_size || text.size == drawing::small_size ||
               text.size == drawing::heading_size || text.size == drawing::title_size));
        const std::array<Vector2, 4> corners = corners_of(text);
        for (const Vector2& corner : corners) {
            CHECK(corner.x() > 0.0);
            CHECK(corner.x() < 1123.0);
            CHECK(corner.y() > 0.0);
            CHECK(corner.y() < 794.0);
        }
        for (const DrawnText& other : passed) {
            if (apart(corners, corners_of(other))) continue;
            CAPTURE(other.words);
            CHECK(false);
        }
        passed.push_back(text);
    }
}

/// One tag, `<` and `>` left out: a name, then attributes in quotes.
inline bool well_formed_tag(std::string_view tag) {
    static const std::string name = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789:-";
    std::size_t at = std::min(tag.find_first_not_of(name), tag.size());
    if (at == 0) return false;
    while (at < tag.size()) {
        if (tag[at] != ' ') return false;
        const std::size_t equals = std::min(tag.find_first_not_of(name, at + 1), tag.size());
        if (equals == at + 1 || tag.substr(equals, 2) != "=\"") return false;
        const std::size_t end = tag.find('"', equals + 2);
        if (end == std::string_view::npos) return false;
        at = end + 1;
    }
    return true;
}

/// Every tag closed in order, attributes quoted, no stray markup in the text. The Python tests parse it in full.
inline bool well_formed(const std::string& svg) {
    std::vector<std::string> open;
    std::size_t at = 0;
    while (at < svg.size()) {
        if (svg[at] == '&') {
            constexpr std::array entities{"&amp;", "&lt;", "&gt;", "&quot;"};
            if (std::none_of(entities.begin(), entities.end(), [&](const char* entity) {
                    return svg.compare(at, std::string(entity).size(), entity) == 0;
                }))
                return false;
        }
        if (svg[at] == '>') return false;
        if (svg[at] != '<') {
            ++at;
            continue;
        }
        const std::size_t end = svg.find('>', at);
        if (end == std::string::npos) return false;
        std::string tag = svg.substr(at + 1, end - at - 1);
        at = end + 1;
        if (tag.find('<') != std::string::npos) return false;
        if (tag.front() == '?') continue;
        if (tag.front() == '/') {
            if (open.empty() || open.back() != tag.substr(1)) return false;
            open.pop_back();
            continue;
        }
        const bool alone = tag.back() == '/';
        if (alone) tag.pop_back();
        while (alone && tag.back() == ' ') tag.pop_back();
        if (!well_formed_tag(tag)) return false;
        if (!alone) open.push_back(tag.substr(0, tag.find(' ')));
    }
    return open.empty();
}

}  // namespace spotwright::test
