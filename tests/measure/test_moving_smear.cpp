// Light of a part that moves within an exposure against that of very many moments at which it stands.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/measure/moving_scene.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/target/surface.hpp"
#include "tests/support/moving.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using namespace spotwright::base;
using test::reading_of, test::sum_of;

namespace {

using Settings = std::vector<std::string>;

scenario::Scenario scenario_of(Settings settings) {
    settings.insert(settings.begin(), {"run.speckle=off", "run.readings=64", "exposure.exposure_us=100"});
    return scenario::parse("schema = 1\n[target]\nmaterial = \"matt-paint-light-grey\"\n", "test.toml", settings);
}

double pixel_of(const sensor::TriangulationSetup& setup) {
    return setup.instrument.receiver.pitch / receiver::sensitivity_at(setup.instrument.receiver, 0.0);
}

std::vector<float> light_of(const sensor::TriangulationSetup& setup, double begin, double factor = 1.0) {
    const scenario::Exposure& e = setup.scenario.exposure;
    measure::MovingScene scene(setup, 0.01, factor);
    const std::vector<measure::MovingScene::Looks> looks{scene.looks_of(begin, e.exposure)};
    scene.prepare(looks, e.exposure, 2);
    measure::MovingScene::Buffers buffers;
    buffers.whole = true;
    return scene.pose_of(looks.front().of(0), {e.exposure, e.period[0]}, buffers).profile.rate;
}

// Mean light of so many moments, each with the part at rest: by images of the table, which are held to direct ones
// elsewhere.
std::vector<float> frozen_light(const sensor::TriangulationSetup& setup, double begin, int moments) {
    const scenario::Scenario& s = setup.scenario;
    const measure::MovedPart part(s);
    measure::LightTable table(setup, part);
    measure::LightSum sum;
    sum.clear(static_cast<std::size_t>(s.detector.pixels));
    for (int i = 0; i < moments; ++i) {
        const measure::PartState place = measure::part_state_at(s, begin + (i + 0.5) / moments * s.exposure.exposure);
        const measure::PartPose stand{place.along, part.offset_at(place)};
        std::vector<measure::LightTable::Node> nodes;
        for (const auto& each : table.nodes_of(stand)) nodes.push_back(each.node);
        table.make(nodes, 2);
        table.add(stand, 1.0 / moments, sum);
    }
    return sum.rate;
}

// The same of images made for each moment.
std::vector<float> direct_light(const sensor::TriangulationSetup& setup, double begin, int moments) {
    const scenario::Scenario& s = setup.scenario;
    const measure::MovedPart part(s);
    std::vector<double> sum(static_cast<std::size_t>(s.detector.pixels), 0.0);
    for (int i = 0; i < moments; ++i) {
        const measure::PartState place = measure::part_state_at(s, begin + (i + 0.5) / moments * s.exposure.exposure);
        const receiver::Profile one =
            receiver::image(setup.instrument.beam, part.at(place.along, part.offset_at(place)), sensor::surface_of(s),
                            setup.instrument.receiver, setup.instrument.edge_spread, s.detector.quantum_efficiency);
        for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += static_cast<double>(one.rate[k]) / moments;
    }
    return {sum.begin(), sum.end()};
}

// Greatest difference of two lights on a pixel, as a share of the brightest.
double difference(const std::vector<float>& a, const std::vector<float>& b) {
    float greatest = 0.0F;
    for (std::size_t k = 0; k < a.size(); ++k) greatest = std::max(greatest, std::abs(a[k] - b[k]));
    return static_cast<double>(greatest / *std::max_element(b.begin(), b.end()));
}

std::string number(double value) {
    return std::to_string(value);
}

// Same light, place and shape as of many moments. A bend of a quarter pixel within a stretch changes a pixel of a spot
// of ten by less than a fiftieth of its light; the centroid is held to what the table promises.
void check_against_frozen(const sensor::TriangulationSetup& setup, double begin, int moments, double shape = 0.02) {
    const std::vector<float> found = light_of(setup, begin);
    const std::vector<float> wanted = frozen_light(setup, begin, moments);
    CHECK(difference(found, wanted) < shape);
    CHECK(sum_of(found) == Approx(sum_of(wanted)).epsilon(1e-3));
    const auto a = reading_of(setup, found);
    const auto b = reading_of(setup, wanted);
    REQUIRE(a.has_value() == b.has_value());
    if (a) CHECK(std::abs(*a - *b) < 0.02 * pixel_of(setup));
}

}  // namespace

