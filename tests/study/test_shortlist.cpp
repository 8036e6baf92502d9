// Sensors of the shelf for a job: geometry by hand, closed forms against what they bound, order and reasons.
#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/job.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/toml_source.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/summary.hpp"
#include "sim/study/shortlist.hpp"
#include "tests/support/scenario.hpp"

using namespace spotwright;
using base::degree, base::mm, base::ms;

namespace {

scenario::Job job_of(const std::string& material, const std::string& window, double span_mm,
                     const std::string& more = "") {
    return scenario::parse_job(
        fmt::format("[job]\nclearance_mm = {}\nspan_mm = {}\n{}[run]\npatches = 32\n[[part]]\n"
                    "[part.target]\nmaterial = \"{}\"\n",
                    window, span_mm, more, material));
}

scenario::Scenario sensor_of(const std::string& name) {
    for (const scenario::Scenario& s : sensor::shelf("")) {
        if (s.sensor == name) return s;
    }
    throw base::InternalError("no such sensor: " + name);
}

bool has(const study::RankedSensor& ranked, study::Shortfall kind) {
    return std::any_of(ranked.shortcomings.begin(), ranked.shortcomings.end(),
                       [kind](const study::Shortcoming& s) { return s.kind == kind; });
}

}  // namespace

TEST_CASE("a tilted housing comes nearer with its lower corner", "[shortlist]") {
    // A front of 68 mm whose beam leaves 14 mm from one side, 45 mm over the part: turned by a about the reference
    // point, the corners stand at 45 cos a -+ x sin a, x = -14 and 54. By hand.
    const scenario::Scenario s = sensor_of("short-45");
    CHECK(study::front_clearance(s, 0.0) == Approx(45.0 * mm));
    const double tilt = -15.0 * degree;
    const double by_hand = 45.0 * mm * std::cos(tilt) + std::min(14.0 * std::sin(tilt), -54.0 * std::sin(tilt)) * mm;
    CHECK(study::front_clearance(s, tilt) == Approx(by_hand));
    // As `layout` has it, for every sensor whose body is known.
    for (const scenario::Scenario& each : sensor::shelf("")) {
        for (const double turned : {0.0, -0.2, 0.3}) {
            scenario::Scenario mounted = each;
            mounted.mount.tilt[0] = turned;
            const auto room = sensor::room_of(mounted);
            if (room) CHECK(study::front_clearance(each, turned) == Approx(room->clearance));
        }
    }
}

TEST_CASE("where no place in the window lies in the range, a sensor is out, and nowhere else", "[shortlist]") {
    // Against a search over places.
    const std::vector<scenario::Scenario> shelf = sensor::shelf("");
    std::mt19937 random(7);
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    int out = 0;
    for (int i = 0; i < 40; ++i) {
        const double least = std::exp(std::log(8.0) + unit(random) * std::log(80.0));
        const double most = least * (1.05 + 2.0 * unit(random));
        const double span = (most - least) * unit(random);
        const scenario::Job job = job_of("white-ceramic", fmt::format("[{}, {}]", least, most), span);
        for (const scenario::Scenario& s : shelf) {
            study::SensorSetup setup;
            const bool ruled_out = study::place_sensor(job, s, setup).has_value();
            const double front = study::front_clearance(s, 0.0);
            bool found = false;
            constexpr int places = 20000;
            const auto [near, far] = s.mount.range;
            for (int k = 0; k <= places && !found; ++k) {
                const double middle = near + (far - near) * k / places;
                const double half = 0.5 * job.span;
                found = middle - half >= near && middle + half <= far && front + middle - half >= job.clearance[0] &&
                        front + middle + half <= job.clearance[1];
            }
            INFO(s.sensor << " for " << least << " to " << most << " mm over " << span);
            // A window narrower than a step of the search may be missed by it, never the other way round.
            if (ruled_out) CHECK_FALSE(found);
            if (found) CHECK(setup.clearance > 0.0);
            out += ruled_out ? 1 : 0;
        }
    }
    CHECK(out > 40);
}

TEST_CASE("the bound of the brightest pixel lies above the image, and not far above", "[shortlist]") {
    for (const char* name : {"short-45", "short-45-line", "middle-110", "long-600", "infrared-160", "fine-10"}) {
        const scenario::Job job = job_of("matt-paint-mid-grey", "[1, 2000]", 0.01);
        study::SensorSetup setup;
        setup.settings = {"exposure.mode=fixed", "run.speckle=off"};
        const scenario::Scenario s = study::before_part(job.parts.front(), sensor_of(name), setup);
        const auto bound = study::brightest_share_bound(s, 0.0, s.exposure.exposure);
        const study::NoiselessReading image = study::noiseless_reading_of(sensor::set_up(s, 1));
        INFO(name);
        REQUIRE(bound);
        CHECK(*bound >= 0.98 * image.peak_share);  // the image has an error of 0.1 % of its light
        CHECK(*bound <= 3.0 * image.peak_share);
    }
}

