// Sensor files: what a scenario takes from them and what it may set.
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "tests/support/scenario.hpp"

namespace {

using namespace spotwright;
using namespace spotwright::base;
using Catch::Contains;

using test::minimal;

std::string first_message(const std::string& text, const std::vector<std::string>& settings = {}) {
    try {
        static_cast<void>(scenario::parse(text, "scenario.toml", settings));
    } catch (const ScenarioError& error) {
        return error.what();
    }
    return "no error";
}

}  // namespace

TEST_CASE("every sensor of the library stands before a white tile", "[scenario][unit]") {
    const std::vector<std::string> names = scenario::sensor_names();
    CHECK(names.size() >= 12);
    for (const std::string& name : names) {
        INFO(name);
        const scenario::Scenario s = scenario::parse("sensor = \"" + name + "\"\n" + minimal);
        CHECK(s.sensor == name);
        CHECK(!s.sensor_file.title.empty());
        CHECK(!s.sensor_file.offers.empty());
    }
}

TEST_CASE("a scenario has the values of its sensor, and its own part", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse("sensor = \"blue-24\"\n" + minimal);
    CHECK(s.emitter.wavelength == Approx(450.0 * nm));
    CHECK(s.mount.reference_distance == Approx(24.0 * mm));
    CHECK(s.target.material == "white-ceramic");
    CHECK(scenario::location_of(s, "emitter.wavelength_nm").file == "sensors/blue-24.toml");
}

TEST_CASE("a scenario sets what its sensor offers, within the offer", "[scenario][unit]") {
    const std::string head = "sensor = \"short-45\"\n" + minimal;
    const scenario::Scenario s =
        scenario::parse(head + "[exposure]\nmode = \"fixed\"\nexposure_us = 20.0\n[reading]\naverage = 64\n");
    CHECK(s.exposure.exposure == Approx(20.0 * us));
    CHECK(s.reading.average == 64);
    CHECK_THAT(first_message(head + "[reading]\naverage = 3\n"),
               Contains("does not offer this value: 3") && Contains("1, 2, 4"));
    CHECK_THAT(first_message(head + "[exposure]\nexposure_us = 0.1\n"), Contains("0.2 to 7900 us"));
    CHECK_THAT(first_message(head + "[reading]\npeak = \"gauss3\"\n"), Contains("does not offer this key"));
    CHECK_THAT(first_message(head, {"receiver.aperture_mm=9"}),
               Contains("does not offer this key") && Contains("design.receiver.aperture_mm"));
}

TEST_CASE("what the user does with a sensor needs no offer", "[scenario][unit]") {
    const scenario::Scenario s =
        scenario::parse("sensor = \"short-45\"\n" + minimal +
                        "[mount]\ntilt_deg = [5.0, 0.0]\n[requirement]\ntolerance_um = 3.0\n[run]\nreadings = 64\n");
    CHECK(s.mount.tilt[0] == Approx(5.0 * degree));
    CHECK(s.run.readings == 64);
}

TEST_CASE("a designer changes a sensor by the prefix `design.`", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse("sensor = \"short-45\"\n" + minimal, "scenario.toml",
                                                 std::vector<std::string>{"design.receiver.aperture_mm=9"});
    CHECK(s.receiver.aperture.in_plane == Approx(9.0 * mm));
    // It stays when another key is set later.
    const scenario::Scenario later = scenario::with_settings(s, std::vector<std::string>{"target.displacement_mm=1"});
    CHECK(later.receiver.aperture.in_plane == Approx(9.0 * mm));
    CHECK(scenario::find_key_of("design.receiver.aperture_mm") == scenario::find_key_of("receiver.aperture_mm"));
}

TEST_CASE("another sensor before the same part keeps what the user wrote", "[scenario][unit]") {
    const std::string text = minimal + "[reading]\naverage = 16\n[mount]\ntilt_deg = [3.0, 0.0]\n";
    const scenario::Scenario first = scenario::parse("sensor = \"short-45\"\n" + text);
    const scenario::Scenario second = scenario::with_settings(first, std::vector<std::string>{"sensor=middle-110"});
    const scenario::Scenario direct = scenario::parse("sensor = \"middle-110\"\n" + text);
    CHECK(scenario::to_toml(second) == scenario::to_toml(direct));
    CHECK(second.reading.average == 16);
    // And back: nothing of the second sensor is left.
    const scenario::Scenario back = scenario::with_settings(second, std::vector<std::string>{"sensor=short-45"});
    CHECK(scenario::to_toml(back) == scenario::to_toml(first));
}