TEST_CASE("a part that runs along reads like the mean of its places, however far it goes", "[moving][physics]") {
    for (const double pixels : {0.1, 1.0, 10.0, 100.0}) {
        const sensor::TriangulationSetup still = sensor::set_up_triangulation(scenario_of({}), 2);
        const double way = pixels * pixel_of(still);
        sensor::TriangulationSetup setup = still;
        setup.scenario.motion.along = way / setup.scenario.exposure.exposure;
        const double begin = -0.5 * setup.scenario.exposure.exposure;
        INFO(pixels);
        // 128 moments lie less than a pixel apart, a tenth of the spot: their sum has no lumps.
        const std::vector<float> found = light_of(setup, begin);
        const std::vector<float> wanted = direct_light(setup, begin, 128);
        const auto reading = reading_of(setup, found);
        REQUIRE(reading);
        CHECK(std::abs(*reading - *reading_of(setup, wanted)) < 0.01 * pixel_of(setup));
        CHECK(difference(found, wanted) < 0.01);
        // The mean of the places is zero. Light falls with the square of the distance, 2 d / 50 mm over d, and the
        // image grows as it comes nearer, as much again: the mean is off by way^2 / 12 of both together. Pixel pattern
        // and paper against tile: 0.3 um.
        CHECK(std::abs(*reading) < 0.3 * um + 4.0 * way * way / (12.0 * 50.0 * mm));
    }
}

TEST_CASE("light of a part that runs along is a smooth box", "[moving][physics]") {
    sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario_of({}), 2);
    const double way = 100.0 * pixel_of(setup);
    setup.scenario.motion.along = way / setup.scenario.exposure.exposure;
    const std::vector<float> light = light_of(setup, -50.0 * us);
    const auto middle = static_cast<std::size_t>(setup.scenario.detector.pixels / 2);
    // Away from the ends by more than the spot. It gets brighter by some tenths of a percent from pixel to pixel at the
    // very most: eight lumps are twice as bright as what lies between them.
    for (std::size_t k = middle - 30; k < middle + 30; ++k) {
        const auto [least, most] = std::minmax_element(light.begin() + static_cast<std::ptrdiff_t>(k) - 4,
                                                       light.begin() + static_cast<std::ptrdiff_t>(k) + 5);
        CHECK(*most / *least < 1.02F);
    }
    // What it was lit by in all is in the box, and no pixel far beyond it is lit.
    CHECK(light[middle - 80] < 0.02F * light[middle]);
    CHECK(light[middle + 80] < 0.02F * light[middle]);
}

TEST_CASE("so is the light of a vibration with several periods in an exposure", "[moving][physics]") {
    for (const auto& [amplitude_um, frequency] :
         std::vector<std::pair<double, double>>{{20.0, 33e3}, {300.0, 33e3}, {800.0, 12.7e3}, {5.0, 5e3}}) {
        INFO(amplitude_um);
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
            scenario_of({"motion.vibration_um=" + number(amplitude_um), "motion.vibration_Hz=" + number(frequency)}),
            2);
        for (const double begin : {0.0, 0.00123}) check_against_frozen(setup, begin, 4096);
    }
}

TEST_CASE("and of one with more periods than are followed one by one", "[moving][physics]") {
    const sensor::TriangulationSetup setup =
        sensor::set_up_triangulation(scenario_of({"motion.vibration_um=200", "motion.vibration_Hz=991234",
                                                  "motion.along_mm_per_s=2000", "exposure.exposure_us=125"}),
                                     2);
    check_against_frozen(setup, 0.0, 16384);
    check_against_frozen(setup, 0.0007, 16384);
}

TEST_CASE("light of an edge that passes within an exposure is that of its places", "[moving][physics]") {
    for (const double speed : {150.0, 3000.0}) {  // 15 um and 0.3 mm pass
        INFO(speed);
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
            scenario_of({"target.shape=step", "target.step.height_mm=0.3", "target.step.edge=parallel",
                         "motion.across_mm_per_s=[0.0, " + number(speed) + "]"}),
            2);
        check_against_frozen(setup, -50.0 * us, 2048, 0.01);
    }
}

