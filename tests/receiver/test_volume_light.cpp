// Translucent parts by the spot model, whose light comes from a walk made once, against rays followed one by one.
#include <catch2/catch.hpp>

#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "sim/base/constants.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/image.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/volume_paths.hpp"
#include "sim/target/volume_walk.hpp"
#include "tests/support/volume.hpp"

using namespace spotwright;
using receiver::Profile;
using support::VolumeScene, support::SpotWindow, support::MeanOfRays, support::mean_of;
using target::LastScatter, target::Volume;

namespace {

constexpr double per_mm = 1e3;

}  // namespace

TEST_CASE("a scatter turns light by the phase function, whose mean cosine is the anisotropy", "[volume][physics]") {
    for (const double g : {-0.6, 0.0, 1e-7, 0.3, 0.75, 0.95}) {
        const auto mean = [g](int power) {
            const auto ring = [&](double c) {
                return 2.0 * base::pi * std::pow(c, power) * target::phase_function(g, c);
            };
            return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(ring, -1.0, 1.0, 12, 1e-11);
        };
        CHECK(mean(0) == Approx(1.0).epsilon(1e-9));
        CHECK(mean(1) == Approx(g).epsilon(1e-7).margin(1e-9));
        // Drawn cosines: the share below each is the number that drew it.
        for (const double u : {0.1, 0.5, 0.9}) {
            const auto ring = [&](double c) { return 2.0 * base::pi * target::phase_function(g, c); };
            const double drawn = target::scatter_cosine(g, u);
            CHECK(boost::math::quadrature::gauss_kronrod<double, 61>::integrate(ring, -1.0, drawn, 12, 1e-11) ==
                  Approx(u).epsilon(1e-6));
        }
    }
}

TEST_CASE("a walk depends on its arguments alone", "[volume][unit]") {
    const Volume volume{2.0 * per_mm, 0.01 * per_mm, 1.4, 0.7};
    const auto walk = [&](std::uint64_t seed) {
        return target::walk_volume(volume, {0.9, {0.4, 0.1}}, {500, 1000, seed, 3.0, 0.1});
    };
    const auto sum = [](const std::vector<LastScatter>& list) {
        double all = 0.0;
        for (const LastScatter& each : list) all += each.power * (1.0 + each.depth + each.centre[0] + each.radius);
        return all;
    };
    CHECK(sum(walk(1)) == sum(walk(1)));
    CHECK(walk(1).size() == walk(1).size());
    CHECK(sum(walk(1)) != sum(walk(2)));
}

TEST_CASE("a volume that absorbs nothing sends everything back, whatever its anisotropy and the incidence",
          "[volume][physics][statistical]") {
    for (const double g : {0.0, 0.6}) {
        for (const double incidence : {1.0, 0.5}) {
            const Volume volume{3.0 * per_mm, 0.0, 1.5, g};
            const auto walk = target::walk_volume(volume, {incidence, {0.5, 0.0}}, {4096, 16384, 1, 3.0, 0.1});
            INFO("g " << g << ", incidence " << incidence);
            // About 10^4 kept scatters, chosen for one direction and summed over all: 1 % and, at most, 1 % of what
            // diffusion takes for what. Catches a loss at the change to reduced coefficients, which was 0.035.
            CHECK(target::reflected_share(volume, walk) == Approx(1.0).margin(0.03));
        }
    }
}

TEST_CASE("diffusion in the depth changes neither the light nor where it is", "[volume][physics][statistical]") {
    // Marble's coefficients, to all sides alike; followed to the end against left to diffusion from three free paths
    // on.
    const VolumeScene scene("marble", {"detector.height_um=3000"});
    target::Surface surface = scene.surface;
    surface.volume->anisotropy = 0.0;
    const auto geometry = receiver::walk_geometry(scene.beam, scene.part, scene.receiver).value();
    // Of eight walks together: one of them scatters by 1.5 % in light and 0.8 px.
    const auto image = [&](double depth) {
        receiver::Gatherer gatherer(scene.receiver, scene.edge_spread, {10e-6, 10e-6});
        for (std::uint64_t seed = 1; seed <= 8; ++seed) {
            const auto walk = target::walk_volume(*surface.volume, geometry, {8192, 16384, seed, depth, 0.1});
            receiver::gather_volume(scene.beam, scene.part, surface, scene.receiver, walk,
                                    [&gatherer](const receiver::CollectedBatch& batch) { gatherer.add(batch); });
        }
        return gatherer.profile(655e-9, 0.35);
    };
    const Profile followed = image(1e9);
    const Profile diffused = image(3.0);
    // Two standard errors of both, and the model's own error, seen to be below 0.5 %.
    CHECK(diffused.collected_power == Approx(followed.collected_power).epsilon(0.02));
    CHECK(diffused.received_power == Approx(followed.received_power).epsilon(0.02));
    const SpotWindow window(followed);
    // 2 um of 14 um a pixel from either walk.
    CHECK(std::abs(window.centroid(diffused) - window.centroid(followed)) < 0.6);
}