TEST_CASE("a response that no setting reaches rules a sensor out", "[shortlist]") {
    const scenario::Job job = job_of("white-ceramic", "[20, 100]", 1.0, "[requirement]\nresponse_ms = 0.1\n");
    CHECK(study::shortest_response(sensor_of("short-45")) == Approx(0.125 * ms));
    const auto shortcoming = study::response_short(job, sensor_of("short-45"));
    REQUIRE(shortcoming);
    CHECK(shortcoming->factor == Approx(1.25));
    CHECK_FALSE(study::response_short(job, sensor_of("fine-10")));
}

TEST_CASE("a mirror is read by a tilted sensor, and not by the same one square", "[shortlist][slow]") {
    const scenario::Job job = job_of("polished-steel", "[10, 120]", 0.2,
                                     "[requirement]\ntolerance_um = 100\n[uncertainty]\ntilt_deg = 0.05\n");
    const study::RankedSensor ranked = study::judge_sensor(job, sensor_of("short-45"), {1, true, {}});
    CHECK(ranked.computed);
    const scenario::Scenario s = sensor_of("short-45");
    const std::vector<study::SensorSetup> mounts = study::possible_mounts(job, s);
    REQUIRE(mounts.size() == 2);
    CHECK(std::abs(mounts[1].tilt) == Approx(0.5 * s.receiver.angle));
    std::vector<double> shares;
    for (const study::SensorSetup& mount : mounts) {
        study::SensorSetup fixed = mount;
        fixed.settings = {"exposure.mode=fixed"};
        const scenario::Scenario at = study::before_part(job.parts.front(), s, fixed);
        shares.push_back(study::noiseless_reading_of(sensor::set_up(at, 1)).peak_share);
    }
    CHECK(shares[1] > 100.0 * shares[0]);
}

TEST_CASE("closed forms rule out no sensor that the full computation lets pass", "[shortlist][.coverage]") {
    const std::vector<scenario::Scenario> shelf = sensor::shelf("");
    const std::vector<std::string> materials{"white-ceramic", "black-rubber", "matt-black-paint", "grey-card",
                                             "denim",         "red-brick",    "textile-black",    "plaster"};
    std::mt19937 random(11);
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    int ruled_out = 0;
    for (int i = 0; i < 12; ++i) {
        const std::string& material = materials[static_cast<std::size_t>(unit(random) * 8.0)];
        const double response = std::exp(std::log(0.15) + unit(random) * std::log(100.0));
        const double tolerance = std::exp(std::log(1.0) + unit(random) * std::log(100.0));
        const scenario::Job job =
            job_of(material, "[5, 2000]", 0.1,
                   fmt::format("[requirement]\nresponse_ms = {:.4g}\ntolerance_um = {:.4g}\n", response, tolerance));
        for (const scenario::Scenario& s : shelf) {
            const study::RankedSensor quick = study::judge_sensor(job, s, {1, true, {}});
            if (quick.computed) continue;
            ++ruled_out;
            const study::RankedSensor full = study::judge_sensor(job, s, {1, false, {}});
            INFO(material << ", " << response << " ms, " << tolerance << " um, " << s.sensor << ": "
                          << quick.shortcomings.front().words);
            CHECK((!full.computed || full.level >= measure::Level::unstable || has(full, study::Shortfall::response)));
        }
    }
    CHECK(ruled_out > 20);
}

