// Images of stepped, curved and grooved parts.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/relief.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;

namespace {

scenario::Scenario part(const std::vector<std::string>& settings, const std::string& material = "white-ceramic") {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings);
}

receiver::Profile profile_of(const scenario::Scenario& s, const receiver::Tolerance& tolerance = {}) {
    static const receiver::EdgeSpread edge_spread;
    target::Surface surface = target::make_surface(s.target.made_of, s.emitter.wavelength);
    surface.lay = target::lay_direction(s.target, s.mount);
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, s.target.displacement), surface,
                           sensor::receiver_of(s), edge_spread, 0.35, tolerance);
}

double centre_of(const scenario::Scenario& s) {
    return receiver::centroid_of(profile_of(s)).value();
}

double collected(const scenario::Scenario& s) {
    return profile_of(s).collected_power;
}

measure::ReadResult read(const scenario::Scenario& s) {
    return measure::read(sensor::set_up_triangulation(s, 2), {2, {}, {}});
}

}  // namespace

TEST_CASE("a step hides the receiver's view of what lies in its shadow", "[physics][shape]") {
    // 2 mm high towards the receiver; its lens is seen from 30 deg -+ atan(2 / 45) = 2.54 deg at the lit point. The
    // edge hides it wholly nearer than 2 mm tan(27.46 deg) = 1.04 mm, and not at all beyond 2 mm tan(32.54 deg) =
    // 1.28 mm; the beam reaches 2.6 x 40 um to either side.
    const double open = collected(part({}));
    const auto behind = [&](double position) {
        return collected(part({"target.shape=step", "target.step.height_mm=2",
                               "target.step.position_mm=" + std::to_string(position)})) /
               open;
    };
    CHECK(behind(0.90) < 1e-6);
    CHECK(behind(1.40) == Approx(1.0).epsilon(2e-3));  // the tolerance of either image
    CHECK(behind(1.16) == Approx(0.5).margin(0.05));
    CHECK(behind(1.10) < behind(1.16));
    CHECK(behind(1.16) < behind(1.22));
}

TEST_CASE("the same step seen along its edge hides nothing", "[physics][shape]") {
    const double open = collected(part({}));
    const double beside = collected(part(
        {"target.shape=step", "target.step.height_mm=2", "target.step.edge=parallel", "target.step.position_mm=0.9"}));
    CHECK(beside == Approx(open).epsilon(2e-3));  // the tolerance of either image
}

TEST_CASE("on an edge across, the reading slides from one level to the other by way of wrong ones",
          "[physics][shape]") {
    // A spot of 40 um, half of it 100 um higher: its centroid lies between the levels, and each level lacks a side.
    const auto bias = [](double position) {
        return read(part({"target.shape=step", "target.step.height_mm=0.1", "run.readings=64", "run.speckle=off",
                          "target.step.position_mm=" + std::to_string(position)}))
            .bias.value();
    };
    CHECK(std::abs(bias(0.3)) < 1.0 * um);
    CHECK(std::abs(bias(-0.3)) < 1.0 * um);
    CHECK(std::abs(bias(0.005)) > 10.0 * um);
}

TEST_CASE("a lit point in shadow gives no peak", "[physics][shape]") {
    const auto result = read(part({"target.shape=step", "target.step.height_mm=2", "target.step.position_mm=0.5",
                                   "run.readings=64", "surroundings.light=none", "surroundings.illuminance_lx=0"}));
    CHECK(result.statistics.validity[static_cast<std::size_t>(reading::Validity::no_peak)] == 64);
    CHECK(result.verdict.level == measure::Level::unreadable);
}

TEST_CASE("a large ball or roll reads as the plane that touches it", "[physics][shape][limit]") {
    // Light lands deeper by x^2 / 2R: 40 um and R = 1 m give less than 1 nm. A tenth of a nanometre on the array per
    // nanometre: 1e-4 px.
    const double plane = centre_of(part({}));
    for (const char* shape : {"sphere", "cylinder"}) {
        for (const char* curvature : {"convex", "concave"}) {
            const std::string name = std::string("target.") + shape;
            INFO(name << ' ' << curvature);
            const double round = centre_of(part(
                {std::string("target.shape=") + shape, name + ".radius_mm=1000", name + ".curvature=" + curvature}));
            CHECK(std::abs(round - plane) < 1e-3);
        }
    }
}

