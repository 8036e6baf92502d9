// A polarised laser before shiny parts, plates and volumes.
#include <catch2/catch.hpp>

#include <cmath>
#include <complex>
#include <optional>
#include <string>
#include <vector>

#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/fresnel.hpp"

using namespace spotwright;
using base::degree;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

// Words of a part: its material and further settings.
using Words = std::vector<std::string>;

// @param direction  Of the field; none: unpolarised. [deg]
scenario::Scenario scene_of(Words words, std::optional<double> direction) {
    const std::string text = fmt::format("[target]\nmaterial = \"{}\"\n", words.front());
    words.erase(words.begin());
    if (direction) {
        words.emplace_back("emitter.polarisation_degree=1");
        words.push_back(fmt::format("emitter.polarisation_direction_deg={}", *direction));
    }
    return scenario::parse(text, "t", words);
}

// Light through the aperture. [W]
double collected(const scenario::Scenario& s) {
    const receiver::Receiver r = sensor::receiver_of(s);
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, s.target.displacement), sensor::surface_of(s), r,
                           receiver::EdgeSpread(r.aperture.shape), 0.35)
        .collected_power;
}

double by_rays(const scenario::Scenario& s, bool interreflection, std::int64_t rays) {
    const receiver::Receiver r = sensor::receiver_of(s);
    return receiver::trace_rays(sensor::beam_of(s), sensor::part_of(s, s.target.displacement), sensor::surface_of(s), r,
                                receiver::EdgeSpread(r.aperture.shape), 0.35, {rays, 1, 2, interreflection})
        .profile.collected_power;
}

Words specular(const std::string& material, double angle, const Words& more = {}) {
    Words words{material, fmt::format("emitter.angle_deg=-{}", angle), fmt::format("receiver.angle_deg={}", angle),
                "mount.range_mm=[-0.2, 0.2]"};
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

}  // namespace

// Fresnel's equations at 30 deg, as printed rows of tests/target/test_gloss.cpp have them: R_s / R_p of crown glass is
// 0.06024378 / 0.02655825. The beam's 5 mrad turn the plane of incidence and the angle: 1e-3.
TEST_CASE("in the specular mount a glass face reflects a field along y 2.27 times as much as along x", "[published]") {
    const Words words = specular("clear-glass", 30.0);
    const double along_x = collected(scene_of(words, 0.0));
    const double along_y = collected(scene_of(words, 90.0));
    CHECK_THAT(along_y / along_x, WithinRel(0.06024378 / 0.02655825, 2e-3));
    // Which field is which: the sensor's x lies in the plane of incidence.
    CHECK(along_y > along_x);
    CHECK_THAT(collected(scene_of(words, 45.0)), WithinRel(collected(scene_of(words, std::nullopt)), 1e-3));
}

// Crown glass at 655 nm: atan(1.514362) = 56.56 deg. The beam's half-angle of 5 mrad leaves R_p = (dR/dt)^2 / 2 about
// it: below 1e-4 of R_s.
TEST_CASE("a glass face in a specular mount at Brewster's angle shows a field along x no light", "[published]") {
    const Words words = specular("clear-glass", 56.56);
    CHECK(collected(scene_of(words, 0.0)) < 2e-4 * collected(scene_of(words, 90.0)));
}

