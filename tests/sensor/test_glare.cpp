// Where the gloss of a part goes, by the law of the mirror.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/glare.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using base::degree, base::mm;
using Catch::Matchers::WithinAbs;

namespace {

// The default sensor: beam along the normal, lens of 4 mm at 45 mm under 30 deg.
scenario::Scenario polished(const std::vector<std::string>& settings) {
    return scenario::parse("[target]\nmaterial = \"polished-steel\"\n", "test.toml", settings);
}

std::optional<sensor::Glare> glare_of(const scenario::Scenario& s) {
    return sensor::glare_of(s, sensor::receiver_of(s), sensor::beam_of(s), sensor::part_of(s, s.target.displacement));
}

sensor::Glare glare(const std::vector<std::string>& settings) {
    return glare_of(polished(settings)).value();
}

// Angles are sums of a few exact ones.
constexpr double rounding = 1e-9;

}  // namespace

TEST_CASE("a flat part mirrors the beam into the lens at half the angle between their axes", "[glare][physics]") {
    const sensor::Glare square = glare({});
    REQUIRE(square.tilt);
    CHECK_THAT((*square.tilt)[0], WithinAbs(15.0 * degree, rounding));
    CHECK_THAT((*square.tilt)[1], WithinAbs(0.0, rounding));
    CHECK_THAT(square.away, WithinAbs(15.0 * degree, rounding));
    // The mirrored axis goes back along the beam, 30 deg from the lens's centre; the rim stands atan(2 / 45) from it.
    const double lens = std::atan(2.0 / 45.0);
    CHECK_THAT(square.lens, WithinAbs(lens, rounding));
    CHECK_THAT(square.off_lens, WithinAbs(30.0 * degree - lens, rounding));
    // A tilt by t turns the mirrored beam by 2 t.
    const sensor::Glare turned = glare({"target.tilt_deg=[11, 0]"});
    CHECK_THAT(turned.away, WithinAbs(4.0 * degree, rounding));
    CHECK_THAT(turned.off_lens, WithinAbs(8.0 * degree - lens, rounding));
    CHECK_THAT((*turned.tilt)[0], WithinAbs(15.0 * degree, rounding));
    // Farther away the lit point sees the lens at another angle: 22.5 mm aside, 38.97 + 5 mm above it.
    const sensor::Glare far = glare({"target.displacement_mm=5"});
    const double seen = std::atan2(45.0 * std::sin(30.0 * degree), 45.0 * std::cos(30.0 * degree) + 5.0);
    CHECK_THAT((*far.tilt)[0], WithinAbs(0.5 * seen, rounding));
}

TEST_CASE("the tilt of the sensor counts", "[glare][physics]") {
    // In its own plane it adds to that of the part.
    const sensor::Glare in_plane = glare({"mount.tilt_deg=[4, 0]", "target.tilt_deg=[4, 0]"});
    CHECK_THAT((*in_plane.tilt)[0], WithinAbs(19.0 * degree, rounding));
    CHECK_THAT(in_plane.away, WithinAbs(15.0 * degree, rounding));
    // Out of plane: the normal of glare, (sin 15, 0, cos 15) in the sensor's frame, turned by 3 deg about x.
    const sensor::Glare out = glare({"mount.tilt_deg=[0, 3]"});
    const double a = 15.0 * degree;
    const double b = 3.0 * degree;
    CHECK_THAT((*out.tilt)[0], WithinAbs(std::atan2(std::sin(a), std::cos(b) * std::cos(a)), rounding));
    CHECK_THAT((*out.tilt)[1], WithinAbs(std::asin(std::sin(b) * std::cos(a)), rounding));
}

TEST_CASE("a part at the tilt of its glare mirrors the beam into the lens's centre", "[glare][physics]") {
    scenario::Scenario s = polished({"mount.tilt_deg=[2, 3]", "target.displacement_mm=1", "target.tilt_deg=[1, -2]"});
    s.target.tilt = *glare_of(s).value().tilt;
    const sensor::Glare there = glare_of(s).value();
    CHECK_THAT(there.away, WithinAbs(0.0, 1e-7));  // the root of rounding
    CHECK_THAT(there.off_lens + there.lens, WithinAbs(0.0, 1e-7));
    // So the image has it: light by the thousand times that a few degrees on.
    const sensor::TriangulationSetup at = sensor::set_up_triangulation(s, 1);
    s.target.tilt[0] += 4.0 * degree;
    const sensor::TriangulationSetup beside = sensor::set_up_triangulation(s, 1);
    CHECK(glare_of(s).value().off_lens > 0.0);
    CHECK(sensor::make_pose(at, 1.0 * mm, 1).profile.received_power >
          1000.0 * sensor::make_pose(beside, 1.0 * mm, 1).profile.received_power);
}

