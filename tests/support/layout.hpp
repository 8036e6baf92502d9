// What the tests of drawings share: a drawing from settings, and what stands in it.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/base/units.hpp"
#include "sim/drawing/layout.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/drawing.hpp"

namespace spotwright::test::layout {

using drawing::Vector2;
using test::apart, test::check_texts, test::corners_of, test::DrawnText, test::polyline, test::texts, test::well_formed;

// Coordinates are written to 0.001: a distance between two of them is off by sqrt(2) * 0.001 at most.
inline constexpr double rounding = 0.0015;

struct Drawn {
    scenario::Scenario scenario;
    sensor::Layout layout;
    std::string svg;
};

inline Drawn draw(const std::vector<std::string>& settings) {
    Drawn drawn;
    drawn.scenario = scenario::parse(
        "schema = 1\ntitle = \"Gauge on a bench\"\n[target]\nmaterial = \"white-ceramic\"\n", "scenario", settings);
    drawn.layout = sensor::make_layout(drawn.scenario);
    drawn.svg = drawing::draw_layout(drawn.scenario, drawn.layout);
    return drawn;
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

inline drawing::Box box_of(const DrawnText& text) {
    const double width = drawing::text_width(text.words, text.size);
    const double shift = text.anchor == "start" ? 0.0 : text.anchor == "middle" ? -0.5 * width : -width;
    return {text.at.x() + shift, text.at.y() - 0.75 * text.size, text.at.x() + shift + width,
            text.at.y() + 0.1 * text.size};
}

inline constexpr double page_width = 1123.0;
inline constexpr double page_height = 794.0;

}  // namespace spotwright::test::layout
