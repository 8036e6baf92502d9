// The housing in the drawing of a mounting: where it stands, what it leaves of the rest, and what it says.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/flight_layout.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/summary.hpp"
#include "tests/support/layout.hpp"

// In the namespace of what it uses: files of other drawings have a `Drawn` of their own.
namespace spotwright::test::layout {

using base::mm, base::degree;

namespace {

Drawn draw_sensor(const std::string& name, const std::vector<std::string>& settings = {}) {
    Drawn drawn;
    drawn.scenario = scenario::parse(
        "schema = 1\nsensor = \"" + name + "\"\ntitle = \"On a bench\"\n[target]\nmaterial = \"white-ceramic\"\n",
        "scenario", settings);
    drawn.layout = sensor::make_layout(drawn.scenario);
    drawn.svg = drawing::draw_layout(drawn.scenario, drawn.layout);
    return drawn;
}

std::vector<Vector2> polygon(const std::string& svg, const std::string& id) {
    return test::points_in(test::between(svg, "<polygon id=\"" + id + "\" points=\"", "\""));
}

bool says(const std::string& svg, const std::string& words) {
    for (const DrawnText& text : texts(svg)) {
        if (text.words.find(words) != std::string::npos) return true;
    }
    return false;
}

bool is_triangulation(const scenario::Scenario& s) {
    return std::holds_alternative<scenario::Triangulation>(s.principle);
}

}  // namespace

TEST_CASE("the housing is drawn where its corners are", "[drawing]") {
    const Drawn d = draw_sensor("short-45", {"design.housing.depth_mm=30"});  // a deeper one is broken
    const double scale = drawn_scale(d);
    const Vector2 reference = polyline(d.svg, "chief-ray-reference").front();
    const auto body = sensor::body_of(d.scenario);
    REQUIRE(body);
    const std::vector<Vector2> drawn = polygon(d.svg, "housing");
    REQUIRE(drawn.size() == 4);
    for (std::size_t i = 0; i < drawn.size(); ++i) {
        CHECK(drawn[i].x() == Approx(reference.x() + scale * (*body)[i].x()).margin(2.0 * rounding));
        CHECK(drawn[i].y() == Approx(reference.y() - scale * (*body)[i].y()).margin(2.0 * rounding));
    }
    const std::vector<Vector2> window = polyline(d.svg, "window-emitter");
    REQUIRE(window.size() == 2);
    CHECK(window[1].x() - window[0].x() == Approx(scale * 6.0 * mm).margin(2.0 * rounding));
    CHECK(0.5 * (window[0].x() + window[1].x()) == Approx(reference.x()).margin(rounding));
}

TEST_CASE("the clearance that the drawing states is that of the part as it stands", "[drawing]") {
    for (const double tilt : {-20.0, 0.0, 20.0}) {
        CAPTURE(tilt);
        const Drawn d =
            draw_sensor("short-45", {"target.tilt_deg=[" + std::to_string(tilt) + ",0]", "target.displacement_mm=3"});
        // The front spans x = -14 to 54 mm at z = 45 mm; the part's plane goes through (0, -3 mm).
        const double t = tilt * degree;
        const double x = tilt > 0.0 ? -14.0 : 54.0;
        const double clearance = tilt == 0.0 ? 48.0 : x * std::sin(t) + 48.0 * std::cos(t);
        CHECK(says(test::between(d.svg, "<g id=\"clearance\">", "</g>"), drawing::number(clearance) + " mm"));
    }
}

TEST_CASE("every sensor of the library is drawn legibly, with and without tilts", "[drawing]") {
    const std::vector<std::vector<std::string>> tilts{{}, {"target.tilt_deg=[20,0]"}, {"mount.tilt_deg=[20,0]"}};
    for (const scenario::Scenario& s : sensor::shelf("")) {
        for (const std::vector<std::string>& settings : tilts) {
            CAPTURE(s.sensor, settings);
            if (is_triangulation(s)) {
                const Drawn d = draw_sensor(s.sensor, settings);
                check_texts(d.svg);
                CHECK(well_formed(d.svg));
                CHECK_FALSE(polygon(d.svg, "housing").empty());
                CHECK(says(d.svg, "room"));
                continue;
            }
            const scenario::Scenario flight =
                scenario::parse("schema = 1\nsensor = \"" + s.sensor + "\"\n[target]\nmaterial = \"white-ceramic\"\n",
                                "scenario", settings);
            const std::string svg = drawing::draw_layout(flight, sensor::make_flight_layout(flight));
            check_texts(svg);
            CHECK(well_formed(svg));
            CHECK(says(svg, "room needed"));
            CHECK(says(svg, "clearance"));
        }
    }
}

TEST_CASE("a housing far larger than the range is broken, so that the rest keeps its size", "[drawing]") {
    const Drawn usual = draw_sensor("short-45", {"design.housing.depth_mm=30"});
    const Drawn deep = draw_sensor("short-45", {"design.housing.depth_mm=900"});
    CHECK(polygon(usual.svg, "housing-back").empty());
    CHECK_FALSE(polygon(deep.svg, "housing-back").empty());
    CHECK(drawn_scale(deep) > 0.7 * drawn_scale(usual));
    CHECK(says(deep.svg, "it is 900 mm deep"));
    CHECK(says(deep.svg, "953 mm"));  // room: 45 + 8 + 900
    check_texts(deep.svg);
}

TEST_CASE("what does not fit stands in the remarks", "[drawing]") {
    CHECK_FALSE(says(draw_sensor("short-45").svg, "Warning"));
    const Drawn narrow = draw_sensor("short-45", {"design.housing.width_mm=20"});
    CHECK(says(narrow.svg, "Warning: the lens stands outside the housing"));
    check_texts(narrow.svg);
}

}  // namespace spotwright::test::layout
