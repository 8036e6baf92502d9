// Data sheets as files: what they say, how precisely, and what is wrong with them.
#include "sim/base/units.hpp"
#include "sim/scenario/sheet.hpp"
#include "tests/support/scenario.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;
using Catch::Contains;

const std::string least = "reference_distance_mm = 45\nrange_mm = [-8, 8]\n";

std::string message_of(const std::string& text) {
    try {
        static_cast<void>(scenario::parse_sheet(text, "sheet.toml"));
    } catch (const ScenarioError& error) {
        return error.what();
    }
    return "no error";
}

}  // namespace

TEST_CASE("a sheet may say little", "[scenario][unit]") {
    const scenario::Sheet sheet = scenario::parse_sheet(least, "sheet.toml");
    CHECK(sheet.reference_distance == Approx(45.0 * mm));
    CHECK(sheet.range[1] == Approx(8.0 * mm));
    CHECK(!sheet.repeatability);
    CHECK(!sheet.wavelength);
}

TEST_CASE("a number is known to half a unit of its last digit", "[scenario][unit]") {
    const auto stated = [](const std::string& value) {
        return *scenario::parse_sheet(least + "[spot]\nin_plane_um = " + value + "\n", "s.toml").spot.in_plane;
    };
    CHECK(stated("64").low == Approx(63.5 * um));
    CHECK(stated("64").high == Approx(64.5 * um));
    CHECK(stated("0.25").low == Approx(0.245 * um));
    CHECK(stated("[60, 70]").low == Approx(60.0 * um));
    CHECK(stated("[60, 70]").high == Approx(70.0 * um));
    // A digit that would let the value be 0 is not believed.
    CHECK(stated("0.5").low == Approx(0.45 * um));
    const scenario::Stated few = scenario::stated(0.03271 * um, um, 2);
    CHECK(few.low == Approx(0.0325 * um));
    CHECK(few.high == Approx(0.0335 * um));
}

TEST_CASE("a sheet as text reads back to the same sheet", "[scenario][unit]") {
    for (const char* name : {"feeler-60.toml", "brief-250.toml", "gate-4000.toml"}) {
        INFO(name);
        const scenario::Sheet sheet =
            scenario::load_sheet(std::filesystem::path(SPOTWRIGHT_SOURCE_DIR) / "scenarios/sheets" / name);
        const scenario::Sheet back = scenario::parse_sheet(scenario::to_toml(sheet), "back.toml");
        CHECK(scenario::to_toml(back) == scenario::to_toml(sheet));
        REQUIRE(back.repeatability);
        CHECK(back.repeatability->value.low == Approx(sheet.repeatability->value.low));
        CHECK(back.repeatability->meaning == sheet.repeatability->meaning);
        CHECK(back.periods.size() == sheet.periods.size());
    }
}

TEST_CASE("a sheet may state the shortest period alone, and a class as a number", "[scenario][unit]") {
    const scenario::Sheet sheet =
        scenario::parse_sheet(least + "[light]\nlaser_class = 2\n[timing]\nshortest_period_us = 250\n", "sheet.toml");
    CHECK(sheet.laser_class == "2");
    CHECK(sheet.shortest_period_only);
    REQUIRE(!sheet.periods.empty());
    CHECK(sheet.periods.front() == Approx(250.0 * us));
    CHECK(sheet.periods.back() > 4.0 * sheet.periods.front());
    CHECK(scenario::to_toml(scenario::parse_sheet(scenario::to_toml(sheet), "b.toml")) == scenario::to_toml(sheet));
    CHECK_THAT(message_of(least + "[timing]\nshortest_period_us = 250\nperiod_us = [250, 500]\n"), Contains("both"));
    CHECK_THAT(message_of(least + "[light]\nlaser_class = 5\n"), Contains("\"3R\""));
}

TEST_CASE("a wrong material of a sheet is told at the sheet's own key", "[scenario][unit]") {
    CHECK_THAT(message_of(least + "[repeatability]\nvalue_um = 0.1\nmaterial = \"white-ceramics\"\n"),
               Contains("sheet.toml:5") && Contains("repeatability.material") && Contains("`white-ceramic`"));
}

TEST_CASE("what is wrong with a sheet is told with its place", "[scenario][unit]") {
    CHECK_THAT(message_of("title = \"x\"\n"), Contains("reference_distance_mm") && Contains("range_mm"));
    CHECK_THAT(message_of(least + "[spot]\nin_plan_um = 3\n"),
               Contains("sheet.toml:4") && Contains("spot.in_plane_um"));
    CHECK_THAT(message_of(least + "[light]\nlaser_class = \"5\"\n"), Contains("\"3R\""));
    CHECK_THAT(message_of(least + "[spot]\nin_plane_um = -3\n"), Contains("a number above 0"));
    CHECK_THAT(message_of(least + "[spot]\nin_plane_um = [5, 3]\n"), Contains("a range [low, high]"));
    CHECK_THAT(message_of(least + "[spot]\nin_plane_um = nan\n"), Contains("a number above 0"));
    CHECK_THAT(message_of(least + "[repeatability]\naverage = 64\n"), Contains("missing"));
    CHECK_THAT(message_of(least + "[timing]\nperiod_us = [200, 100]\n"), Contains("rising"));
    CHECK_THAT(message_of("reference_distance_mm = 45\nrange_mm = [8, -8]\n"), Contains("near end"));
    CHECK_THAT(message_of("reference_distance_mm = 45\nrange_mm = [-50, 8]\n"), Contains("in the sensor"));
    CHECK_THAT(message_of("principle = \"pulse\"\n" + least), Contains("triangulation") && Contains("pulsed"));
    CHECK_THAT(message_of(least + "schema = 2\n"), Contains("cannot use 2"));
}
