// The table of a moving part's light against images made for each place.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/moving_light.hpp"
#include "sim/measure/moving_scene.hpp"
#include "tests/support/moving.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using namespace spotwright::base;
using test::reading_of, test::sum_of;

namespace {

scenario::Scenario scenario_of(const std::string& material, std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), {"run.speckle=off", "run.readings=64"});
    return scenario::parse("schema = 1\n[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

struct Compared {
    double pixels = 0.0;  // largest difference of readings
    double light = 0.0;   // largest relative difference of all light
    int places = 0;
};

// Readings of the table less those of direct images, at places that lie anyhow between those of the table.
Compared compare(const sensor::TriangulationSetup& setup, const std::vector<measure::PartPose>& stands) {
    const scenario::Scenario& s = setup.scenario;
    const measure::MovedPart part(s);
    measure::LightTable table(setup, part);
    Compared worst;
    for (const measure::PartPose& stand : stands) {
        std::vector<measure::LightTable::Node> nodes;
        for (const auto& each : table.nodes_of(stand)) nodes.push_back(each.node);
        table.make(nodes, 2);
        measure::LightSum sum;
        sum.clear(static_cast<std::size_t>(s.detector.pixels));
        table.add(stand, 1.0, sum);
        const receiver::Profile direct =
            receiver::image(setup.instrument.beam, part.at(stand.along, stand.offset), sensor::surface_of(s),
                            setup.instrument.receiver, setup.instrument.edge_spread, s.detector.quantum_efficiency);
        const auto found = reading_of(setup, sum.rate);
        const auto wanted = reading_of(setup, direct.rate);
        REQUIRE(found.has_value() == wanted.has_value());
        if (!wanted) continue;
        const double pixel =
            setup.instrument.receiver.pitch / receiver::sensitivity_at(setup.instrument.receiver, stand.along);
        worst.pixels = std::max(worst.pixels, std::abs(*found - *wanted) / pixel);
        worst.light = std::max(worst.light, std::abs(sum_of(sum.rate) / sum_of(direct.rate) - 1.0));
        ++worst.places;
    }
    return worst;
}

std::vector<measure::PartPose> along_the_range(double from, double to, int count) {
    std::vector<measure::PartPose> stands;
    for (int i = 0; i < count; ++i) stands.push_back({std::lerp(from, to, (i + 0.37) / count), {0.0, 0.0}});
    return stands;
}

constexpr double hundredth = 0.01;  // of a pixel: what the table promises

}  // namespace

// Rounding: a few units of 1e-16 of some 10 mm from the lens to the array.
TEST_CASE("the reference surface is imaged by the ray through the middle of the lens", "[moving]") {
    for (const std::vector<std::string>& settings :
         {std::vector<std::string>{},
          {"mount.tilt_deg=[7,3]", "target.tilt_deg=[-4,2]"},
          {"motion.along_mm_per_s=50"},
          // Lens beside the axis of the array, and the array shifted.
          {"surroundings.temperature_C=60", "thermal.lens_shift_um_per_K=0.5", "thermal.array_shift_um_per_K=-0.3"}}) {
        const sensor::TriangulationSetup setup =
            sensor::set_up_triangulation(scenario_of("white-ceramic", settings), 2);
        const receiver::Receiver& r = setup.instrument.receiver;
        const measure::MovedPart part(setup.scenario);
        const measure::LightTable table(setup, part);
        for (double along = -4.0 * mm; along <= 4.0 * mm; along += 0.13 * mm) {
            const auto at = receiver::trace(r, receiver::to_receiver(r, part.lit(along)), 0.0, 0.0);
            REQUIRE(at.has_value());
            CHECK(std::abs(table.sight_of(along) - at->u) < 1e-14);
        }
    }
}

namespace {

// Every place reads as its own image does.
void check_between(const std::string& material, const std::vector<std::string>& settings, int places) {
    const scenario::Scenario s = scenario_of(material, settings);
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    const double near = s.mount.range[0];
    const double far = s.mount.range[1];
    const Compared worst = compare(setup, along_the_range(0.9 * near, 0.9 * far, places));
    INFO(material);
    CHECK(worst.places == places);
    CHECK(worst.pixels < hundredth);
    CHECK(worst.light < 1e-3);  // tails beyond the array's ends, and the square of the light's change over a step
}

}  // namespace