namespace {

// A spot of 1.3 mm, oblique, far out of focus by a wide lens before low pixels.
const std::vector<std::string> wide_and_blurred{"emitter.angle_deg=-49.5",
                                                "receiver.angle_deg=49.5",
                                                "mount.reference_distance_mm=24",
                                                "receiver.distance_mm=22.1",
                                                "receiver.focal_length_mm=8.12",
                                                "receiver.aperture_mm=7.3",
                                                "emitter.waist_radius_um=[1343, 467]",
                                                "emitter.waist_displacement_mm=4.3",
                                                "emitter.beam_quality=1.4",
                                                "receiver.detector_tilt_deg=-11",
                                                "detector.pixels=71",
                                                "detector.pitch_um=22.4",
                                                "detector.height_um=18",
                                                "target.tilt_deg=[13.6, 13.2]",
                                                "mount.range_mm=[-0.5, 0.5]"};

struct Spread {
    double mean = 0.0;
    double deviation = 0.0;
};

struct Scatter {
    Spread light;     // deviation over the mean
    Spread centroid;  // [px]
};

Scatter over_walks(const VolumeScene& scene, int seeds) {
    const auto geometry = receiver::walk_geometry(scene.beam, scene.part, scene.receiver).value();
    std::vector<double> light;
    std::vector<double> centroid;
    for (int seed = 1; seed <= seeds; ++seed) {
        target::WalkOptions options;
        options.seed = static_cast<std::uint64_t>(seed);
        const target::CachedWalk walk = target::cache_walk(*scene.surface.volume, geometry, options);
        const Profile image = scene.spot(&walk);
        light.push_back(image.received_power);
        centroid.push_back(*receiver::centroid_of(image));
    }
    const auto spread_of = [](const std::vector<double>& values) {
        Spread spread;
        for (const double value : values) spread.mean += value / static_cast<double>(values.size());
        for (const double value : values) spread.deviation += std::pow(value - spread.mean, 2);
        spread.deviation = std::sqrt(spread.deviation / static_cast<double>(values.size() - 1));
        return spread;
    };
    Scatter scatter{spread_of(light), spread_of(centroid)};
    scatter.light.deviation /= scatter.light.mean;
    return scatter;
}

}  // namespace

TEST_CASE("a wide and blurred image of a white part hardly scatters from walk to walk", "[volume][statistical]") {
    // Standard deviations of light and centroid were 2.2 % and 0.16 px of paint, 3.2 % and 0.63 px of polymer; a
    // standard deviation of 16 is known to 18 %.
    const auto [material, light, centroid] = GENERATE(
        table<const char*, double, double>({{"white-glossy-paint", 0.011, 0.1}, {"translucent-polymer", 0.02, 0.2}}));
    INFO(material);
    const Scatter scatter = over_walks(VolumeScene(material, wide_and_blurred), 16);
    CHECK(scatter.light.deviation < light);
    CHECK(scatter.centroid.deviation < centroid);
}

TEST_CASE("a wide and blurred image of a white part stands where rays put it", "[volume][ray][statistical][slow]") {
    // With one place of footprint and lens for each scatter it stood 0.7 px beside. Paint that absorbs much, so that
    // photons are soon at their end.
    VolumeScene scene("white-glossy-paint", wide_and_blurred);
    scene.surface.volume->absorption = 0.3 * scene.surface.volume->reduced_scattering;
    const Scatter spot = over_walks(scene, 12);
    const MeanOfRays rays = mean_of(scene.rays(262144), [](const Profile& p) { return *receiver::centroid_of(p); });
    CHECK(std::abs(spot.centroid.mean - rays.mean) <
          4.0 * std::hypot(rays.error, spot.centroid.deviation / std::sqrt(12.0)));
}