TEST_CASE("light of a roll that passes within an exposure is that of its places", "[moving][physics]") {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
        scenario_of({"target.shape=cylinder", "target.cylinder.radius_mm=10", "target.cylinder.axis=parallel",
                     "motion.across_mm_per_s=[0.0, 10000.0]"}),
        2);
    check_against_frozen(setup, 0.0, 1024);
    check_against_frozen(setup, 250.0 * us, 1024);
}

TEST_CASE("any motion leaves the light of its places", "[moving][physics]") {
    std::mt19937 random(20);  // no more than a choice of scenes
    std::uniform_real_distribution<double> unit(-1.0, 1.0);
    for (int i = 0; i < 8; ++i) {
        scenario::Scenario s = scenario_of({"target.tilt_deg=[" + number(10.0 * unit(random)) + ", 0.0]"});
        s.motion.along = 20.0 * std::pow(unit(random), 3.0);
        s.motion.vibration = 0.5 * mm * std::abs(std::pow(unit(random), 3.0));
        s.motion.vibration_frequency = std::pow(10.0, 4.0 + unit(random));
        for (int k = 0; k <= 20; ++k) {
            s.motion.places.time.push_back(k * 30.0 * us);
            s.motion.places.along.push_back(0.3 * mm * unit(random));
            s.motion.places.across.push_back(0.0);
        }
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
        INFO(i);
        check_against_frozen(setup, 250.0 * us * (1.0 + unit(random)), 4096);
    }
}

TEST_CASE("shorter stretches change nothing", "[moving][physics]") {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(
        scenario_of({"motion.vibration_um=300", "motion.vibration_Hz=23000", "motion.along_mm_per_s=4000"}), 2);
    const auto reading = [&](double factor) { return *reading_of(setup, light_of(setup, 10.0 * us, factor)); };
    const double finest = reading(16.0);
    // A fiftieth of a pixel, and it falls with the stretches.
    CHECK(std::abs(reading(1.0) - finest) < 0.02 * pixel_of(setup));
    CHECK(std::abs(reading(4.0) - finest) < 0.005 * pixel_of(setup));
    const auto looks = [&](double factor) {
        const measure::MovingScene scene(setup, 0.01, factor);
        return scene.looks_of(10.0 * us, 100.0 * us).all.size();
    };
    CHECK(looks(4.0) > looks(1.0));
}

TEST_CASE("what of the array a reading looks at makes no difference", "[moving][unit]") {
    for (const Settings& settings :
         {Settings{"motion.along_mm_per_s=30", "exposure.exposure_us=3"},
          Settings{"motion.along_mm_per_s=3000", "exposure.exposure_us=40", "run.speckle=statistical"},
          Settings{"motion.across_mm_per_s=[300.0, 0.0]", "run.speckle=coherent", "exposure.exposure_us=3"}}) {
        const scenario::Scenario s = scenario_of(settings);
        const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
        measure::MovingScene scene(setup, 0.01);
        const detector::Timing timing{s.exposure.exposure, s.exposure.period[0]};
        measure::MovingScene::Buffers part;
        measure::MovingScene::Buffers all;
        all.whole = true;
        int units = 0;
        for (int i = 0; i < 40; ++i) {
            const std::vector<measure::MovingScene::Looks> looks{
                scene.looks_of((i - 20) * 125.0 * us, timing.exposure)};
            scene.prepare(looks, timing.exposure, 1);
            const sensor::Pose& some = scene.pose_of(looks.front().of(0), timing, part);
            const sensor::RawReading a = sensor::take_reading(setup, some, i, part.reading);
            const sensor::RawReading b =
                sensor::take_reading(setup, scene.pose_of(looks.front().of(0), timing, all), i, all.reading);
            CHECK(a.validity == b.validity);
            CHECK(a.displacement == Approx(b.displacement).margin(1e-12));  // rounding of places in the window
            if (a.validity == reading::Validity::valid) CHECK(a.peak == b.peak);
            units += static_cast<int>(some.unit_count);
        }
        CHECK(units < 40 * 32);
    }
}