TEST_CASE("the flank of a large roll reads as a plane tilted like it", "[physics][shape][limit]") {
    // The crest 100 mm beside the lit point on a radius of 200 mm: 30 deg, turned away from the receiver for a crest
    // at +x. Depth over the footprint departs from the plane by (40 um)^2 / 2R = 4 nm.
    for (const double side : {1.0, -1.0}) {
        scenario::Scenario roll = part({"target.shape=cylinder", "target.cylinder.radius_mm=200"});
        roll.target.cylinder.position = side * 100.0 * mm;
        roll.target.displacement = -(200.0 * mm - std::sqrt(3.0) * 100.0 * mm);
        scenario::Scenario plane = part({});
        plane.target.tilt = {-side * 30.0 * degree, 0.0};
        CHECK(std::abs(centre_of(roll) - centre_of(plane)) < 2e-3);
        CHECK(collected(roll) == Approx(collected(plane)).epsilon(1e-4));
    }
}

TEST_CASE("a relief of straight pieces is the shape that it describes", "[physics][shape]") {
    scenario::Scenario groove = part({"target.shape=groove", "target.groove.position_mm=0.1"});
    scenario::Scenario relief = part({});
    relief.target.shape = scenario::ShapeKind::relief;
    relief.target.relief.position = {0.1 * mm, 0.0};
    relief.target.relief.heights = scenario::parse_heights("x_mm,height_mm\n-0.5,0\n0,-0.5\n0.5,0\n", "r.csv");
    CHECK(std::abs(centre_of(relief) - centre_of(groove)) < 1e-9);
    // The same as a map, which is bilinear and so exact for it.
    relief.target.relief.heights = scenario::parse_heights(
        "x_mm,y_mm,height_mm\n-0.5,-1,0\n0,-1,-0.5\n0.5,-1,0\n-0.5,1,0\n0,1,-0.5\n0.5,1,0\n", "m.csv");
    CHECK(std::abs(centre_of(relief) - centre_of(groove)) < 1e-9);
}

TEST_CASE("a long wave reads as its local height", "[physics][shape]") {
    // Trough of 50 um amplitude and 20 mm period: depth over the footprint departs by A (k w)^2 / 2 = 4 nm.
    const auto result = read(part({"target.shape=wave", "target.wave.period_mm=20", "target.wave.position_mm=10",
                                   "run.readings=64", "run.speckle=off"}));
    CHECK(result.true_displacement == Approx(0.05 * mm));
    // Pattern of the pixels between calibration points: some tenths of a micrometre.
    CHECK(std::abs(*result.bias) < 0.5 * um);
}

TEST_CASE("edges under the footprint are met by enough rays", "[physics][shape][convergence]") {
    for (const char* position : {"-0.013", "0.004", "0.021"}) {
        scenario::Scenario s = part({"target.shape=step", "target.step.height_mm=0.05"});
        s.target.step.position = std::stod(position) * mm;
        const double exact = receiver::centroid_of(profile_of(s, receiver::Tolerance{1e-5, 1e-3})).value();
        // The tolerance of the image.
        CHECK(std::abs(centre_of(s) - exact) < 0.02);
    }
}

TEST_CASE("a beam beside the mounting plane leaves the row of pixels", "[physics]") {
    const double centred = profile_of(part({})).received_power;
    // Magnification 2/3: 0.15 mm aside are 0.1 mm on the array, beyond the pixels' half-height of 30 um.
    CHECK(profile_of(part({"emitter.out_of_plane_mm=0.15"})).received_power < 0.01 * centred);
    CHECK(profile_of(part({"emitter.out_of_plane_mm=0.02"})).received_power > 0.5 * centred);
}