TEST_CASE("translucent parts look to the spot model as to the ray model", "[volume][ray][statistical][slow]") {
    struct Case {
        const char* material;
        std::int64_t rays;
        std::vector<std::string> settings;
    };
    const std::vector<std::string> far_mount{"receiver.angle_deg=27", "receiver.distance_mm=62",
                                             "emitter.waist_radius_um=[50, 50]", "detector.height_um=3000"};
    const auto each = GENERATE_COPY(values<Case>({
        {"translucent-polymer", 16000, {}},
        {"translucent-polymer", 16000, {"detector.height_um=7", "target.tilt_deg=[-20, 15]"}},
        {"translucent-polymer", 16000, far_mount},
        {"whole-milk", 8000, {"target.tilt_deg=[15, 0]", "receiver.aperture_mm=[4, 2]"}},
        {"marble", 8000, {"target.displacement_mm=2"}},
    }));
    INFO(each.material << " " << (each.settings.empty() ? "" : each.settings[0]));
    const VolumeScene scene(each.material, each.settings);
    const Profile spot = scene.spot();
    const receiver::RayImage rays = scene.rays(each.rays);
    const auto collected = mean_of(rays, [](const Profile& p) { return p.collected_power; });
    const auto received = mean_of(rays, [](const Profile& p) { return p.received_power; });
    // The spot model's aim is 5 %, of which its walk takes 1 to 2 %; the rays' own error comes on top, five comparisons
    // at 4 standard errors.
    CHECK(spot.collected_power == Approx(collected.mean).epsilon(0.05).margin(4.0 * collected.error));
    CHECK(spot.received_power == Approx(received.mean).epsilon(0.05).margin(4.0 * received.error));
    const SpotWindow window(spot);
    const auto centroid = mean_of(rays, [&](const Profile& p) { return window.centroid(p); });
    // A pencil on an opaque face would be seen at the calibrated pixel: 5 % of how far the light is from there.
    const double opaque = receiver::pixel_of(
        scene.receiver, receiver::image_position(
                            scene.receiver, support::lit_displacement(scene.s, scene.s.target.displacement).value())
                            .value());
    const double far = std::abs(centroid.mean - opaque);
    INFO("spot " << window.centroid(spot) - opaque << " px, rays " << centroid.mean - opaque << " +- "
                 << centroid.error);
    CHECK(std::abs(window.centroid(spot) - centroid.mean) < 0.05 * far + 4.0 * centroid.error);
}

TEST_CASE("the light that a volume sends through the aperture does not depend on the height of the pixels",
          "[volume][physics]") {
    double least = 1e9;
    double most = 0.0;
    for (const char* height : {"detector.height_um=5", "detector.height_um=60", "detector.height_um=5000"}) {
        const double collected = VolumeScene("whole-milk", {height}).spot().collected_power;
        least = std::min(least, collected);
        most = std::max(most, collected);
    }
    // The same walk, of which more or less is drawn where the pixels look.
    CHECK(most / least < 1.03);
}

TEST_CASE("a translucent part's image moves smoothly with the part", "[volume][physics]") {
    // Third differences of a smooth movement over steps of 20 um vanish; noise of every pose by itself would be a
    // pixel.
    std::vector<double> places;
    for (int i = 0; i < 6; ++i) {
        const VolumeScene scene("translucent-polymer", {"target.displacement_mm=" + std::to_string(0.3 + 0.02 * i)});
        places.push_back(*receiver::centroid_of(scene.spot()));
    }
    for (std::size_t i = 3; i < places.size(); ++i) {
        CHECK(std::abs(places[i] - 3.0 * places[i - 1] + 3.0 * places[i - 2] - places[i - 3]) < 0.05);
    }
}

TEST_CASE("a volume tilted to one side or the other of the mounting plane looks the same", "[volume][physics]") {
    const Profile one = VolumeScene("translucent-polymer", {"target.tilt_deg=[0, 20]"}).spot();
    const Profile other = VolumeScene("translucent-polymer", {"target.tilt_deg=[0, -20]"}).spot();
    // Different draws of the same light: 1.5 % each.
    CHECK(one.received_power == Approx(other.received_power).epsilon(0.06));
    const SpotWindow window(one);
    CHECK(std::abs(window.centroid(one) - window.centroid(other)) < 0.6);
}