TEST_CASE("unpolarised light is the mean of the fields along x and y", "[physics]") {
    const std::vector<Words> scenes{
        specular("mirror", 30.0),
        specular("black-glossy-plastic", 45.0, {"target.tilt_deg=[1, 2]"}),
        specular("clear-glass", 40.0, {"target.shape=plate", "target.plate.thickness_mm=0.5"}),
        specular("clear-glass", 40.0, {"target.shape=plate", "target.plate.backing=mirror", "target.plate.gap_mm=0.2"}),
        {"ground-steel", "target.tilt_deg=[14, 3]", "target.lay_deg=60"},
        {"white-glossy-paint", "target.tilt_deg=[40, 20]"},
        {"brass", "target.shape=cylinder", "target.cylinder.radius_mm=2"},
        {"marble", "target.tilt_deg=[50, 10]"},
        {"black-glossy-paint", "target.pattern.kind=bars", "target.pattern.material=polished-steel",
         "target.tilt_deg=[15, 0]"},
    };
    for (const Words& words : scenes) {
        INFO(words.front() << ' ' << words.back());
        const double x = collected(scene_of(words, 0.0));
        const double y = collected(scene_of(words, 90.0));
        // Rays beside the axis by 10 mrad at most: fields along x and y are crossed within 1e-4 of that. Different
        // numbers of rays may be drawn: 1e-3.
        CHECK_THAT(0.5 * (x + y), WithinRel(collected(scene_of(words, std::nullopt)), 1e-3));
        // Each of them knows the field.
        CHECK(std::abs(x - y) > 2e-3 * (x + y));
        // Half polarised: halfway.
        scenario::Scenario half = scene_of(words, 90.0);
        half.emitter.polarisation_degree = 0.5;
        CHECK_THAT(collected(half), WithinRel(0.25 * x + 0.75 * y, 1e-3));
    }
}

TEST_CASE("a matt part does not know the field, and a plate over paper only by what it lets in", "[physics]") {
    CHECK(collected(scene_of({"white-paper", "target.tilt_deg=[50, 10]"}, 0.0)) ==
          collected(scene_of({"white-paper", "target.tilt_deg=[50, 10]"}, 90.0)));
    const Words behind{"clear-glass", "target.shape=plate", "target.plate.backing=white-paper",
                       "target.tilt_deg=[-60, 0]", "receiver.angle_deg=20"};
    const double x = collected(scene_of(behind, 0.0));
    const double y = collected(scene_of(behind, 90.0));
    // Light at 60 deg through both faces, echoes between them included, and a few per cent once more by the plate's
    // reflection of diffuse light, which has no field.
    const target::Fresnel r = target::fresnel({1.514362, 0.0}, 0.5);
    const auto through = [](double R) { return (1.0 - R) / (1.0 + R); };
    CHECK_THAT(x / y, WithinRel(through(r.p) / through(r.s), 1e-2));
}

TEST_CASE("the sensor's tilt takes the field with it", "[physics]") {
    // A part tilted against the sensor, or the sensor against the part: the same but for the point that is lit.
    const double part = collected(scene_of({"black-glossy-plastic", "target.tilt_deg=[15, 0]"}, 0.0));
    const double sensor = collected(scene_of({"black-glossy-plastic", "mount.tilt_deg=[-15, 0]"}, 0.0));
    CHECK_THAT(sensor, WithinRel(part, 1e-3));
    CHECK(std::abs(part / collected(scene_of({"black-glossy-plastic", "target.tilt_deg=[15, 0]"}, 90.0)) - 1.0) > 0.05);
}

// (1 - R) / (1 + R) of a plate at 40 deg for the field in and square to the plane of the mounting; Born and Wolf,
// ch. 1.
TEST_CASE("a cover glass lets a field in the plane of the mounting in with less loss", "[physics]") {
    const auto passed = [](std::optional<double> field) {
        const scenario::Scenario s = scene_of({"white-paper", "cover.glass_mm=2", "emitter.angle_deg=-40"}, field);
        emitter::Beam beam = sensor::beam_of(s);
        receiver::Receiver receiver = sensor::receiver_of(s);
        sensor::put_glass_before(s.cover, beam, receiver);
        return beam.power / s.emitter.power;
    };
    const target::Fresnel r = target::fresnel({1.515, 0.0}, std::cos(40.0 * degree));
    CHECK_THAT(passed(0.0), WithinRel((1.0 - r.p) / (1.0 + r.p), 1e-12));
    CHECK_THAT(passed(90.0), WithinRel((1.0 - r.s) / (1.0 + r.s), 1e-12));
    CHECK_THAT(0.5 * (passed(0.0) + passed(90.0)), WithinRel(passed(std::nullopt), 1e-12));
}