TEST_CASE("matt parts have no glare, slopes of a shape no tilt of it, a specular mount wants it", "[glare][unit]") {
    CHECK_FALSE(glare_of(scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "test.toml")));
    const sensor::Glare slope =
        glare({"target.shape=cylinder", "target.cylinder.radius_mm=10", "target.cylinder.position_mm=3"});
    CHECK_FALSE(slope.tilt);
    CHECK_FALSE(glare({}).wanted);
    const scenario::Scenario specular =
        scenario::load(SPOTWRIGHT_SOURCE_DIR "/scenarios/08-polished-ring-specular.toml");
    const sensor::Glare wanted = glare_of(specular).value();
    CHECK(wanted.wanted);
    CHECK(wanted.off_lens < 0.0);
}

TEST_CASE("a specular sensor reads the mirrored beam however wide its lens", "[glare][physics]") {
    // The lobe of a mirror's haze is narrow: its peak over the opening of a wide lens would be more than all light.
    for (const int aperture : {4, 9, 20}) {
        const scenario::Scenario s =
            scenario::parse("sensor = \"mirror-36\"\n[target]\nmaterial = \"polished-steel\"\n", "test.toml",
                            std::vector<std::string>{"design.receiver.aperture_mm=" + std::to_string(aperture)});
        INFO(aperture << " mm");
        CHECK(s.receiver.aperture.in_plane == Approx(aperture * mm));
        CHECK(sensor::reads_mirrored_beam(s, sensor::receiver_of(s)));
        CHECK(glare_of(s).value().wanted);
        // The same receiver calibrated on a matt tile does not.
        scenario::Scenario matt =
            scenario::with_settings(s, std::vector<std::string>{"reading.calibrated_on=white-ceramic"});
        CHECK_FALSE(sensor::reads_mirrored_beam(matt, sensor::receiver_of(matt)));
    }
}

TEST_CASE("a lobe reaches farther across tool marks than along them", "[glare][unit]") {
    const auto reach = [](const char* lay) {
        const scenario::Scenario s =
            scenario::parse("[target]\nmaterial = \"turned-steel\"\n", "test.toml", std::vector<std::string>{lay});
        return reach_of(glare_of(s).value());
    };
    // Slopes of 0.03 along and 0.2 across; half of the lens adds to their double angle.
    const double lens = 0.5 * std::atan(2.0 / 45.0);
    CHECK_THAT(reach("target.lay_deg=0"), WithinAbs(lens + 2.0 * std::atan(0.03), rounding));
    CHECK_THAT(reach("target.lay_deg=90"), WithinAbs(lens + 2.0 * std::atan(0.2), rounding));
}

TEST_CASE("turned by 90 deg, tool marks send more light to the lens or less, by one factor", "[glare][physics]") {
    const auto gain = [](const char* lay) {
        const scenario::Scenario s =
            scenario::parse("[target]\nmaterial = \"turned-steel\"\n", "test.toml", std::vector<std::string>{lay});
        return sensor::gain_by_turned_lay(s, sensor::receiver_of(s), sensor::beam_of(s), sensor::part_of(s, 0.0));
    };
    const double along = gain("target.lay_deg=0").value();
    // GGX across the slopes of 0.03 and 0.2, (target.13) at facets of 15 deg: ((1 + 39.9) / (1 + 0.897))^2; masking is
    // alike within a hundredth.
    CHECK(along == Approx(465.0).epsilon(0.02));
    CHECK(along * gain("target.lay_deg=90").value() == Approx(1.0).epsilon(1e-9));
    const scenario::Scenario alike = polished({});
    CHECK_FALSE(sensor::gain_by_turned_lay(alike, sensor::receiver_of(alike), sensor::beam_of(alike),
                                           sensor::part_of(alike, 0.0)));
}