TEST_CASE("light from a volume that absorbs nearly all, and from one thrown back, stays finite", "[volume][unit]") {
    for (const Volume& volume :
         {Volume{1.0, 1e7, 1.0, 0.0}, Volume{1e4, 0.0, 1.5, -0.9}, Volume{1e7, 1.0, 4.0, 0.99}}) {
        VolumeScene scene("marble", {});
        scene.surface.volume = volume;
        const Profile profile = scene.spot();
        CHECK(std::isfinite(profile.collected_power));
        CHECK(profile.collected_power >= 0.0);
        for (const float rate : profile.rate) {
            if (!(rate >= 0.0F)) FAIL("a rate of " << rate);
        }
    }
}

// tests/reference/photon_walk.py --photons 1500: a walk in another language that shares no code, with its standard
// errors. It has no diffraction and one place in the aperture, which change these figures by less than its errors.
TEST_CASE("rays through a volume agree with an independent walk of photons", "[volume][ray][statistical][slow]") {
    struct Figure {
        double value;
        double error;
    };
    struct Case {
        const char* material;
        double anisotropy;
        std::vector<std::string> settings;
        Figure light;     // through the aperture, per incident light
        Figure row;       // share of it on the row of pixels
        Figure centroid;  // within 150 px of where an opaque face would be seen, from there [px]
    };
    const std::vector<Case> cases{
        {"translucent-polymer", 0.0, {}, {1.5059e-3, 6.1e-5}, {0.12904, 0.00444}, {-5.195, 0.361}},
    };
    for (const Case& each : cases) {
        INFO(each.material);
        VolumeScene scene(each.material, each.settings);
        scene.surface.volume->anisotropy = each.anisotropy;
        const receiver::RayImage rays = scene.rays(8000);
        const auto light = mean_of(rays, [&](const Profile& p) {
            return p.collected_power / (scene.s.emitter.power * scene.s.receiver.transmission);
        });
        const auto row = mean_of(rays, [](const Profile& p) { return p.received_power / p.collected_power; });
        const auto centroid = mean_of(rays, [](const Profile& p) {
            double sum = 0.0;
            double moment = 0.0;
            for (int k = 362; k < 662; ++k) {
                sum += static_cast<double>(p.rate[static_cast<std::size_t>(k)]);
                moment += (k - 511.5) * static_cast<double>(p.rate[static_cast<std::size_t>(k)]);
            }
            return moment / sum;
        });
        // Three comparisons at 4 of both errors together.
        const auto agrees = [](const MeanOfRays& rays_say, const Figure& walk) {
            INFO("rays " << rays_say.mean << " +- " << rays_say.error << ", walk " << walk.value << " +- "
                         << walk.error);
            CHECK(std::abs(rays_say.mean - walk.value) < 4.0 * std::hypot(rays_say.error, walk.error));
        };
        agrees(light, each.light);
        agrees(row, each.row);
        agrees(centroid, each.centroid);
    }
}

TEST_CASE("under a tall line a walk keeps as many far scatters as it needs", "[volume][statistical]") {
    // A line of 60 um by 3 mm half on print, whose glow covers a hundred pixels. Over 20 seeds the light scatters by
    // 0.7 % and its centroid by 0.5 px; 1.5 % and 0.9 px where near scatters are kept more often, as a spot wants it. A
    // standard deviation of 20 is known to 16 %.
    const VolumeScene scene("translucent-polymer",
                            {"emitter.waist_radius_um=[60, 3000]", "emitter.wavelength_nm=450", "detector.pitch_um=5",
                             "mount.reference_distance_mm=300", "mount.range_mm=[-20, 20]",
                             "target.pattern.kind=border", "target.pattern.material=black-ink"});
    const auto geometry = receiver::walk_geometry(scene.beam, scene.part, scene.receiver).value();
    CHECK(geometry.tall == Approx(1.5e-3).epsilon(0.02));
    constexpr int seeds = 20;
    double light = 0.0;
    double light2 = 0.0;
    double centroid = 0.0;
    double centroid2 = 0.0;
    for (std::uint64_t seed = 1; seed <= seeds; ++seed) {
        const target::CachedWalk walk =
            target::cache_walk(*scene.surface.volume, geometry, {8192, 32768, seed, 3.0, 0.1});
        const Profile image = scene.spot(&walk);
        const double at = *receiver::centroid_of(image);
        light += image.received_power / seeds;
        light2 += image.received_power * image.received_power / seeds;
        centroid += at / seeds;
        centroid2 += at * at / seeds;
    }
    CHECK(std::sqrt(light2 / (light * light) - 1.0) < 0.011);
    CHECK(std::sqrt(centroid2 - centroid * centroid) < 0.7);
}
