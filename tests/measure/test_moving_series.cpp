// Readings of parts that move or change: lag, vibration, exposure, scans.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/measure/moving_response.hpp"
#include "sim/measure/moving_scene.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

using Settings = std::vector<std::string>;

scenario::Scenario scenario_of(const std::string& material, Settings settings) {
    settings.insert(settings.begin(), {"run.speckle=off", "run.readings=600"});
    return scenario::parse("schema = 1\n[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

measure::MovingSeries series_of(const std::string& material, const Settings& settings, int threads = 2) {
    const scenario::Scenario s = scenario_of(material, settings);
    return measure::take_moving_series(sensor::set_up_triangulation(s, threads), {s.run.readings, threads, {}, {}});
}

measure::ReadResult read(const std::string& material, const Settings& settings) {
    return measure::read(sensor::set_up(scenario_of(material, settings), 2), {2, {}, {}});
}

// Black rubber and white paper in turn, each 2 mm long, passing at 100 mm/s: 20 ms a piece.
Settings line(Settings more = {}) {
    more.insert(more.begin(), {"target.segments.material=[\"black-rubber\", \"white-ceramic\"]",
                               "target.segments.length_mm=[2.0, 2.0]", "target.segments.start_mm=1.0",
                               "motion.across_mm_per_s=[100.0, 0.0]", "exposure.mode=automatic",
                               "exposure.exposure_us=1", "exposure.period_us=[100.0, 1000.0]", "run.readings=1500"});
    return more;
}

}  // namespace

TEST_CASE("a part of one piece that does not move reads as one that stands still", "[moving][physics]") {
    const Settings still{"target.displacement_mm=0.37", "run.speckle=coherent", "run.patches=2"};
    Settings piece = still;
    piece.insert(piece.end(), {"target.segments.material=[\"white-ceramic\"]", "target.segments.length_mm=[10.0]"});
    const measure::ReadResult a = read("white-ceramic", still);
    const measure::ReadResult b = read("white-ceramic", piece);
    REQUIRE(b.tracking);
    CHECK_FALSE(a.tracking);
    CHECK(b.statistics.validity == a.statistics.validity);
    // The same random numbers on light that was shifted by nothing. The image of finer pixels takes more rays: a pixel
    // at the threshold may be in or out, and moves the scatter by a hundredth or two.
    CHECK(*b.statistics.mean == Approx(*a.statistics.mean).margin(0.01 * um));
    CHECK(*b.statistics.standard_deviation == Approx(*a.statistics.standard_deviation).epsilon(0.02));
    CHECK(*b.bias == Approx(*a.bias).margin(0.01 * um));
    CHECK(b.verdict.level == a.verdict.level);
}

TEST_CASE("the output lags behind a ramp by speed times delay", "[moving][physics]") {
    for (const auto& [average, median] : std::vector<std::pair<int, int>>{{1, 1}, {16, 1}, {1, 9}, {8, 5}}) {
        const measure::MovingSeries series =
            series_of("white-ceramic",
                      {"motion.along_mm_per_s=20", "target.displacement_mm=-0.8",
                       "reading.average=" + std::to_string(average), "reading.median=" + std::to_string(median)});
        const double delay = 0.5 * (average - 1 + median - 1) * 125.0 * us;
        CHECK(series.tracking.delay == Approx(delay).margin(1e-15));
        // Straightness of paper against the tile, 0.2 um, and noise of 600 readings.
        CHECK(*series.tracking.mean_error == Approx(-20.0 * mm * delay).margin(0.3 * um));
        CHECK(series.tracking.speed == Approx(20.0 * mm).epsilon(1e-6));
    }
}

TEST_CASE("a moving average passes of a vibration what its response says", "[moving][physics]") {
    const auto amplitude = [](const std::string& average) {
        const measure::MovingSeries series = series_of(
            "white-ceramic",
            {"motion.vibration_um=40", "motion.vibration_Hz=100", "reading.average=" + average, "run.readings=750"});
        return *series.statistics.standard_deviation * std::sqrt(2.0);
    };
    constexpr double whole_periods = 0.01;  // 750 readings are nearly ten periods
    for (const std::int64_t average : {1, 16, 40}) {
        CHECK(amplitude(std::to_string(average)) ==
              Approx(40.0 * um * measure::average_response(100.0, average, 125.0 * us)).epsilon(whole_periods));
    }
    CHECK(amplitude("80") < 0.5 * um);  // a period long
}

TEST_CASE("an exposure passes of a vibration what its sinc says", "[moving][physics]") {
    const measure::MovingSeries series = series_of(
        "white-ceramic",
        {"motion.vibration_um=20", "motion.vibration_Hz=3011", "exposure.exposure_us=125", "emitter.power_mW=0.006"});
    const double passed = measure::exposure_response(3011.0, 125.0 * us);
    CHECK(passed < 0.8);
    // 600 readings at all phases: 1 / sqrt(1200) at the very most.
    CHECK(*series.statistics.standard_deviation * std::sqrt(2.0) == Approx(20.0 * um * passed).epsilon(0.02));
}

TEST_CASE("what is lost on a line is held late or marked, as the scenario says", "[moving][physics][slow]") {
    const Settings blind = line({"exposure.mode=fixed", "exposure.exposure_us=0.8", "exposure.period_us=[125.0, 125.0]",
                                 "target.segments.height_mm=[0.0, 0.4]"});
    Settings held = blind;
    held.emplace_back("reading.on_invalid=hold");
    const measure::MovingSeries marked = series_of("white-ceramic", blind);
    const measure::MovingSeries kept = series_of("white-ceramic", held);
    CHECK(kept.statistics.validity == marked.statistics.validity);
    CHECK(marked.statistics.validity[0] < marked.statistics.readings * 2 / 3);  // black is too dark at this exposure
    CHECK(kept.tracking.outputs > marked.tracking.outputs * 5 / 4);
    CHECK(*marked.tracking.rms_error < 100.0 * um);  // what is left is at borders, where both heights are lit
    CHECK(*kept.tracking.rms_error > 150.0 * um);    // white's height is held over black
}

TEST_CASE("a greater step of exposure loses fewer readings after each change", "[moving][physics][slow]") {
    const measure::MovingSeries slow = series_of("white-ceramic", line({"exposure.step_ratio=1.5"}));
    const measure::MovingSeries fast = series_of("white-ceramic", line({"exposure.step_ratio=6"}));
    CHECK(slow.exposure.changes >= 6);
    CHECK(fast.exposure.saturated_per_change < slow.exposure.saturated_per_change);
    CHECK(fast.exposure.late < slow.exposure.late);
    CHECK(fast.exposure.blind_length < slow.exposure.blind_length);
    CHECK(slow.exposure.saturated_per_change > 0.5);
    const measure::MovingSeries late =
        series_of("white-ceramic", line({"exposure.step_ratio=6", "exposure.latency_readings=3"}));
    CHECK(late.exposure.saturated_per_change > fast.exposure.saturated_per_change);
}

TEST_CASE("black slows the sensor down where exposure is automatic", "[moving][physics]") {
    const auto rate = [](const std::string& material) {
        return series_of(material, {"motion.across_mm_per_s=[1.0, 0.0]", "exposure.mode=automatic",
                                    "exposure.period_us=[20.0, 1000.0]", "exposure.exposure_us=1"})
            .exposure;
    };
    const measure::ExposureUse white = rate("white-ceramic");
    const measure::ExposureUse black = rate("black-rubber");
    CHECK(white.mean_rate == Approx(50.0 * kHz));
    CHECK(black.mean_rate < 0.6 * white.mean_rate);
    CHECK(black.longest_exposure > 20.0 * us);
}

TEST_CASE("no bit of a moving series depends on the threads", "[moving][unit]") {
    const auto outputs = [](const Settings& settings, int threads) {
        const scenario::Scenario s = scenario_of("white-ceramic", settings);
        std::vector<double> all;
        const auto sink = [&all](const measure::SeriesBlock& block) {
            for (std::size_t i = 0; i < block.validity.size(); ++i) {
                if (block.validity[i] == reading::Validity::valid) all.push_back(block.displacement[i]);
                all.push_back(block.moment[i].exposure);
            }
        };
        static_cast<void>(
            measure::take_moving_series(sensor::set_up_triangulation(s, threads), {s.run.readings, threads, sink, {}}));
        return all;
    };
    for (const Settings& settings :
         {Settings{"motion.along_mm_per_s=30", "motion.across_mm_per_s=[200.0, 0.0]", "run.speckle=statistical"},
          Settings{"motion.across_mm_per_s=[0.5, 0.0]", "run.speckle=coherent", "run.readings=60"},
          line({"run.speckle=statistical", "run.readings=150", "target.segments.start_mm=1.9"})}) {
        const std::vector<double> one = outputs(settings, 1);
        CHECK(one.size() > 60);
        CHECK(one == outputs(settings, 3));
    }
}

TEST_CASE("a fast surface blurs its speckle within an exposure", "[moving][speckle]") {
    const auto scatter = [](const std::string& speed) {
        return *series_of("white-ceramic", {"run.speckle=statistical", "motion.across_mm_per_s=[0.0, " + speed + "]",
                                            "exposure.exposure_us=100", "emitter.power_mW=0.0075"})
                    .tracking.error_deviation;
    };
    // 1.33 mm between readings: each sees other patterns, one or, of 1 mm in an exposure, some twenty.
    const double one = scatter("100");
    const double many = scatter("10000");
    CHECK(many < 0.5 * one);
    CHECK(one > 1.0 * um);
}

TEST_CASE("run-out, height and diameter of what was put in come out of the readings", "[moving][physics]") {
    // Equal pixels: their pattern is an error that the scatter of the readings does not tell.
    const std::string equal = "detector.response_nonuniformity=0";
    const auto shaft = series_of("white-ceramic", {equal, "target.shape=cylinder", "target.cylinder.radius_mm=15",
                                                   "target.cylinder.axis=parallel", "motion.rotation_rpm=1200",
                                                   "motion.eccentricity_um=30", "motion.eccentricity_deg=50"})
                           .scan;
    REQUIRE((shaft && shaft->run_out));
    const measure::RunOut& found = *shaft->run_out;
    // The image of a smooth spot lies on pixels as it lies: a twentieth of a micrometre is the calibration's own.
    constexpr double calibration = 0.05 * um;
    CHECK(std::abs(found.eccentricity.value - 30.0 * um) < 3.0 * found.eccentricity.uncertainty + calibration);
    CHECK(found.eccentricity.uncertainty < 0.2 * um);
    CHECK(std::abs(found.high_spot.value - 50.0 * degree) <
          3.0 * found.high_spot.uncertainty + calibration / (30.0 * um));
    CHECK(found.per_revolution == Approx(60.0 / 1200.0 / (125.0 * us)).epsilon(0.01));
    CHECK(found.total > 60.0 * um);

    const auto roll = series_of("white-ceramic", {equal, "target.shape=cylinder", "target.cylinder.radius_mm=20",
                                                  "target.cylinder.position_mm=-3",
                                                  "motion.across_mm_per_s=[75.0, 0.0]", "target.displacement_mm=-0.2"})
                          .scan;
    REQUIRE((roll && roll->roll));
    // A slope of a twentieth under a spot of 44 um shifts readings by what (shapes) says: some tenths of a micrometre.
    CHECK(roll->roll->radius.value == Approx(20.0 * mm).epsilon(0.01));
}

TEST_CASE("the height of a step comes out of a scan", "[moving][physics]") {
    const auto scan =
        series_of("white-ceramic",
                  {"detector.response_nonuniformity=0", "target.shape=step", "target.step.height_mm=0.1",
                   "target.step.edge=parallel", "target.step.position_mm=-40", "motion.across_mm_per_s=[0.0, 1000.0]"})
            .scan;
    REQUIRE((scan && scan->step));
    constexpr double calibration = 0.1 * um;  // straightness of paper against the tile
    CHECK(std::abs(scan->step->height.value - 100.0 * um) < 3.0 * scan->step->height.uncertainty + calibration);
    constexpr double two_readings = 2.0 * 1000.0 * mm * 125.0 * us;
    CHECK(std::abs(scan->step->edge - -40.0 * mm) < two_readings);
}

TEST_CASE("whatever the motion, there are reasons and no nonsense", "[moving][unit]") {
    for (const Settings& settings : {
             Settings{"motion.along_mm_per_s=1e6"},
             Settings{"motion.along_mm_per_s=-1e6", "run.speckle=statistical"},
             Settings{"motion.across_mm_per_s=[1e6, -1e6]", "run.speckle=coherent", "exposure.period_us=[1e7, 1e7]"},
             Settings{"motion.vibration_um=1e5", "motion.vibration_Hz=1e6"},
             Settings{"target.displacement_mm=900", "motion.along_mm_per_s=-3"},
             line({"exposure.latency_readings=100", "exposure.step_ratio=1e4", "exposure.period_us=[1e7, 1e7]"}),
             Settings{"target.shape=cylinder", "target.cylinder.radius_mm=200", "motion.rotation_rpm=1e6",
                      "motion.eccentricity_um=1e4", "run.speckle=statistical"},
         }) {
        Settings few = settings;
        few.emplace_back("run.readings=5");
        few.emplace_back("run.patches=2");
        const measure::ReadResult result = read("white-ceramic", few);
        INFO(settings.front());
        REQUIRE(result.tracking);
        CHECK_FALSE(result.verdict.reasons.empty());
        CHECK(std::isfinite(result.tracking->bandwidth));
        CHECK(std::isfinite(result.tracking->smear));
        CHECK(std::isfinite(result.exposure_use->mean_rate));
        if (result.tracking->rms_error) CHECK(std::isfinite(*result.tracking->rms_error));
    }
}

TEST_CASE("a part that leaves the range is said to", "[moving][unit]") {
    const measure::ReadResult result = read("white-ceramic", {"motion.along_mm_per_s=200", "target.displacement_mm=0"});
    CHECK(result.tracking->outside_share > 0.3);
    CHECK(result.verdict.level != measure::Level::stable);
    bool said = false;
    for (const measure::Reason& reason : result.verdict.reasons) {
        const auto* lost = std::get_if<measure::ReadingsLost>(&reason);
        said = said || (lost != nullptr && std::holds_alternative<measure::PartLeavesRange>(lost->why));
    }
    CHECK(said);
}

TEST_CASE("time of flight follows a vibration, and rejects what it does not follow", "[moving][flight]") {
    const Settings flight{"principle=phase-shift",           "mount.reference_distance_mm=4000",
                          "mount.range_mm=[-3000, 500]",     "emitter.waist_radius_um=[3000, 3000]",
                          "receiver.focal_length_mm=40",     "receiver.aperture_mm=30",
                          "flight.modulation_MHz=[20]",      "exposure.exposure_us=150",
                          "exposure.period_us=[1000, 1000]", "target.displacement_mm=-1250"};
    Settings shaken = flight;
    shaken.insert(shaken.end(), {"motion.vibration_um=100000", "motion.vibration_Hz=31", "run.readings=120"});
    const measure::ReadResult result = read("white-ceramic", shaken);
    REQUIRE((result.tracking && result.tracking->rms_error));
    CHECK(result.statistics.greatest.value() - result.statistics.least.value() > 150.0 * mm);
    CHECK(*result.tracking->rms_error < 0.3 * *result.statistics.standard_deviation);
    for (const char* rejected : {"motion.across_mm_per_s=[1.0, 0.0]", "exposure.mode=automatic"}) {
        Settings settings = shaken;
        settings.emplace_back(rejected);
        CHECK_THROWS_AS(read("white-ceramic", settings), base::ScenarioError);
    }
}
