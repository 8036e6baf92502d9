// The light of a part on the detector of a time-of-flight sensor, where it is cut.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/flight/receive.hpp"
#include "sim/flight/timed_ways.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"

using namespace spotwright;
using base::mm, base::um;

namespace {

constexpr double distance = 1.0;  // of the part; m
constexpr double radius = 10.0 * mm;

flight::TimedOptics optics_of(double detector_diameter) {
    flight::TimedOptics optics;
    scenario::Emitter emitter;
    emitter.power = 1.0;
    emitter.waist_radius = {radius, radius};
    scenario::Mount mount;
    mount.reference_distance = distance;
    optics.beam = emitter::make_beam(emitter, mount);
    scenario::Receiver lens;
    lens.focal_length = 20.0 * mm;
    lens.aperture = scenario::round_aperture(10.0 * mm);
    lens.transmission = 1.0;
    scenario::Flight f;
    f.detector_diameter = detector_diameter;
    optics.receiver = flight::make_receiver(lens, f, mount, 0.0);
    optics.detector_diameter = detector_diameter;
    optics.electrons_per_joule = 1.0;
    return optics;
}

target::Surface matt() {
    target::Surface surface;
    surface.reflectance = 0.5;
    return surface;
}

}  // namespace

// In focus the detector sees a disc of the radius D a / 2 b of the part, and of a Gaussian beam 1 - exp(-2 r^2 / w^2)
// falls on it; of that rho A / (pi a^2) comes through a small lens (Lambert's law). The lens is so small, and the disc
// too, that this holds to 1e-4; what is left is the program's promise of three thousandths.
TEST_CASE("a detector that sees little of the spot gets the share of a Gaussian beam in its field",
          "[flight][published]") {
    for (const double share : {0.3, 0.03, 0.003}) {
        const double seen = radius * std::sqrt(-0.5 * std::log1p(-share));
        const flight::TimedOptics one = optics_of(1.0 * mm);
        const double diameter = 2.0 * seen * one.receiver.image_distance / distance;
        const flight::TimedOptics optics = optics_of(diameter);
        const flight::TimedWays light =
            flight::timed_ways(optics.beam, target::square_plane(0.0), matt(), optics.receiver, diameter / 2.0);
        const double collected = 0.5 * receiver::configuration_factor(optics.receiver.aperture, distance);
        INFO("share " << share);
        CHECK(light.received_power == Approx(share * collected).epsilon(4e-3));
    }
}

TEST_CASE("light beside the beam's axis is received where the axis misses the part", "[flight][unit]") {
    // Before the reference point, at it and behind.
    const double height = GENERATE(40.0 * mm, 0.0, -40.0 * mm);
    INFO("at " << height / mm << " mm");
    const flight::TimedOptics optics = optics_of(5.0 * mm);
    target::Part roll = target::square_plane(0.0);
    roll.shape = target::Roll{20.0 * mm, false};
    roll.origin = {23.0 * mm, 0.0, height};
    REQUIRE_FALSE(target::meet(roll, {optics.beam.face, optics.beam.direction}));
    const flight::Received received = flight::receive(optics, roll, matt(), {});
    // A beam of 10 mm lights a rim 3 mm away.
    CHECK(received.received_power > 1e-3 * 0.5 * receiver::configuration_factor(optics.receiver.aperture, distance));
    CHECK(received.mean_path > 2.0 * (distance - height));
    CHECK(received.mean_path < 2.0 * (distance - height + 21.0 * mm));
}
