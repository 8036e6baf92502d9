// Room around the housing, against plane geometry done by hand.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/housing.hpp"

using namespace spotwright;
using base::mm, base::degree;

namespace {

// A body of 60 x 40 x 20 mm whose front is 50 mm over the reference point, from x = -10 to 50 mm.
scenario::Scenario boxed(std::vector<std::string> settings) {
    for (const char* key : {"housing.width_mm=60", "housing.depth_mm=40", "housing.thickness_mm=20",
                            "housing.beam_position_mm=10", "mount.range_mm=[-5,5]"}) {
        settings.emplace_back(key);
    }
    return scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "scenario", settings);
}

}  // namespace

TEST_CASE("a square part is as far from the housing as the front stands over it", "[sensor]") {
    const auto room = sensor::room_of(boxed({}));
    REQUIRE(room);
    CHECK(room->clearance == Approx(50.0 * mm).epsilon(1e-12));
    CHECK(room->near_clearance == Approx(45.0 * mm).epsilon(1e-12));
    CHECK(room->height == Approx(95.0 * mm).epsilon(1e-12));
    CHECK(room->width == Approx(60.0 * mm).epsilon(1e-12));
}

TEST_CASE("a tilted part comes nearest to the corner on its raised side", "[sensor]") {
    // A front turned towards the receiver, at +x, rises on the left: the plane through the origin with the normal
    // (sin t, cos t) is d . n away from a corner d.
    const double t = 20.0 * degree;
    const auto part = sensor::approach_of(boxed({"target.tilt_deg=[20,0]"}), 0.0);
    REQUIRE(part);
    CHECK(part->clearance == Approx((-10.0 * std::sin(t) + 50.0 * std::cos(t)) * mm).epsilon(1e-12));
    CHECK(part->corner.x() == Approx(-10.0 * mm));
    CHECK((part->corner - part->foot).norm() == Approx(part->clearance).epsilon(1e-12));
    CHECK(part->foot.dot(Eigen::Vector2d(std::sin(t), std::cos(t))) == Approx(0.0).margin(1e-15));
}

TEST_CASE("a sensor turned one way sees the part turned the other way", "[sensor]") {
    const double t = 20.0 * degree;
    const auto sensor = sensor::approach_of(boxed({"mount.tilt_deg=[20,0]"}), 0.0);
    REQUIRE(sensor);
    // Now the normal is (-sin t, cos t): the far corner at x = 50 mm is the nearest.
    CHECK(sensor->corner.x() == Approx(50.0 * mm));
    CHECK(sensor->clearance == Approx((-50.0 * std::sin(t) + 50.0 * std::cos(t)) * mm).epsilon(1e-12));
    const auto both = sensor::approach_of(boxed({"mount.tilt_deg=[20,0]", "target.tilt_deg=[20,0]"}), 0.0);
    REQUIRE(both);
    CHECK(both->clearance == Approx(50.0 * mm).epsilon(1e-12));
    // Seen along the tilted normal, the part at s = -5 mm stands 5 mm / cos t nearer along the beam.
    const auto near = sensor::approach_of(boxed({"mount.tilt_deg=[20,0]"}), -5.0 * mm);
    REQUIRE(near);
    CHECK(sensor->clearance - near->clearance == Approx(5.0 * mm).epsilon(1e-12));
}

TEST_CASE("a part tilted out of plane comes nearest to an edge at half of the thickness", "[sensor]") {
    const double t = 15.0 * degree;
    const auto room = sensor::room_of(boxed({"target.tilt_deg=[0,15]"}));
    REQUIRE(room);
    CHECK(room->clearance == Approx((50.0 * std::cos(t) - 10.0 * std::sin(t)) * mm).epsilon(1e-12));
}
