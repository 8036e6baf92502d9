// What must hold of the image whatever its quadrature: light on pixels is an integral of a density over their area.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/part.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um;

namespace {

struct InvariantScene {
    std::string material;
    std::vector<std::string> settings;
};

// Matt, glossy, narrow lobes across the row, lines, specular, translucent and a plate.
const std::vector<InvariantScene>& invariant_scenes() {
    static const std::vector<InvariantScene> scenes{
        {"white-ceramic", {}},
        {"white-ceramic", {"emitter.waist_radius_um=[40, 2000]", "receiver.aperture_mm=[4, 2]"}},
        {"black-glossy-paint", {"emitter.waist_radius_um=[30, 600]", "target.tilt_deg=[12, 0]"}},
        {"ground-steel", {"emitter.waist_radius_um=[80, 80]", "target.tilt_deg=[13, 0]", "target.lay_deg=90"}},
        {"polished-steel", {"emitter.angle_deg=-30", "mount.range_mm=[-1, 1]", "emitter.waist_radius_um=[60, 900]"}},
        {"black-rubber", {"target.shape=cylinder", "target.cylinder.radius_mm=3", "emitter.waist_radius_um=[9, 300]"}},
        {"translucent-polymer", {}},
        {"clear-glass", {"target.shape=plate", "target.plate.backing=white-paper", "target.tilt_deg=[15, 0]"}},
    };
    return scenes;
}

receiver::Profile image_of(const InvariantScene& scene, std::vector<std::string> more) {
    more.insert(more.begin(), scene.settings.begin(), scene.settings.end());
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"" + scene.material + "\"\n", "t", more);
    const receiver::Receiver r = support::receiver_of(s);
    return receiver::image(support::beam_of(s), support::part_of(s, s.target.displacement), support::surface_of(s), r,
                           receiver::EdgeSpread(r.aperture.shape), s.detector.quantum_efficiency);
}

std::string height(double of) {
    return "detector.height_um=" + std::to_string(of);
}

// What the image promises of its own error. Differences of two images may err by the sum.
constexpr double promised = 1e-3;

}  // namespace

TEST_CASE("light density falls outwards across the height of a centred spot", "[image][physics]") {
    // Light on a row of height h is twice the integral of the density over h / 2, so what a higher row gains per height
    // falls as it grows. Every gain may err by what both images promise.
    const std::vector<double> heights{4, 8, 16, 32, 64, 128, 256, 512, 1024, 2048, 4096};
    for (const InvariantScene& scene : invariant_scenes()) {
        INFO(scene.material << ' ' << (scene.settings.empty() ? "" : scene.settings.front()));
        double before = 0.0;
        double last_density = std::numeric_limits<double>::infinity();
        double height_before = 0.0;
        for (const double h : heights) {
            INFO("height " << h << " um");
            const double light = image_of(scene, {height(h)}).received_power;
            const double error = promised * (light + before) / (h - height_before);
            const double density = (light - before) / (h - height_before);
            CHECK(density >= -error);
            CHECK(density <= last_density + error);
            before = light;
            height_before = h;
            last_density = density + error;
        }
    }
}

TEST_CASE("the light of a row is that of the lower rows it is made of", "[image][physics]") {
    // A row of 3 h is one of h in the middle and two beside it; a row beside the middle is what a beam out of plane by
    // -h of the object would show. Only a plane across the plane of the mounting looks the same from there, and at
    // small distances from the axis: the scene is matt, its lens 45 mm away, and h 20 um.
    const InvariantScene scene{"white-ceramic", {"emitter.waist_radius_um=[40, 50]"}};
    const double h = 20.0;
    const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "t", {});
    const receiver::Receiver r = support::receiver_of(s);
    const double shift_mm = h * um * r.object_distance / r.image_distance / mm;
    const double middle = image_of(scene, {height(h)}).received_power;
    const double beside =
        image_of(scene, {height(h), "emitter.out_of_plane_mm=" + std::to_string(shift_mm)}).received_power;
    const double other =
        image_of(scene, {height(h), "emitter.out_of_plane_mm=" + std::to_string(-shift_mm)}).received_power;
    // The beam's shift turns the view by 1e-3: 1e-6 of the light.
    CHECK(beside == Approx(other).epsilon(2.0 * promised));
    CHECK(middle + beside + other == Approx(image_of(scene, {height(3.0 * h)}).received_power).epsilon(4.0 * promised));
}

