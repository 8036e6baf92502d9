// Light that a part throws on itself, as time of flight meets it: a hollow half ball has closed forms.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/thrown.hpp"
#include "sim/target/part.hpp"

using namespace spotwright;
using base::mm;
using Catch::Matchers::WithinRel;

namespace {

constexpr double distance = 5.0;      // of the lens; m
constexpr double radius = 20.0 * mm;  // of the hollow

// A sensor far above the part, whose lens surrounds the beam and whose detector sees all of it.
flight::TimedOptics far_optics() {
    flight::TimedOptics optics;
    scenario::Emitter emitter;
    emitter.power = 1.0;
    emitter.waist_radius = {0.5 * mm, 0.5 * mm};
    scenario::Mount mount;
    mount.reference_distance = distance;
    optics.beam = emitter::make_beam(emitter, mount);
    scenario::Receiver lens;
    lens.focal_length = 20.0 * mm;
    lens.aperture = scenario::round_aperture(20.0 * mm);
    lens.transmission = 1.0;
    scenario::Flight f;
    f.detector_diameter = 10.0 * mm;
    optics.receiver = flight::make_receiver(lens, f, mount, 0.0);
    optics.detector_diameter = f.detector_diameter;
    optics.electrons_per_joule = 1.0;
    return optics;
}

target::Part hollow() {
    target::Part part = target::square_plane(0.0);
    part.shape = target::Ball{radius, true};
    return part;
}

target::Surface matt(double reflectance) {
    target::Surface surface;
    surface.reflectance = reflectance;
    return surface;
}

double power_of(const flight::Received& received) {
    double sum = 0.0;
    for (const flight::Arrival& each : received.light.arrivals) sum += each.rate;
    return sum;
}

}  // namespace

// A lit point of a sphere lights all of it alike (the integrating sphere: e.g. P. Elterman, Appl. Opt. 9, 2140 (1970),
// from memory): of what it scatters the share f = 1/2 meets the half ball again. All that follows lies evenly on it, so
// that it sends rho f / (1 - rho f) times the first light, and seen along the axis half of that, the half ball's area
// over its opening's. 40000 rays know it to 0.5 %; the beam and lens of finite size leave 0.5 %.
TEST_CASE("a hollow half ball throws as much light on itself as an integrating sphere", "[flight][published]") {
    const flight::TimedOptics optics = far_optics();
    for (const double rho : {0.3, 0.9}) {
        const target::Surface surface = matt(rho);
        const double direct = rho / base::pi * std::pow(10.0 * mm / distance, 2.0) * base::pi;
        const flight::Received thrown = flight::with_thrown_light({}, optics, hollow(), surface, 40000, 3);
        CHECK_THAT(thrown.received_power / direct, WithinRel(0.5 * 0.5 * rho / (1.0 - 0.5 * rho), 0.02));
        CHECK_THAT(power_of(thrown), WithinRel(thrown.received_power, 1e-9));
    }
}

// Of a dark hollow only the second meeting counts: its way is longer by a chord less the height of its end, weighed by
// what is seen of it, int (2 sin(t/2) - 1 + cos t) cos t sin t dt / int cos t sin t dt = 0.4209 radii, t from 0 to 90
// deg. Four thousand rays of two million go on: they know it to 1 %. Third meetings, a thousandth of the light, add
// 0.3 %.
TEST_CASE("thrown light comes late by the chords of the hollow", "[flight][unit]") {
    const flight::Received thrown = flight::with_thrown_light({}, far_optics(), hollow(), matt(0.002), 2000000, 5);
    CHECK_THAT(thrown.mean_path - 2.0 * distance, WithinRel(0.42091 * radius, 0.03));
    CHECK(thrown.path_deviation > 0.05 * radius);
}

TEST_CASE("a plane throws nothing on itself, and straight light stays as it is", "[flight][unit]") {
    const flight::TimedOptics optics = far_optics();
    const scenario::Material none;
    flight::Received straight;
    straight.light.arrivals = {{1e-9, 5.0}, {2e-9, 7.0}};
    straight.received_power = 12.0;
    const flight::Received same =
        flight::with_thrown_light(straight, optics, target::square_plane(0.0), matt(0.9), 1000, 1);
    REQUIRE(same.light.arrivals.size() == 2);
    CHECK(same.light.arrivals[1].rate == 7.0);
    CHECK(same.received_power == 12.0);
    const flight::Received more = flight::with_thrown_light(straight, optics, hollow(), matt(0.9), 1000, 1);
    CHECK(more.received_power > 12.0);
    CHECK(std::is_sorted(more.light.arrivals.begin(), more.light.arrivals.end(),
                         [](const flight::Arrival& a, const flight::Arrival& b) { return a.delay < b.delay; }));
}