TEST_CASE("what a closed form rules out, the full reading does not call stable", "[shortlist][.coverage]") {
    // 60 pairs of a sensor and a part, matt or glossy, tilted, at the sensor's own distance.
    // Short responses: many are ruled out, and few readings are averaged. Light that is timed has no closed form.
    std::vector<scenario::Scenario> shelf = sensor::shelf("");
    std::erase_if(shelf, [](const scenario::Scenario& s) { return !scenario::abilities_of(s.principle).array; });
    const std::vector<std::string> materials{"white-ceramic", "black-rubber",     "polished-steel",
                                             "ground-steel",  "matt-black-paint", "black-glossy-paint",
                                             "textile-black", "turned-steel"};
    std::mt19937 random(23);
    std::uniform_real_distribution<double> unit(0.0, 1.0);
    int ruled_out = 0;
    for (int i = 0; i < 60; ++i) {
        const scenario::Scenario& s = shelf[static_cast<std::size_t>(unit(random) * static_cast<double>(shelf.size()))];
        const double tilt = 10.0 * unit(random);
        const std::string material = materials[static_cast<std::size_t>(unit(random) * 8.0)];
        const double response = std::exp(std::log(0.15) + unit(random) * std::log(10.0));
        const double tolerance = std::exp(std::log(0.5) + unit(random) * std::log(200.0));
        const scenario::Job job = scenario::parse_job(fmt::format(
            "[job]\nat_mm = {:.6g}\nspan_mm = 0.05\n[requirement]\nresponse_ms = {:.4g}\ntolerance_um = {:.4g}\n"
            "[run]\npatches = 4\nreadings = 64\n[[part]]\n[part.target]\nmaterial = \"{}\"\ntilt_deg = [{:.3g}, 0]\n",
            study::front_clearance(s, 0.0) / mm, response, tolerance, material, tilt));
        const study::RankedSensor quick = study::judge_sensor(job, s, {1, true, {}});
        if (quick.computed) continue;
        ++ruled_out;
        const study::RankedSensor full = study::judge_sensor(job, s, {1, false, {}});
        INFO(material << ", " << tilt << " deg, " << response << " ms, " << tolerance << " um, " << s.sensor << ": "
                      << quick.shortcomings.front().words);
        const bool stable = full.computed && full.level == measure::Level::stable && full.shortcomings.empty();
        CHECK_FALSE(stable);
    }
    CHECK(ruled_out >= 6);
}

TEST_CASE("sensors that fit a sheet say for how many of them a job is done", "[shortlist][slow]") {
    // Two sensors of one file: the second has so small an aperture that speckle takes more than a quarter of the
    // tolerance.
    const test::TemporaryFolder folder;
    folder.write("two.toml", scenario::read_text_file(SPOTWRIGHT_SOURCE_DIR "/scenarios/sensors/short-45.toml") +
                                 "\n[[ensemble]]\nreceiver = { aperture_mm = 6 }\n"
                                 "\n[[ensemble]]\nreceiver = { aperture_mm = 0.5 }\n");
    const std::vector<scenario::Scenario> shelf = sensor::shelf(folder.path().string());
    REQUIRE(shelf.size() == 1);
    const scenario::Job job = job_of("white-ceramic", "[20, 60]", 0.5, "[requirement]\ntolerance_um = 40\n");
    const study::Shortlist list = study::shortlist(job, shelf, {1, true, {}});
    const study::RankedSensor& ranked = list.sensors.front();
    REQUIRE(ranked.computed);
    REQUIRE(ranked.ensemble);
    CHECK(ranked.ensemble->members == 2);
    CHECK(ranked.ensemble->at(ranked.level) == 1);  // the one as it was ranked
    CHECK(ranked.ensemble->expanded_uncertainty->least == Approx(*ranked.error));
}

TEST_CASE("a place that no sensor reads at is an error with the nearest", "[shortlist]") {
    const scenario::Job job = scenario::parse_job(
        "[job]\nat_mm = 4000\nspan_mm = 0.5\n[[part]]\n[part.target]\nmaterial = \"white-ceramic\"\n");
    const std::vector<scenario::Scenario> shelf{sensor_of("short-45"), sensor_of("long-380-blue")};
    CHECK_THROWS_WITH(study::shortlist(job, shelf, {1, true, {}}),
                      Catch::Matchers::Contains("no sensor of the shelf reads at 4000 mm") &&
                          Catch::Matchers::Contains("nearest: long-380-blue"));
}

TEST_CASE("the list is in order, and does not depend on threads", "[shortlist][slow]") {
    const scenario::Job job =
        job_of("grey-card", "[20, 130]", 1.0, "[requirement]\ntolerance_um = 60\nresponse_ms = 20\n");
    const std::vector<scenario::Scenario> shelf = sensor::shelf("");
    const study::Shortlist one = study::shortlist(job, shelf, {1, true, {}});
    const study::Shortlist two = study::shortlist(job, shelf, {2, true, {}});
    REQUIRE(one.sensors.size() == shelf.size());
    for (std::size_t i = 0; i < one.sensors.size(); ++i) {
        CHECK(one.sensors[i].sensor.name == two.sensors[i].sensor.name);
        CHECK(one.sensors[i].error == two.sensors[i].error);
        if (i == 0) continue;
        const study::RankedSensor& before = one.sensors[i - 1];
        const study::RankedSensor& after = one.sensors[i];
        CHECK(before.computed >= after.computed);
        if (after.computed && !has(after, study::Shortfall::response)) CHECK(before.level <= after.level);
        // Whatever is not stable says why.
        if (after.level != measure::Level::stable || !after.computed) CHECK_FALSE(after.shortcomings.empty());
    }
}
