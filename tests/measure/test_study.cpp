#include <catch2/catch.hpp>

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/speckle.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um, base::us, base::degree;
using reading::Validity;

namespace {

scenario::Scenario white(std::vector<std::string> settings = {}) {
    return scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
}

measure::ReadResult read(const scenario::Scenario& s, int threads = 2) {
    return measure::read(sensor::set_up_triangulation(s, threads), {threads, {}, {}});
}

std::int64_t count_of(const measure::ReadResult& r, Validity validity) {
    return r.statistics.validity[static_cast<std::size_t>(validity)];
}

std::vector<measure::SeriesBlock> blocks_of(const scenario::Scenario& s, int threads) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, threads);
    std::vector<measure::SeriesBlock> blocks;
    measure::SeriesOptions options{
        s.run.readings, threads, [&](const measure::SeriesBlock& b) { blocks.push_back(b); }, {}};
    static_cast<void>(measure::take_series(setup, sensor::make_pose(setup, s.target.displacement), options));
    return blocks;
}

}  // namespace

TEST_CASE("a series is the same to the last bit on one, two and seven threads", "[unit]") {
    const scenario::Scenario s = white({"run.readings=20000", "reading.average=8", "reading.median=3"});
    const auto one = blocks_of(s, 1);
    for (const int threads : {2, 7}) {
        const auto many = blocks_of(s, threads);
        REQUIRE(many.size() == one.size());
        for (std::size_t i = 0; i < one.size(); ++i) {
            CHECK(many[i].displacement == one[i].displacement);
            CHECK(many[i].output == one[i].output);
            CHECK(many[i].peak == one[i].peak);
        }
    }
    CHECK(*read(s, 1).statistics.standard_deviation == *read(s, 7).statistics.standard_deviation);
}

TEST_CASE("a longer series begins with the shorter one", "[unit]") {
    const auto few = blocks_of(white({"run.readings=100"}), 1);
    const auto many = blocks_of(white({"run.readings=10000"}), 1);
    for (std::size_t i = 0; i < 100; ++i) CHECK(few[0].displacement[i] == many[0].displacement[i]);
}

TEST_CASE("leaving out pixels that cannot matter changes no reading", "[unit]") {
    const auto settings = GENERATE(as<std::vector<std::string>>{}, std::vector<std::string>{},
                                   std::vector<std::string>{"exposure.exposure_us=0.12"},
                                   std::vector<std::string>{"reading.peak=fit", "target.displacement_mm=-4.9"},
                                   std::vector<std::string>{"reading.peak=zero-crossing", "reading.threshold=0.3"});
    const scenario::Scenario s = white(settings);
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    const sensor::Pose windowed = sensor::make_pose(setup, s.target.displacement);
    sensor::Pose whole = windowed;
    whole.first_unit = 0;
    whole.unit_count = 64;
    whole.locate.at_array_start = whole.locate.at_array_end = true;
    CHECK(windowed.unit_count < 6);
    sensor::Scratch a;
    sensor::Scratch b;
    for (std::int64_t i = 0; i < 300; ++i) {
        const auto cut = sensor::take_reading(setup, windowed, i, a);
        const auto full = sensor::take_reading(setup, whole, i, b);
        CHECK(cut.validity == full.validity);
        // Positions are counted from the first sample drawn: the last bits of the sum differ, a few 1e-13 px.
        CHECK(cut.position == Approx(full.position).epsilon(1e-14));
        CHECK(cut.displacement == Approx(full.displacement).margin(1e-16));
    }
}

TEST_CASE("leaving out pixels changes no reading of light that is drawn anew", "[unit]") {
    // Windows that begin at any of the four units of a block of random numbers, and at the array's near end.
    for (const std::string place : {"0", "0.3", "0.6", "0.9", "1.2", "-4.9"}) {
        const scenario::Scenario s = white({"run.speckle=statistical", "target.displacement_mm=" + place});
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
        const sensor::Pose smooth = sensor::make_pose(setup, s.target.displacement);
        const auto speckle = sensor::make_speckle(setup, s.target.displacement, smooth.profile);
        const sensor::Pose windowed = sensor::moving_pose(setup, smooth, smooth.profile, speckle.value());
        sensor::Pose whole = windowed;
        whole.first_unit = 0;
        whole.unit_count = 64;
        whole.locate.at_array_start = whole.locate.at_array_end = true;
        CHECK(windowed.unit_count < 8);
        sensor::Scratch a;
        sensor::Scratch b;
        for (std::int64_t i = 0; i < 100; ++i) {
            const auto cut = sensor::take_reading(setup, windowed, i, a);
            const auto full = sensor::take_reading(setup, whole, i, b);
            CHECK(cut.validity == full.validity);
            if (cut.validity != Validity::valid) continue;  // then there is no position
            // As above.
            CHECK(cut.position == Approx(full.position).epsilon(1e-14));
        }
    }
}