TEST_CASE("speckle between two patterns is nearly that of the place itself", "[moving][speckle]") {
    const scenario::Scenario s = scenario_of({"run.speckle=coherent", "motion.across_mm_per_s=[10.0, 0.0]"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const sensor::Pose pose = sensor::make_pose(setup, 0.0);
    const auto speckle = sensor::make_speckle(setup, 0.0, pose.profile);
    REQUIRE((speckle && speckle->plan));
    const measure::SpeckleAlong along(s, *speckle, 0.001, 10);
    measure::SpeckleAlong::Scratch scratch;
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(*speckle->plan);
    double product = 0.0;
    double squares = 0.0;
    double own_squares = 0.0;
    for (int i = 0; i < 40; ++i) {
        const measure::PartState place =
            measure::part_state_at(s, 0.00137 * i);  // 13.7 um apart: at all places between nodes
        const receiver::SpecklePattern mixed = along.pattern(along.mix_at(place), 0, scratch);
        const receiver::SpecklePattern own =
            sensor::pattern_of_patch(*speckle, s, 0, speckle->place - place.passed, workspace);
        for (std::size_t k = 502; k < 522; ++k) {  // where light comes from
            const double a = static_cast<double>(mixed.intensity[k]) - 1.0;
            const double b = static_cast<double>(own.intensity[k]) - 1.0;
            product += a * b;
            squares += a * a;
            own_squares += b * b;
        }
    }
    CHECK(product / std::sqrt(squares * own_squares) > 0.98);
    CHECK(squares == Approx(own_squares).epsilon(0.03));
}

TEST_CASE("where not all of an exposure can be followed, it is said and nothing is called stable", "[moving][unit]") {
    Settings settings{"motion.vibration_um=900", "motion.vibration_Hz=30000", "run.readings=20", "run.patches=2",
                      "requirement.tolerance_um=4000"};
    const auto read = [](const Settings& of) { return measure::read(sensor::set_up(scenario_of(of), 2), {2, {}, {}}); };
    const measure::ReadResult followed = read(settings);
    CHECK(followed.tracking->unresolved_share == 0.0);
    settings.emplace_back("motion.sub_exposures=8");
    const measure::ReadResult result = read(settings);
    CHECK(result.tracking->unresolved_share == 1.0);
    CHECK(measure::quantity("unresolved_share", result, scenario_of(settings)) == 1.0);
    CHECK(result.verdict.level >= measure::Level::unstable);
    CHECK(in_words(result.verdict.reasons.front()).find("not reliable") != std::string::npos);
}

TEST_CASE("motions that make no sense are read all the same", "[moving][unit]") {
    for (const Settings& motion :
         {Settings{"motion.along_mm_per_s=1e6"}, Settings{"motion.along_mm_per_s=-1e6", "exposure.exposure_us=1"},
          Settings{"motion.across_mm_per_s=[1e6, -1e6]", "run.speckle=statistical"},
          Settings{"motion.vibration_um=1e5", "motion.vibration_Hz=1e6"},
          Settings{"target.shape=cylinder", "target.cylinder.axis=parallel", "motion.rotation_rpm=1e6",
                   "motion.eccentricity_um=1000", "target.cylinder.radius_mm=12"},
          Settings{"target.shape=step", "motion.across_mm_per_s=[1e6, 1e6]"}}) {
        Settings settings = motion;
        settings.insert(settings.begin(), {"run.readings=4", "run.patches=2", "exposure.exposure_us=10"});
        INFO(motion.front());
        const scenario::Scenario s = scenario_of(settings);
        const auto sink = [](const measure::SeriesBlock& block) {
            for (std::size_t i = 0; i < block.validity.size(); ++i) {
                const bool valid = block.validity[i] == reading::Validity::valid;
                CHECK(std::isfinite(block.displacement[i]) == valid);
                CHECK(std::isfinite(block.peak[i]));
            }
        };
        const measure::MovingSeries series =
            measure::take_moving_series(sensor::set_up_triangulation(s, 2), {s.run.readings, 2, sink, {}});
        CHECK(std::isfinite(series.tracking.smear));
        CHECK(series.statistics.readings == 4);
    }
}