TEST_CASE("regrouped pixels hold the light of the pixels they are made of", "[image][physics]") {
    for (const InvariantScene& scene : invariant_scenes()) {
        INFO(scene.material << ' ' << (scene.settings.empty() ? "" : scene.settings.front()));
        const auto fine = image_of(scene, {"detector.pixels=1024", "detector.pitch_um=7"});
        const auto coarse = image_of(scene, {"detector.pixels=512", "detector.pitch_um=14"});
        REQUIRE(coarse.rate.size() == 512);
        CHECK(coarse.received_power == Approx(fine.received_power).epsilon(2.0 * promised));
        const auto brightest = static_cast<double>(*std::max_element(coarse.rate.begin(), coarse.rate.end()));
        REQUIRE(brightest > 0.0);
        // Bins grow with the pixels: light is shared linearly between bins of an eighth of a pixel, which widens it by
        // at most 1.75 um / sqrt(6); of a line as narrow as diffraction's, 5 um, that moves 1 % of a pixel's light.
        for (std::size_t k = 0; k < coarse.rate.size(); ++k) {
            const double pair = static_cast<double>(fine.rate[2 * k]) + static_cast<double>(fine.rate[2 * k + 1]);
            CHECK(std::abs(static_cast<double>(coarse.rate[k]) - pair) < 0.01 * brightest);
        }
    }
}

TEST_CASE("the pixels receive no more than the aperture collects", "[image][physics]") {
    for (const InvariantScene& scene : invariant_scenes()) {
        INFO(scene.material);
        for (const double h : {5.0, 100.0, 20000.0}) {
            const auto image = image_of(scene, {height(h)});
            CHECK(image.received_power >= 0.0);
            CHECK(image.received_power <= image.collected_power * (1.0 + 1e-6));
            double electrons = 0.0;
            for (const float rate : image.rate) {
                REQUIRE(rate >= 0.0F);
                REQUIRE(std::isfinite(rate));
                electrons += static_cast<double>(rate);
            }
            CHECK((electrons > 0.0) == (image.received_power > 0.0));
        }
    }
}

TEST_CASE("a part turned to either side out of plane shows the same image", "[image][physics][slow]") {
    for (const InvariantScene& scene : invariant_scenes()) {
        INFO(scene.material << ' ' << (scene.settings.empty() ? "" : scene.settings.front()));
        for (const double tilt : {0.3, 7.0}) {
            const auto turned = [&](double to) {
                return image_of(scene, {"target.tilt_deg=[0, " + std::to_string(to) + "]"});
            };
            const auto one = turned(tilt);
            const auto other = turned(-tilt);
            const double light = std::max(one.received_power, other.received_power);
            // Light below 1e-12 of the beam's 0.3 mW is taken as it comes, from each of its sources.
            constexpr double darkness = 1e-15;
            CHECK(std::abs(one.received_power - other.received_power) <= 2.0 * promised * light + darkness);
            const auto brightest = static_cast<double>(*std::max_element(one.rate.begin(), one.rate.end()));
            // Light from inside comes from a finite walk, good to 5 %.
            const double allowed = std::string(scene.material) == "translucent-polymer" ? 0.05 : 0.02;
            constexpr double electrons_per_joule = 2e18;  // at most: quantum efficiency below 0.6 at 655 nm
            // A pixel by itself takes a few hundred rays; in the tail of a lobe they differ most.
            for (std::size_t k = 0; k < one.rate.size(); ++k) {
                CHECK(std::abs(static_cast<double>(one.rate[k]) - static_cast<double>(other.rate[k])) <=
                      allowed * brightest + darkness * electrons_per_joule);
            }
        }
    }
}
