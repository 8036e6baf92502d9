// Shiny parts, and the mount that is made for them.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/measure/read.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;

namespace {

scenario::Scenario diffuse_mount(const std::string& material, std::vector<std::string> settings = {}) {
    return scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "test.toml", settings);
}

// Emitter and receiver at 30 deg on either side of the normal; the waist at the reference point.
scenario::Scenario specular_mount(const std::string& material, std::vector<std::string> settings = {}) {
    std::vector<std::string> all{"emitter.angle_deg=-30",   "receiver.angle_deg=30",
                                 "mount.range_mm=[-1, 1]",  "reading.calibrated_on=mirror",
                                 "exposure.mode=automatic", "exposure.exposure_us=0.0001"};
    all.insert(all.end(), settings.begin(), settings.end());
    return diffuse_mount(material, all);
}

receiver::Profile profile_of(const scenario::Scenario& s, double displacement) {
    target::Surface surface = target::make_surface(s.target.made_of, s.emitter.wavelength);
    surface.lay = target::lay_direction(s.target, s.mount);
    const receiver::EdgeSpread edge_spread;
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, displacement), surface, sensor::receiver_of(s),
                           edge_spread, 0.35);
}

}  // namespace

TEST_CASE("rays of the beam carry its second moments through free space, as ISO 11146 has it", "[physics]") {
    scenario::Scenario s;
    s.emitter.beam_quality = 1.3;
    s.emitter.waist_displacement = 4.0 * mm;
    const emitter::Beam beam = sensor::beam_of(s);
    for (const double from : {30.0 * mm, 54.0 * mm, 80.0 * mm}) {
        for (const double to : {10.0 * mm, 60.0 * mm, 150.0 * mm}) {
            double weight = 0.0;
            double second = 0.0;
            constexpr int nodes = 41;
            for (int i = 0; i < nodes; ++i) {
                for (int k = 0; k < nodes; ++k) {
                    const double offset = 6.0 * (i - 20.0) / nodes;
                    const double spread = 6.0 * (k - 20.0) / nodes;
                    const double w = std::exp(-2.0 * (offset * offset + spread * spread));
                    const emitter::BeamRay ray = emitter::ray_at(beam, from, {offset, 0.0}, {spread, 0.0});
                    const double step = (to - from) / ray.direction.dot(beam.direction);
                    const double x = (ray.origin + step * ray.direction - beam.face).dot(beam.axes[0]);
                    weight += w;
                    second += w * x * x;
                }
            }
            // Trapezoidal rule on a Gaussian: exact to rounding; paraxial angles of 0.01 rad: 1e-4.
            CHECK(2.0 * std::sqrt(second / weight) == Approx(emitter::radius_at(beam, 0, to)).epsilon(2e-4));
        }
    }
}

// u = b 2 z sin(alpha) / (a sin(beta) - 2 z sin(alpha + beta)), tan(beta) = tan(alpha) / m: every ray of the pupil
// agrees.
TEST_CASE("in the specular mount a mirror moves the image as its virtual source, twice its own motion",
          "[published][slow]") {
    scenario::Scenario s = specular_mount("mirror");
    s.receiver.distance = 60.0 * mm;
    s.receiver.focal_length = 20.0 * mm;
    s.receiver.aperture = scenario::round_aperture(8.0 * mm);
    s.detector.pitch = 10.0 * um;
    const receiver::Receiver r = sensor::receiver_of(s);
    const auto centre = [&](double z) {
        return receiver::u_of_pixel(r, receiver::centroid_of(profile_of(s, -z)).value());
    };
    // Worked value for z = 0.5 mm, alpha = 30 deg, a = 60 mm, m = 0.5: 0.3380376 mm. The array cuts off the wings of
    // diffraction unevenly about a spot off its centre: lambda N 2 / pi^3 ln(5.46 / 4.78) = 0.02 um; rays to 0.1 um.
    CHECK(std::abs(centre(0.5 * mm) - 0.3380376 * mm) < 0.3 * um);
    CHECK(std::abs(centre(0.0)) < 0.2 * um);
}

TEST_CASE("the tilt limit of a mirror is half of the aperture's half-angle", "[physics]") {
    // |2 delta| + beam half-angle <= atan(D / 2a), a = 45 mm, D = 4 mm: 2.54 deg less the beam's 0.33 deg, halved: 1.1
    // deg.
    scenario::Scenario s = specular_mount("mirror");
    const double square = profile_of(s, 0.0).collected_power;
    const auto share = [&](double tilt) {
        s.target.tilt = {tilt * degree, 0.0};
        return profile_of(s, 0.0).collected_power / square;
    };
    CHECK(share(0.9) > 0.999);
    CHECK(share(-0.9) > 0.999);
    CHECK(share(1.27) == Approx(0.5).margin(0.05));
    CHECK(share(1.9) < 1e-3);
    CHECK(share(-1.9) < 1e-3);
    s.target.tilt = {0.0, 1.9 * degree};
    CHECK(profile_of(s, 0.0).collected_power < 1e-2 * square);
}