TEST_CASE("light between the images of the table reads as its own image does", "[moving][physics]") {
    check_between("white-ceramic", {}, 3);
    check_between("black-anodised-aluminium", {"mount.tilt_deg=[2.0, 1.0]", "target.tilt_deg=[-8.0, 3.0]"}, 3);
}

TEST_CASE("so does that of a glossy part", "[moving][physics]") {
    check_between("blasted-steel", {"target.tilt_deg=[12.0, 0.0]"}, 2);
}

TEST_CASE("and that of a mirror", "[moving][physics][slow]") {
    check_between(
        "mirror",
        {"emitter.angle_deg=-15", "receiver.angle_deg=15", "reading.calibrated_on=mirror", "mount.range_mm=[-2, 2]"},
        2);
}

TEST_CASE("light of a step reads as its own image does, on either side of the edge and on it", "[moving][physics]") {
    const scenario::Scenario s =
        scenario_of("white-paper", {"target.shape=step", "target.step.height_mm=0.1", "target.step.edge=parallel"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    const auto at = [](const std::vector<double>& offsets) {
        std::vector<measure::PartPose> stands;
        for (const double offset : offsets) stands.push_back({0.0, {offset * mm, 0.0}});
        return stands;
    };
    const Compared beside = compare(setup, at({-5.0, -0.09, 0.08, 3.0}));
    CHECK(beside.places == 4);
    CHECK(beside.pixels < hundredth);
    // On the edge images have grain of their own: it passes a column of the footprint, up to a twentieth of the light,
    // at once, and the levels are ten pixels apart. The table is as good as that.
    constexpr double half_a_column = 0.5 * 0.05 * 10.0;
    const Compared on_edge = compare(setup, at({-0.031, 0.0177}));
    CHECK(on_edge.places == 2);
    CHECK(on_edge.pixels < 0.5 * half_a_column);
}

TEST_CASE("light of a roll that passes reads as its own image does", "[moving][physics]") {
    const scenario::Scenario s = scenario_of("white-paper", {"target.shape=cylinder", "target.cylinder.radius_mm=20"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 2);
    const Compared worst =
        compare(setup, {{0.013 * mm, {-6.03 * mm, 0.0}}, {0.0, {1.111 * mm, 0.0}}, {-0.02 * mm, {7.7 * mm, 0.0}}});
    CHECK(worst.places == 3);
    CHECK(worst.pixels < hundredth);
}

TEST_CASE("a part beyond the array, beside the beam or behind the lens sends no light", "[moving]") {
    const scenario::Scenario s = scenario_of("white-ceramic");
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const measure::MovedPart part(s);
    const measure::LightTable table(setup, part);
    for (const double along : {-1e6, -50.0, -49.9, -20.0, 30.0, 1e3, 1e9, 1e300}) {
        CHECK(table.nodes_of({along * mm, {0.0, 0.0}}).empty());
    }
    CHECK_FALSE(table.nodes_of({1.0 * mm, {0.0, 0.0}}).empty());
}

TEST_CASE("speckle of the fast model keeps mean and variance between two patterns", "[moving][speckle]") {
    const scenario::Scenario s =
        scenario_of("white-ceramic", {"run.speckle=statistical", "motion.across_mm_per_s=[10.0, 0.0]"});
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const sensor::Pose pose = sensor::make_pose(setup, 0.0);
    auto speckle = sensor::make_speckle(setup, 0.0, pose.profile);
    REQUIRE(speckle);
    const double contrast = speckle->field.contrast;
    const measure::SpeckleAlong along(s, std::move(*speckle), 1.0, 1000);
    measure::SpeckleAlong::Scratch scratch;
    for (const double shift : {0.0, 0.31, 0.5, 0.9}) {  // of the hundred microns or so from pattern to pattern
        double sum = 0.0;
        double squares = 0.0;
        double count = 0.0;
        for (int k = 0; k < 60; ++k) {
            const measure::SpeckleAlong::Mix mix = along.mix_at(measure::part_state_at(s, 0.1 * k + 0.004 * shift));
            for (const float value : along.pattern(mix, 0, scratch).intensity) {
                sum += static_cast<double>(value);
                squares += static_cast<double>(value * value);
                count += 1.0;
            }
        }
        const double mean = sum / count;
        // 60 patterns of some 700 speckles: 1 / sqrt(84000) of the deviation.
        CHECK(mean == Approx(1.0).margin(5.0 * contrast / std::sqrt(42000.0)));
        CHECK(std::sqrt(squares / count - mean * mean) == Approx(contrast).epsilon(0.02));
    }
}
