// The specular mount in closed form: where the beam that a mirror sends back meets lens and array.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/mirrored_beam.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;

namespace {

// Emitter and receiver at equal angles on either side of the normal, the waist at the reference point.
scenario::Scenario before_mirror(double angle_deg, std::vector<std::string> settings = {}) {
    std::vector<std::string> all{"emitter.angle_deg=" + std::to_string(-angle_deg),
                                 "receiver.angle_deg=" + std::to_string(angle_deg), "mount.range_mm=[-0.5, 0.5]",
                                 "reading.calibrated_on=mirror"};
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::parse("[target]\nmaterial = \"mirror\"\n", "test.toml", all);
}

receiver::Profile image_of(const scenario::Scenario& s, const receiver::Receiver& r, double displacement) {
    const receiver::EdgeSpread edge_spread(r.aperture.shape);
    return receiver::image(sensor::beam_of(s), sensor::part_of(s, displacement),
                           target::make_surface(s.target.made_of, s.emitter.wavelength), r, edge_spread, 0.35);
}

const std::vector<double>& angles_deg() {
    static const std::vector<double> all{15.0, 30.0, 42.0};
    return all;
}

}  // namespace

TEST_CASE("a mirror moves the image as the mirror image of the reference point", "[receiver][published]") {
    // Worked value for z = 0.5 mm, alpha = 30 deg, a = 60 mm, m = 0.5: 0.3380376 mm (u = b 2 z sin(alpha) / (a
    // sin(beta)
    // - 2 z sin(alpha + beta)), tan(beta) = tan(alpha) / m).
    const scenario::Scenario s =
        before_mirror(30.0, {"receiver.distance_mm=60", "receiver.focal_length_mm=20", "receiver.aperture_mm=8"});
    const receiver::Receiver r = sensor::receiver_of(s);
    CHECK(std::abs(receiver::mirrored_position(r, -0.5 * mm).value() - 0.3380376 * mm) < 0.5e-7 * mm);
    for (const double z : {-1.5 * mm, -0.2 * mm, 0.7 * mm, 1.9 * mm}) {
        const double sin_beta = r.sin_beta;
        const double sin_sum = std::sin(r.angle) * r.cos_beta + std::cos(r.angle) * r.sin_beta;
        const double expected =
            r.image_distance * 2.0 * z * std::sin(r.angle) / (r.object_distance * sin_beta - 2.0 * z * sin_sum);
        CHECK(receiver::mirrored_position(r, -z).value() == Approx(expected).epsilon(1e-11));  // rounding
        CHECK(receiver::mirrored_offset(r, -z) == Approx(2.0 * z * std::sin(r.angle)).epsilon(1e-12));
    }
    // The spot itself, as a matt part shows it, lands elsewhere: 1 % at 1 mm.
    CHECK(std::abs(receiver::image_position(r, 1.0 * mm).value() / receiver::mirrored_position(r, 1.0 * mm).value() -
                   1.0) > 0.005);
}

TEST_CASE("the closed form is where the image of a mirror lies, over displacements, tilts of the array and waists",
          "[receiver][physics]") {
    const std::vector<std::vector<std::string>> mounts{
        {},
        {"receiver.detector_tilt_deg=20"},    // out of focus but at the reference point: the chief ray leads
        {"emitter.waist_displacement_mm=4"},  // the waist before or behind
        {"receiver.aperture_mm=[3, 5]"},
    };
    for (const double angle : angles_deg()) {
        for (const std::vector<std::string>& mount : mounts) {
            // An array so long that it cuts off the wings of diffraction evenly about a spot off its centre.
            std::vector<std::string> settings = mount;
            settings.emplace_back("detector.pixels=8192");
            const scenario::Scenario s = before_mirror(angle, settings);
            const receiver::Receiver r = sensor::receiver_of(s);
            // The beam's 1/e^2 radius at the lens is some 0.3 mm: twice that stays inside.
            const double farthest = (r.aperture.half_in_plane - 0.7 * mm) / (2.0 * std::sin(r.angle));
            for (const double share : {-1.0, -0.4, 0.0, 0.3, 1.0}) {
                const double displacement = share * farthest;
                INFO("alpha " << angle << " deg, " << (mount.empty() ? "plain" : mount.front()) << ", "
                              << displacement / mm << " mm");
                const auto expected = receiver::mirrored_position(r, displacement);
                REQUIRE(expected);
                const auto centroid = receiver::centroid_of(image_of(s, r, displacement));
                REQUIRE(centroid);
                // Terms of second order in the footprint, 0.15 um at 15 deg, and the quadrature: 0.05 px. The image of
                // the lit spot would be off by up to 2.7 % of 1 mm, 4 px.
                CHECK(std::abs(receiver::u_of_pixel(r, *centroid) - *expected) < 0.05 * r.pitch);
            }
        }
    }
}