TEST_CASE("a mirror in a diffuse mount is dark, and in the specular mount it reads", "[physics][slow]") {
    const double diffuse = profile_of(diffuse_mount("mirror"), 0.0).collected_power;
    const double specular = profile_of(specular_mount("mirror"), 0.0).collected_power;
    CHECK(diffuse < 1e-6 * specular);
    // Fresnel's 0.905 of all the light, through transmission 0.6.
    CHECK(specular / (0.3e-3 * 0.6) == Approx(0.905).margin(0.01));
    scenario::Scenario s = specular_mount("mirror", {"run.readings=500", "target.displacement_mm=0.4"});
    const measure::ReadResult r = measure::read(sensor::set_up_triangulation(s, 2), {2, {}, {}});
    CHECK(r.statistics.validity[0] == 500);
    CHECK(std::abs(*r.bias) < 1.0 * um);
}

TEST_CASE("a matt part in the specular mount reads in a scale of its own, and the bias says so", "[physics][slow]") {
    scenario::Scenario s = specular_mount(
        "white-ceramic", {"run.readings=500", "target.displacement_mm=0.4", "exposure.period_us=[125, 5000]"});
    const measure::ReadResult r = measure::read(sensor::set_up_triangulation(s, 2), {2, {}, {}});
    // Its spot moves with the beam by 0.4 mm sin(60 deg) / cos(30 deg) as seen by the receiver; a mirror's by
    // 0.4 mm 2 sin(30 deg): the same to first order at this angle.
    REQUIRE(r.statistics.validity[0] == 500);
    CHECK(std::abs(*r.bias) < 20.0 * um);
}

TEST_CASE("ground steel shines across its lay, not along it", "[physics]") {
    // Receiver in the mounting plane, 30 deg off a beam along the normal: facets tilted by 15 deg are wanted. Across
    // the lay the rms slope is 0.12, and tan(15 deg) = 0.27 is 2.2 of it; along the lay it is 0.03, 9 of it. By
    // (target.13) with q = tan^2 / (2 slope^2), GGX sends ((1 + q_along) / (1 + q_across))^2 as much: 137.
    scenario::Scenario s = diffuse_mount("ground-steel");
    s.target.lay = 90.0 * degree;
    const double across = profile_of(s, 0.0).collected_power;
    s.target.lay = 0.0;
    const double along = profile_of(s, 0.0).collected_power;
    // The lens is 6 deg wide, over which the lobe falls by a half, and masking differs by some per cent.
    CHECK(across / along == Approx(137.0).epsilon(0.1));
}

TEST_CASE("a glossy part turned so that its lobe meets the receiver is far brighter", "[physics]") {
    scenario::Scenario s = diffuse_mount("white-glossy-paint");
    const double square = profile_of(s, 0.0).collected_power;
    s.target.tilt = {15.0 * degree, 0.0};  // the mirror direction of a beam along the normal, 30 deg
    CHECK(profile_of(s, 0.0).collected_power > 3.0 * square);
}

TEST_CASE("a narrow lobe and the mirrored beam take enough rays", "[convergence]") {
    for (const char* material : {"chrome-plated", "lapped-steel", "polished-steel"}) {
        scenario::Scenario s = specular_mount(material);
        s.target.tilt = {0.8 * degree, 0.3 * degree};
        const emitter::Beam beam = sensor::beam_of(s);
        const receiver::Receiver r = sensor::receiver_of(s);
        const receiver::EdgeSpread edge_spread;
        const target::Surface surface = target::make_surface(s.target.made_of, s.emitter.wavelength);
        const target::Part plane = sensor::part_of(s, 0.2 * mm);
        const auto chosen = receiver::image(beam, plane, surface, r, edge_spread, 0.35);
        const auto finer = receiver::image(beam, plane, surface, r, edge_spread, 0.35, {1e-5, 1e-4});
        INFO(material);
        // The tolerance of the image, and as much again for the finer one.
        CHECK(chosen.received_power == Approx(finer.received_power).epsilon(2e-3));
        CHECK(std::abs(*receiver::centroid_of(chosen) - *receiver::centroid_of(finer)) < 0.02);
    }
}