TEST_CASE("readings taken together are those taken one by one", "[unit]") {
    const scenario::Scenario s = white({"exposure.exposure_us=0.12"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    const sensor::Pose pose = sensor::make_pose(setup, s.target.displacement);
    std::vector<sensor::RawReading> together(77);
    sensor::Scratch a;
    sensor::Scratch b;
    sensor::take_readings(setup, pose, 4294967260, a, together);
    for (std::size_t i = 0; i < together.size(); ++i) {
        const auto alone = sensor::take_reading(setup, pose, 4294967260 + static_cast<std::int64_t>(i), b);
        CHECK(alone.validity == together[i].validity);
        CHECK(alone.position == together[i].position);
        CHECK(alone.displacement == together[i].displacement);
        CHECK(alone.peak == together[i].peak);
    }
}

TEST_CASE("a threshold in the noise makes every pixel count", "[unit]") {
    const scenario::Scenario s = white({"reading.threshold=0.0001"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(white(), 2);
    sensor::TriangulationSetup low = setup;
    low.scenario = s;
    CHECK(sensor::make_pose(low, 0.0).unit_count == 64);
}

TEST_CASE("the white tile reads true within noise and pixel pattern, all over the range", "[unit]") {
    scenario::Scenario s = white({"run.readings=2000", "run.speckle=off"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    for (double d = -5.0 * mm; d <= 5.0 * mm; d += 1.25 * mm) {
        sensor::TriangulationSetup here = setup;
        here.scenario.target.displacement = d;
        const measure::ReadResult r = measure::read(here, {1, {}, {}});
        INFO("displacement " << d / mm << " mm");
        CHECK(count_of(r, Validity::valid) == 2000);
        // Between calibration points the pixel pattern of 0.5 % and the pixel phase of the thresholded centroid stay:
        // some hundredths of a pixel of 14 um.
        CHECK(std::abs(*r.bias) < 0.5 * um);
    }
}

TEST_CASE("a black part needs a longer exposure than a white one, in the ratio of their reflectance", "[unit]") {
    const measure::ReadResult on_white = read(white({"run.readings=1000"}));
    const measure::ReadResult on_black =
        read(white({"run.readings=1000", "target.material=black-rubber", "exposure.exposure_us=2.5"}));
    const double ratio = on_white.signal.peak / on_black.signal.peak;
    CHECK(ratio > 10.0);
    const measure::ReadResult longer = read(white(
        {"run.readings=1000", "target.material=black-rubber", fmt::format("exposure.exposure_us={}", 2.5 * ratio)}));
    CHECK(longer.signal.peak == Approx(on_white.signal.peak).epsilon(1e-6));
    CHECK(*longer.statistics.standard_deviation < *on_black.statistics.standard_deviation);
}

TEST_CASE("too much light is flagged, and so is too little, and the reason says what would help", "[unit]") {
    const measure::ReadResult bright = read(white({"run.readings=500", "exposure.exposure_us=20"}));
    CHECK(count_of(bright, Validity::saturated) == 500);
    CHECK(bright.verdict.level == measure::Level::unreadable);
    CHECK(in_words(bright.verdict.reasons.front()).find("saturated") != std::string::npos);
    const measure::ReadResult dim = read(white({"run.readings=500", "exposure.exposure_us=0.08"}));
    CHECK(count_of(dim, Validity::too_dark) > 450);
    CHECK(in_words(dim.verdict.reasons.front()).find("times the exposure") != std::string::npos);
    const measure::ReadResult dark = read(white({"run.readings=500", "exposure.exposure_us=0.01"}));
    CHECK(count_of(dark, Validity::no_peak) == 500);
    CHECK_FALSE(dark.bias.has_value());
}

TEST_CASE("a part outside the range is flagged, and held or marked as asked", "[unit]") {
    const measure::ReadResult r = read(white({"run.readings=200", "target.displacement_mm=5.5"}));
    CHECK(count_of(r, Validity::out_of_range) == 200);
    const measure::ReadResult gone = read(white({"run.readings=200", "target.displacement_mm=500"}));
    CHECK(count_of(gone, Validity::valid) == 0);
    const measure::ReadResult inside_lens = read(white({"run.readings=200", "target.displacement_mm=-49"}));
    CHECK(count_of(inside_lens, Validity::valid) == 0);
}

TEST_CASE("automatic exposure brings white and black to the same level", "[unit]") {
    const std::vector<std::string> automatic{"run.readings=300", "exposure.mode=automatic",
                                             "exposure.period_us=[125, 2000]"};
    auto black_settings = automatic;
    black_settings.emplace_back("target.material=black-rubber");
    const measure::ReadResult on_white = read(white(automatic));
    const measure::ReadResult on_black = read(white(black_settings));
    CHECK(on_white.signal.peak_share == Approx(0.6).epsilon(0.01));
    CHECK(on_black.signal.peak_share == Approx(0.6).epsilon(0.01));
    CHECK(on_black.timing.exposure > 10.0 * on_white.timing.exposure);
}

TEST_CASE("a tilted sensor reads the displacement along its own normal", "[unit]") {
    const measure::ReadResult r =
        read(white({"run.readings=500", "mount.tilt_deg=[0, 10]", "target.displacement_mm=2", "run.speckle=off"}));
    // The beam meets a part at s, turned about the reference point, after s / cos(tilt).
    const double expected = 2.0 * mm / std::cos(10.0 * degree);
    CHECK(std::abs(*r.statistics.mean - expected) < 1.0 * um);
}

TEST_CASE("offsets of the pixels matter when one level is subtracted, and not with laser-off frames", "[unit]") {
    const auto spread_of_bias = [](const std::string& background) {
        double sum = 0.0;
        for (int seed = 1; seed <= 4; ++seed) {
            const scenario::Scenario s = white(
                {"run.readings=500", "reading.background=" + background, "detector.offset_nonuniformity_e=2000",
                 "detector.response_nonuniformity=0", "run.speckle=off", fmt::format("detector.device_seed={}", seed)});
            const double bias = *read(s).bias;
            sum += bias * bias;
        }
        return std::sqrt(sum / 4.0);
    };
    CHECK(spread_of_bias("level") > 5.0 * spread_of_bias("laser-off"));
}

TEST_CASE("the verdict follows the ratio of uncertainty to tolerance and the share of valid readings", "[unit]") {
    scenario::Scenario s = white({"requirement.tolerance_um=20"});
    measure::ReadResult r;
    r.statistics.readings = 10000;
    r.statistics.outputs = 10000;
    r.statistics.mean = 0.0;
    r.bias = 0.0;
    const auto level = [&](double deviation_um, std::int64_t valid) {
        r.statistics.standard_deviation = deviation_um * um;
        r.statistics.validity = {};
        r.statistics.validity[0] = valid;
        r.statistics.validity[1] = 10000 - valid;
        return measure::judge(s, r).level;
    };
    CHECK(level(2.49, 9990) == measure::Level::stable);
    CHECK(level(2.51, 9990) == measure::Level::marginal);
    CHECK(level(2.49, 9989) == measure::Level::marginal);
    CHECK(level(9.99, 9900) == measure::Level::marginal);
    CHECK(level(10.01, 9900) == measure::Level::unstable);
    CHECK(level(2.49, 9899) == measure::Level::unstable);
    CHECK(level(2.49, 5000) == measure::Level::unstable);
    CHECK(level(2.49, 4999) == measure::Level::unreadable);
    r.systematic = -4.0 * um;  // an uncorrected bias adds in full: 2 x 2 + 4 = 8 um
    CHECK(level(2.0, 10000) == measure::Level::marginal);
    CHECK(*measure::judge(s, r).expanded_uncertainty == Approx(8.0 * um).epsilon(1e-12));
    CHECK(measure::judge(s, r).contributions.front().systematic == false);
    r.statistics.standard_deviation.reset();
    CHECK(measure::judge(s, r).level == measure::Level::unreadable);
}

TEST_CASE("every verdict names its largest contribution in um", "[unit]") {
    const measure::ReadResult r = read(white({"run.readings=200", "requirement.tolerance_um=100"}));
    CHECK(r.verdict.level == measure::Level::stable);
    CHECK(in_words(r.verdict.reasons.back()).find("largest: speckle") != std::string::npos);
    const measure::ReadResult off = read(white({"run.readings=200", "run.speckle=off"}));
    CHECK_FALSE(off.speckle.has_value());
    CHECK(off.verdict.level == measure::Level::stable);
}

TEST_CASE("an output slower than asked is said so", "[unit]") {
    const measure::ReadResult r = read(white({"run.readings=200", "reading.average=64"}));
    CHECK(r.response_time == Approx(64 * 125.0 * us).epsilon(1e-12));
    CHECK(in_words(r.verdict.reasons.back()).find("8 ms") != std::string::npos);
}

TEST_CASE("a range that the array cannot hold is refused with what it can", "[unit]") {
    try {
        static_cast<void>(sensor::make_layout(white({"mount.range_mm=[-10, 10]"})));
        FAIL("accepted");
    } catch (const base::ScenarioError& error) {
        REQUIRE(error.problems().size() == 1);
        CHECK(error.problems()[0].location.key == "mount.range_mm");
        CHECK(error.problems()[0].allowed.find("-5.742 to 9.091 mm") != std::string::npos);
    }
}

TEST_CASE("an array missed altogether, or too short for the spot, is refused", "[unit]") {
    CHECK_THROWS_AS(sensor::set_up_triangulation(white({"detector.pixels=16"}), 1), base::ScenarioError);
    CHECK_THROWS_AS(sensor::set_up_triangulation(white({"detector.pixels=16", "mount.range_mm=[-0.01, 0.01]"}), 1),
                    base::ScenarioError);
}

TEST_CASE("the layout's numbers agree with each other", "[unit]") {
    const scenario::Scenario s = white();
    const sensor::Layout layout = sensor::make_layout(s);
    CHECK(layout.magnification == Approx(30.0 / 45.0).epsilon(1e-12));
    CHECK(std::tan(layout.detector_tilt) == Approx(layout.magnification / std::tan(30.0 * degree)).epsilon(1e-12));
    CHECK(layout.pixel_displacement * layout.sensitivity == Approx(7.0 * um).epsilon(1e-12));
    CHECK(layout.image_position[0] > layout.image_position[1]);
    CHECK(layout.image_position[1] > layout.image_position[2]);
    CHECK(layout.laser_class == "1");
}

TEST_CASE("distances of the range's ends are told along the beam", "[unit]") {
    const sensor::Layout square = sensor::make_layout(white({"mount.range_mm=[-4, 5]"}));
    CHECK(square.distance[0] == Approx(46.0 * mm).epsilon(1e-12));
    CHECK(square.distance[1] == Approx(50.0 * mm).epsilon(1e-12));
    CHECK(square.distance[2] == Approx(55.0 * mm).epsilon(1e-12));
    CHECK(square.span == Approx(9.0 * mm).epsilon(1e-12));
    // The beam leans by 30 deg: the part's way along the normal is longer by 1 / cos(30 deg) along the beam.
    const sensor::Layout leaning =
        sensor::make_layout(white({"emitter.angle_deg=-30", "receiver.angle_deg=30", "mount.range_mm=[-1, 1]"}));
    CHECK(leaning.distance[0] == Approx(50.0 * mm - 1.0 * mm / std::cos(30.0 * degree)).epsilon(1e-12));
    CHECK(leaning.distance[2] == Approx(50.0 * mm + 1.0 * mm / std::cos(30.0 * degree)).epsilon(1e-12));
}

TEST_CASE("per cent of span is a share of the whole range, and the verdict tells it", "[unit]") {
    const scenario::Scenario s = white({"run.readings=200", "mount.range_mm=[-3, 5]", "run.speckle=off"});
    CHECK(sensor::percent_of_span(s, 8.0 * um) == Approx(0.1).epsilon(1e-12));
    const measure::ReadResult r = read(s);
    const double percent = *r.verdict.expanded_uncertainty / (8.0 * mm) * 100.0;
    CHECK(in_words(r.verdict.reasons.back()).find(fmt::format("({:.2g} % of span)", percent)) != std::string::npos);
}