// Two walls of a groove mirror the beam in turn. Opened by 105 deg it turns light from straight above to a receiver at
// 30 deg; the first wall is met at 37.5 deg and the second at 105 - 37.5 = 67.5 deg. Both planes of incidence are that
// of the mounting, so s and p stay what they are: R(37.5 deg) R(67.5 deg).
TEST_CASE("light that a groove of silicon mirrors twice has the product of the reflectances of its field",
          "[ray][physics]") {
    const auto twice = [](std::optional<double> field) {
        double light = 0.0;
        for (const char* position : {"target.groove.position_mm=1", "target.groove.position_mm=-1"}) {
            const scenario::Scenario s =
                scene_of({"silicon-wafer", "target.shape=groove", "target.groove.opening_deg=105", position,
                          "target.groove.axis=across", "target.groove.depth_mm=3", "mount.range_mm=[-5, 5]",
                          "target.displacement_mm=-2", "receiver.aperture_mm=12"},
                         field);
            light += by_rays(s, true, 1 << 16) - by_rays(s, false, 1 << 16);
        }
        return light;
    };
    const std::complex<double> index =
        target::make_opaque_surface(scenario::library_material("silicon-wafer"), 655e-9).gloss->index;
    const target::Fresnel first = target::fresnel(index, std::cos(37.5 * degree));
    const target::Fresnel second = target::fresnel(index, std::cos(67.5 * degree));
    const double x = twice(0.0);
    const double y = twice(90.0);
    REQUIRE(y > 0.0);
    // Of 65536 rays a quarter and more go on: 1 % of either sum. Light that lost its field at the first wall would
    // have R_p / R_s of that wall alone, many times as much.
    CHECK_THAT(x / y, WithinRel(first.p * second.p / (first.s * second.s), 0.04));
}

// Behind a plate the backing's facets meet the field as the faces have passed it, in both models. Backings too rough
// for a mirror part, which the spot model does not scatter after it has been mirrored to and fro.
TEST_CASE("spot model and ray model agree in polarised light on shiny backings of plates",
          "[inside][ray][statistical][slow]") {
    for (const char* backing : {"sandblasted-glass", "black-powder-coat", "blasted-steel"}) {
        const Words words = specular("clear-glass", 55.0,
                                     {"target.shape=plate", std::string("target.plate.backing=") + backing,
                                      "target.plate.gap_mm=0.3", "target.tilt_deg=[3, 2]", "receiver.aperture_mm=3"});
        std::vector<double> lights;
        for (const double field : {0.0, 35.0, 90.0}) {
            const scenario::Scenario s = scene_of(words, field);
            const receiver::Receiver r = sensor::receiver_of(s);
            const receiver::RayImage rays =
                receiver::trace_rays(sensor::beam_of(s), sensor::part_of(s, 0.0), sensor::surface_of(s), r,
                                     receiver::EdgeSpread(r.aperture.shape), 0.35, {std::int64_t{1} << 18, 1, 2, true});
            double squares = 0.0;
            const double mean = rays.profile.collected_power;
            for (const receiver::Profile& batch : rays.batches) squares += std::pow(batch.collected_power - mean, 2);
            const auto batches = static_cast<double>(rays.batches.size());
            const double error = std::sqrt(squares / batches / (batches - 1.0));
            INFO(backing << ", field " << field << ", error " << error / mean);
            CHECK(error < 0.004 * mean);
            lights.push_back(collected(s));
            // 1 % is what the spot model promises; six claims, each off by five errors of 16 batches once in 6000
            // draws.
            CHECK(std::abs(lights.back() - mean) < 0.01 * mean + 5.0 * error);
        }
        CHECK(std::abs(lights.front() - lights.back()) > 0.2 * lights.back());
    }
}