TEST_CASE("half of a mirror's light passes the lens where the range ends, by both models", "[receiver][physics]") {
    for (const double angle : angles_deg()) {
        const scenario::Scenario s = before_mirror(angle, {"detector.pixels=8192"});
        const receiver::Receiver r = sensor::receiver_of(s);
        const receiver::MeasurableRange range = receiver::mirrored_range(r, s.mount.reference_distance);
        const double expected = r.aperture.half_in_plane / (2.0 * std::sin(r.angle));  // D / (4 sin(alpha))
        INFO("alpha " << angle << " deg");
        CHECK(range.near == Approx(-expected).epsilon(1e-12));
        CHECK(range.far == Approx(expected).epsilon(1e-12));
        CHECK(range.near_limit == "aperture: beyond it the mirrored beam misses the lens");
        CHECK(range.far_limit == range.near_limit);
        const double all = image_of(s, r, 0.0).collected_power;
        const receiver::EdgeSpread edge_spread;
        for (const double end : {range.near, range.far}) {
            // A round rim of 2 mm bends away from a beam of 0.3 mm: 2 % less than half; steps of its rays: 2 % too.
            CHECK(image_of(s, r, end).collected_power == Approx(0.5 * all).epsilon(0.06));
            const auto rays = receiver::trace_rays(sensor::beam_of(s), sensor::part_of(s, end),
                                                   target::make_surface(s.target.made_of, s.emitter.wavelength), r,
                                                   edge_spread, 0.35, {40000, 3, 1});
            CHECK(rays.profile.collected_power == Approx(0.5 * all).epsilon(0.06));
            // Beyond by two of the beam's radii: nothing.
            CHECK(image_of(s, r, end * (1.0 + 0.35)).collected_power < 0.01 * all);
        }
    }
}

TEST_CASE("a short array ends a mirror's range where the mirrored beam meets its ends", "[receiver][unit]") {
    for (const double angle : angles_deg()) {
        const scenario::Scenario s = before_mirror(angle, {"detector.pixels=128"});
        const receiver::Receiver r = sensor::receiver_of(s);
        const receiver::MeasurableRange range = receiver::mirrored_range(r, s.mount.reference_distance);
        CHECK(range.near_limit == "array length");
        CHECK(range.far_limit == "array length");
        CHECK(receiver::mirrored_position(r, range.near).value() == Approx(64.0 * r.pitch).epsilon(1e-11));
        CHECK(receiver::mirrored_position(r, range.far).value() == Approx(-64.0 * r.pitch).epsilon(1e-11));
    }
}

TEST_CASE("the mirrored beam's sensitivity is the slope of its image position", "[receiver][unit]") {
    for (const char* tilt : {"receiver.detector_tilt_deg=scheimpflug", "receiver.detector_tilt_deg=10"}) {
        const receiver::Receiver r = sensor::receiver_of(before_mirror(30.0, {tilt}));
        for (const double displacement : {-1.5 * mm, 0.0, 1.2 * mm}) {
            constexpr double step = 1.0 * um;
            const double slope = (receiver::mirrored_position(r, displacement + step).value() -
                                  receiver::mirrored_position(r, displacement - step).value()) /
                                 (2.0 * step);
            // Third derivatives: (step / 50 mm)^2; rounding 1e-16 of mm over 1 um.
            CHECK(receiver::mirrored_sensitivity(r, displacement) == Approx(-slope).epsilon(1e-8));
        }
    }
}

TEST_CASE("the layout of a sensor calibrated on a mirror is the mirrored beam's", "[receiver][unit]") {
    const scenario::Scenario s = before_mirror(30.0);
    const sensor::Layout layout = sensor::make_layout(s);
    const receiver::Receiver& r = layout.receiver;
    CHECK(layout.mirrored);
    CHECK(layout.image_position[0] == receiver::mirrored_position(r, -0.5 * mm).value());
    CHECK(layout.image_position[2] == receiver::mirrored_position(r, 0.5 * mm).value());
    CHECK(layout.sensitivity == receiver::mirrored_sensitivity(r, 0.0));
    CHECK(layout.measurable.far == Approx(r.aperture.half_in_plane / (2.0 * std::sin(r.angle))));
    // 4 mm of aperture at 30 deg: 2 mm, and what lies beyond is refused, with the reason.
    CHECK_THROWS_WITH(
        sensor::make_layout(before_mirror(30.0, {"mount.range_mm=[-1, 2.1]"})),
        Catch::Contains("far end is limited by the aperture: beyond it the mirrored beam misses the lens"));
    // Calibrated on a matt part the same mount shows the spot itself.
    const sensor::Layout matt = sensor::make_layout(before_mirror(30.0, {"reading.calibrated_on=white-ceramic"}));
    CHECK_FALSE(matt.mirrored);
    CHECK(matt.image_position[2] == receiver::image_position(r, 0.5 * mm).value());
    // In a diffuse mount the mirrored beam never reaches the lens.
    CHECK_FALSE(sensor::reads_mirrored_beam(before_mirror(30.0, {"emitter.angle_deg=0"}),
                                            sensor::receiver_of(before_mirror(30.0, {"emitter.angle_deg=0"}))));
}
