// Images of shares of a spot against images of parts of which only that share is lit.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/spot_shares.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::um;
using receiver::Profile;

namespace {

struct SpotScene {
    SpotScene(const std::string& material, const std::vector<std::string>& settings)
        : scenario(scenario::parse("[target]\nmaterial = \"" + material + "\"\n", "t", settings)),
          beam(support::beam_of(scenario)),
          part(support::part_of(scenario, 0.0)),
          surface(target::make_surface(scenario.target, scenario.mount, scenario.emitter.wavelength)),
          receiver(support::receiver_of(scenario)),
          edge_spread(receiver.aperture.shape) {}

    // Across x of the part's surface.
    [[nodiscard]] receiver::LinesAcross lines(const std::vector<double>& place) const {
        return {part.origin, part.axes.col(0), place};
    }
    [[nodiscard]] std::vector<Profile> before(const std::vector<double>& place) const {
        return receiver::images_before(beam, part, surface, receiver, edge_spread, 0.35, lines(place));
    }
    // Of what lies between two places alone.
    [[nodiscard]] Profile masked(double from, double to) const {
        target::Part cut = part;
        target::Markings markings;
        markings.axes = part.axes;
        markings.origin = part.origin;
        markings.cover = target::Cover{target::AllBut{from, to, 1.0}, {}, std::nullopt};
        cut.markings = markings;
        return receiver::image(beam, cut, surface, receiver, edge_spread, 0.35);
    }

    scenario::Scenario scenario;
    emitter::Beam beam;
    target::Part part;
    target::Surface surface;
    receiver::Receiver receiver;
    receiver::EdgeSpread edge_spread;
};

Profile difference(const Profile& a, const Profile& b) {
    Profile between = a;
    for (std::size_t k = 0; k < between.rate.size(); ++k) between.rate[k] -= b.rate[k];
    between.received_power -= b.received_power;
    return between;
}

}  // namespace

TEST_CASE("the light between two lines is imaged as that of a part of which no more is lit", "[receiver][physics]") {
    const auto each = GENERATE(values<std::pair<const char*, std::vector<std::string>>>({
        {"white-ceramic", {}},
        {"clear-anodised-aluminium", {"target.tilt_deg=[8, 3]"}},
        {"matt-paint-mid-grey", {"target.shape=cylinder", "target.cylinder.radius_mm=5"}},
    }));
    const SpotScene scene(each.first, each.second);
    const std::vector<double> place{-30.0 * um, 0.0, 25.0 * um, 200.0 * um};
    const std::vector<Profile> images = scene.before(place);
    INFO(each.first);
    const Profile whole =
        receiver::image(scene.beam, scene.part, scene.surface, scene.receiver, scene.edge_spread, 0.35);
    // Both images promise 0.1 % of the light and 0.02 px; masked ones of little light the same of theirs.
    CHECK(images.back().received_power == Approx(whole.received_power).epsilon(2e-3));
    CHECK(*receiver::centroid_of(images.back()) == Approx(*receiver::centroid_of(whole)).margin(0.03));
    for (std::size_t i = 0; i + 1 < place.size(); ++i) {
        const Profile share = difference(images[i + 1], images[i]);
        const Profile alone = scene.masked(place[i], place[i + 1]);
        INFO("from " << place[i] / um << " um to " << place[i + 1] / um << " um");
        CHECK(share.received_power == Approx(alone.received_power).margin(2e-3 * whole.received_power));
        CHECK(*receiver::centroid_of(share) == Approx(*receiver::centroid_of(alone)).margin(0.04));
    }
}

TEST_CASE("the share of a spot before a line is the normal distribution's", "[receiver][physics]") {
    const SpotScene scene("white-ceramic", {"detector.height_um=1000"});
    const double deviation = 0.5 * emitter::radius_at(scene.beam, 0, scene.beam.face.norm());
    const std::vector<double> place{-1.5 * deviation, -0.4 * deviation, 0.9 * deviation, 6.0 * deviation};
    const std::vector<Profile> images = scene.before(place);
    for (std::size_t i = 0; i < 3; ++i) {
        const double share = 0.5 * std::erfc(-place[i] / (std::sqrt(2.0) * deviation));
        // 0.1 % of the light; magnification and distance change by 0.1 % over the spot.
        CHECK(images[i].received_power / images.back().received_power == Approx(share).margin(1e-3));
    }
}

TEST_CASE("shares of a spot are of light that leaves from the face", "[receiver][unit]") {
    CHECK_THROWS_AS(SpotScene("translucent-polymer", {}).before({0.0, 1e-4}), base::InternalError);
    // The beam misses the part: no light, but as many images.
    const SpotScene missed("white-ceramic",
                           {"target.shape=cylinder", "target.cylinder.radius_mm=1", "target.cylinder.position_mm=3"});
    const auto images = missed.before({0.0, 1e-4});
    REQUIRE(images.size() == 2);
    CHECK(images.front().received_power == 0.0);
}
