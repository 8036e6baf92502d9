// All sensors on one sheet: each to the scale that its panel states.
#include <catch2/catch.hpp>

#include <algorithm>
#include <set>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/shelf.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/summary.hpp"
#include "tests/support/drawing.hpp"

using namespace spotwright;
using base::mm;
using drawing::Vector2;
using test::between, test::check_texts, test::points_in, test::well_formed;

namespace {

std::string sheet() {
    return drawing::draw_shelf(sensor::shelf(""), "Library of sensors");
}

// The panel's scale in page units per millimetre: the last one stated before the sensor. [1/mm]
double scale_at(const std::string& svg, const std::string& id) {
    const std::size_t at = svg.find("id=\"" + id + "\"");
    REQUIRE(at != std::string::npos);
    const std::string head = "data-units-per-mm=\"";
    return std::stod(svg.substr(svg.rfind(head, at) + head.size()));
}

}  // namespace

TEST_CASE("the shelf shows every sensor once, with housing, beam, range and spot", "[drawing]") {
    const std::string svg = sheet();
    CHECK(well_formed(svg));
    check_texts(svg);
    for (const std::string& name : scenario::sensor_names()) {
        CAPTURE(name);
        for (const std::string part : {"body-", "beam-", "range-", "spot-"}) {
            const std::string id = "id=\"" + part + name + "\"";
            CHECK(svg.find(id) != std::string::npos);
            CHECK(svg.find(id) == svg.rfind(id));
        }
    }
}

TEST_CASE("housings and beams are to the scale that the panel states, their fronts at one line", "[drawing]") {
    const std::string svg = sheet();
    std::set<double> lines;
    for (const scenario::Scenario& s : sensor::shelf("")) {
        const sensor::Summary summary = sensor::summary_of(s);
        CAPTURE(summary.name);
        const double scale = scale_at(svg, "body-" + summary.name);
        const std::vector<Vector2> body =
            points_in(between(svg, "<polygon id=\"body-" + summary.name + "\" points=\"", "\""));
        REQUIRE(body.size() == 4);
        constexpr double rounding = 0.003;  // two coordinates of 0.001, and the stated scale's sixth decimal
        CHECK(body[1].x() - body[0].x() == Approx(scale * s.housing.width / mm).margin(rounding));
        CHECK(body[0].y() - body[3].y() == Approx(scale * s.housing.depth / mm).margin(rounding));
        const std::vector<Vector2> beam =
            points_in(between(svg, "<polyline id=\"beam-" + summary.name + "\" points=\"", "\""));
        REQUIRE(beam.size() == 2);
        CHECK(beam[0].y() == Approx(body[0].y()).margin(rounding));
        CHECK(beam[0].x() - body[0].x() == Approx(scale * s.housing.beam_position / mm).margin(rounding));
        lines.insert(body[0].y());
        if (std::holds_alternative<scenario::Triangulation>(s.principle)) {
            const double reach = (s.mount.reference_distance * std::cos(s.emitter.angle) + s.mount.range[1]) / mm;
            CHECK(beam[1].y() - beam[0].y() == Approx(scale * reach).margin(rounding));
        }
    }
    CHECK(lines.size() == 2);
}

TEST_CASE("near and far sensors stand in panels of their own, the far ones at most as large", "[drawing]") {
    const std::vector<scenario::Scenario> shelf = sensor::shelf("");
    const drawing::ShelfPanels panels = drawing::shelf_panels(shelf);
    CHECK(panels.near.size() + panels.far.size() == shelf.size());
    CHECK(panels.left_out.empty());
    const auto is_in = [&](const std::vector<std::size_t>& panel, const std::string& name) {
        return std::any_of(panel.begin(), panel.end(), [&](std::size_t i) { return shelf[i].sensor == name; });
    };
    CHECK(is_in(panels.near, "fine-10"));
    CHECK(is_in(panels.far, "long-1000"));
    CHECK(is_in(panels.far, "phase-3000"));
}

TEST_CASE("a shelf of one sensor, or of far too many, is a sheet as well", "[drawing]") {
    std::vector<scenario::Scenario> shelf = sensor::shelf("");
    const std::vector<scenario::Scenario> one(shelf.begin(), shelf.begin() + 1);
    const std::string alone = drawing::draw_shelf(one, "One");
    CHECK(well_formed(alone));
    check_texts(alone);
    while (shelf.size() <= 2 * drawing::most_in_panel) shelf.push_back(shelf[shelf.size() % 14]);
    const drawing::ShelfPanels panels = drawing::shelf_panels(shelf);
    CHECK(panels.near.size() <= drawing::most_in_panel);
    CHECK(panels.far.size() <= drawing::most_in_panel);
    CHECK(panels.left_out.size() == shelf.size() - 2 * drawing::most_in_panel);
    CHECK(drawing::draw_shelf(shelf, "Many").find("1 sensors that reach farthest are left out") != std::string::npos);
}