TEST_CASE("a whole scenario as text holds the sensor's values and needs no sensor", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse("sensor = \"mirror-36\"\n" + minimal);
    const scenario::Scenario alone = scenario::parse(scenario::to_toml(s));
    CHECK(alone.sensor.empty());
    CHECK(alone.receiver == s.receiver);
    CHECK(alone.mount.range == s.mount.range);
}

TEST_CASE("a scenario as its user wrote it reads back to the same sensor and the same values", "[scenario][unit]") {
    const scenario::Scenario s = scenario::parse("sensor = \"short-45\"\n" + minimal + "[reading]\naverage = 16\n",
                                                 "a.toml", std::vector<std::string>{"design.receiver.aperture_mm=9"});
    const scenario::WrittenScenario written = scenario::as_written(s);
    const scenario::Scenario back = scenario::parse(written.toml, "a.toml", written.settings);
    CHECK(back.sensor == "short-45");
    CHECK(scenario::to_toml(back) == scenario::to_toml(s));
    CHECK(written.toml.find("focal_length") == std::string::npos);
}

TEST_CASE("a sensor file of one's own lies beside the scenario", "[scenario][unit]") {
    const test::TemporaryFolder folder;
    std::ofstream(folder.path() / "mine.toml")
        << "schema = 1\ntitle = \"Mine\"\n[mount]\nreference_distance_mm = 60\nrange_mm = [-6, "
           "6]\n[emitter]\nwavelength_nm = 520\n"
           "[[ensemble]]\nreceiver = { angle_deg = 25.0 }\n[[ensemble]]\nemitter = { waist_radius_um = [30, 40] }\n";
    std::ofstream(folder.path() / "case.toml") << "sensor = \"mine.toml\"\n" << minimal;
    const scenario::Scenario s = scenario::load(folder.path() / "case.toml");
    CHECK(s.emitter.wavelength == Approx(520.0 * nm));
    const std::vector<scenario::Scenario> members = scenario::ensemble_of(s);
    REQUIRE(members.size() == 2);
    CHECK(members[0].receiver.angle == Approx(25.0 * degree));
    CHECK(members[1].emitter.waist_radius[1] == Approx(40.0 * um));
    CHECK(members[1].emitter.wavelength == s.emitter.wavelength);
}

TEST_CASE("what is wrong with a sensor file is told with its place", "[scenario][unit]") {
    const test::TemporaryFolder folder;
    const auto message = [&folder](const std::string& sensor) {
        std::ofstream(folder.path() / "s.toml") << sensor;
        std::ofstream(folder.path() / "case.toml") << "sensor = \"s.toml\"\n" << minimal;
        try {
            static_cast<void>(scenario::load(folder.path() / "case.toml"));
        } catch (const ScenarioError& error) {
            return std::string(error.what());
        }
        return std::string("no error");
    };
    CHECK_THAT(message("schema = 1\n[target]\nmaterial = \"mirror\"\n"),
               Contains("s.toml:3") && Contains("belongs to the scenario"));
    CHECK_THAT(message("schema = 1\n[emitter]\nwavelenght_nm = 600\n"), Contains("wavelength_nm"));
    CHECK_THAT(message("schema = 1\n[offers]\nexposure.expsure_us = [1]\n"), Contains("no such key to offer"));
    CHECK_THAT(message("schema = 1\n[offers]\ntarget.material = [\"mirror\"]\n"), Contains("every user may set"));
    CHECK_THAT(message("schema = 1\n[offers]\nexposure.exposure_us = { from = 5, to = 1 }\n"), Contains("no range"));
    CHECK_THAT(message("schema = 1\n[offers]\nexposure.exposure_us = { from = 5 }\n"), Contains("no range"));
    CHECK_THAT(message("schema = 1\nensemble = 3\n"), Contains("tables"));
    CHECK_THAT(first_message("sensor = \"short45\"\n" + minimal), Contains("no such sensor") && Contains("short-45"));
    CHECK_THAT(first_message("sensor = 5\n" + minimal), Contains("text in quotes"));
}
