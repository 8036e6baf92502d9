// Layers on a backing: a volume that ends.
#include <catch2/catch.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/target/fresnel.hpp"
#include "sim/target/volume_paths.hpp"
#include "tests/support/volume.hpp"

using namespace spotwright;
using support::VolumeScene, support::SpotWindow, support::mean_of;
using target::Volume;

namespace {

constexpr double per_mm = 1e3;

/// Share of entered light that a walk straight down sends back.
double walked(const Volume& volume, int photons = 16384, double diffusion_depth = 3.0) {
    const auto walk = target::walk_volume(volume, {1.0, {0.5, 0.0}}, {photons, 65536, 1, diffusion_depth, 0.1});
    return target::reflected_share(volume, walk);
}

/// What a face turns back of diffuse light that comes from inside: n^2 (1 - R_in) = 1 - R_out, by conservation of n^2
/// dA dOmega.
double turned_back(double index) {
    return 1.0 - (1.0 - target::diffuse_fresnel({index, 0.0})) / (index * index);
}

}  // namespace

TEST_CASE("a slab reflects what is published for it", "[layer][volume][published][slow]") {
    // H. C. van de Hulst, Multiple Light Scattering, vol. 2 (1980), table 35, as quoted by L. Wang, S. Jacques, L.
    // Zheng, Comput. Methods Programs Biomed. 47, 131 (1995): albedo 0.9, optical thickness 2, g 0.75, no change of
    // index: R = 0.09739; from memory. A walk of 16 384 photons, twice for g: sqrt(0.1 0.9 / 32768) = 0.0017, and what
    // the change to reduced coefficients does.
    const Volume slab{0.9 * 0.25 * per_mm, 0.1 * per_mm, 1.0, 0.75, 2e-3, 0.0};
    CHECK(walked(slab) == Approx(0.09739).margin(0.004));
}

TEST_CASE("an endless volume under a face reflects what is published for it", "[volume][published]") {
    // R. G. Giovanelli, Opt. Acta 2, 153 (1955), as quoted by Wang et al. as above: scattering 9 per mm and absorption
    // 1 per mm to all sides, index 1.5: 0.2600 with the reflection of the face; from memory.
    const Volume volume{9.0 * per_mm, 1.0 * per_mm, 1.5, 0.0};
    const double face = target::fresnel({1.5, 0.0}, 1.0).unpolarised();
    // 0.0025 of 16 384 photons, and 0.004 by diffusion from three free paths on, where absorption is not small.
    CHECK(face + (1.0 - face) * walked(volume) == Approx(0.2600).margin(0.008));
}

TEST_CASE("a layer of no thickness looks like its backing under a face", "[layer][volume][physics][slow]") {
    for (const double index : {1.0, 1.5, 1.76}) {
        for (const double backing : {0.0, 0.3, 0.9, 1.0}) {
            const Volume layer{2.0 * per_mm, 0.1 * per_mm, index, 0.6, 1e-10, backing};
            const double inside = turned_back(index);
            const double exact = backing * (1.0 - inside) / (1.0 - backing * inside);
            INFO("index " << index << ", backing " << backing);
            // Kept scatters are chosen for one direction; without absorption of the backing a little scatter is left.
            CHECK(walked(layer, 4096) == Approx(exact).margin(0.012));
            // The dipole's F_dr is a fit, good to 0.01.
            CHECK(target::diffuse_reflectance(layer) == Approx(exact).margin(0.02));
        }
    }
}

TEST_CASE("a thick layer is an endless volume", "[layer][volume][physics][slow]") {
    for (const double g : {0.0, 0.8}) {
        // Absorbed to 1 % within a tenth of the thickness: exp(-sigma_tr T), sigma_tr = sqrt(3 0.02 2.02) per mm, T 40
        // mm.
        const Volume endless{2.0 * per_mm, 0.02 * per_mm, 1.5, g};
        Volume layer = endless;
        layer.thickness = 40e-3;
        layer.backing = 0.5;
        // Two walks, 0.6 % each, both followed to the end.
        CHECK(walked(layer) == Approx(walked(endless, 16384, 1e9)).epsilon(0.02));
        // Diffusion from the beam's own first scatters, and from one place.
        CHECK(target::diffuse_reflectance(layer) == Approx(target::diffuse_reflectance(endless)).margin(0.03));
    }
}

TEST_CASE("between both limits more thickness hides more of the backing", "[layer][volume][physics][slow]") {
    double black = 0.0;
    double white = 1.0;
    for (const double thickness : {1e-6, 30e-6, 0.1e-3, 0.3e-3, 1e-3, 3e-3}) {
        const Volume on_black{20.0 * per_mm, 0.01 * per_mm, 1.5, 0.6, thickness, 0.0};
        Volume on_white = on_black;
        on_white.backing = 1.0;
        const double dark = target::diffuse_reflectance(on_black);
        const double bright = target::diffuse_reflectance(on_white);
        INFO(thickness);
        CHECK(dark > black);
        CHECK(bright < white);
        CHECK(bright > dark);
        // Against walks: a diffusion model that is taken for ambient light and tables alone.
        CHECK(dark == Approx(walked(on_black)).margin(0.035));
        CHECK(bright == Approx(walked(on_white)).margin(0.035));
        black = dark;
        white = bright;
    }
}

TEST_CASE("a layer without absorption on a white backing loses nothing", "[layer][volume][physics]") {
    for (const double g : {0.0, 0.9}) {
        const Volume layer{20.0 * per_mm, 0.0, 1.5, g, 0.1e-3, 1.0};
        // As for an endless volume: 10^4 scatters, chosen for one direction.
        CHECK(walked(layer) == Approx(1.0).margin(0.02));
    }
}

TEST_CASE("coefficients of a layer have bounds", "[layer][unit]") {
    CHECK_THROWS_AS(target::diffuse_reflectance({1.0, 0.0, 1.5, 0.0, 0.0, 0.5}), base::DomainError);
    CHECK_THROWS_AS(target::diffuse_reflectance({1.0, 0.0, 1.5, 0.0, 1.0, 1.5}), base::DomainError);
    CHECK_THROWS_AS(target::diffuse_reflectance({1.0, 0.0, 1.5, 0.0, 1.0, std::nan("")}), base::DomainError);
    CHECK(std::isfinite(target::diffuse_reflectance({2.0, 1.0, 1.5, 0.0, 1.0, 0.5})));  // k = 1
    CHECK(std::isfinite(target::diffuse_reflectance({1e4, 0.0, 1.5, 0.0, 1e-9, 1.0})));
}

TEST_CASE("layers look to the spot model as to the ray model", "[layer][volume][ray][statistical][slow]") {
    struct Case {
        Volume layer;
        std::vector<std::string> settings;
    };
    const auto each = GENERATE_COPY(values<Case>({
        // A lean coat on metal, a sheet on black, a milky film that scatters forwards on white, aslant.
        {{60.0 * per_mm, 0.05 * per_mm, 1.5, 0.6, 30e-6, 0.57}, {}},
        {{20.0 * per_mm, 0.1 * per_mm, 1.0, 0.8, 0.1e-3, 0.0}, {}},
        {{2.0 * per_mm, 0.01 * per_mm, 1.5, 0.9, 0.2e-3, 0.8}, {"target.tilt_deg=[-20, 10]"}},
        {{4.0 * per_mm, 0.004 * per_mm, 1.49, 0.0, 1.0e-3, 0.3}, {"detector.height_um=1000"}},
    }));
    VolumeScene scene("translucent-polymer", each.settings);
    scene.surface.volume = each.layer;
    INFO("thickness " << each.layer.thickness);
    const auto geometry = receiver::walk_geometry(scene.beam, scene.part, scene.receiver).value();
    const target::CachedWalk walk = target::cache_walk(each.layer, geometry, {65536, 131072, 1, 3.0, 0.1});
    const support::Profile spot = scene.spot(&walk);
    const receiver::RayImage rays = scene.rays(60000);
    const auto collected = mean_of(rays, [](const support::Profile& p) { return p.collected_power; });
    const auto received = mean_of(rays, [](const support::Profile& p) { return p.received_power; });
    // 1 %, for the walk's own scatter of 0.4 % and its change to reduced coefficients, beyond 4 standard errors of the
    // rays (eight comparisons).
    CHECK(std::abs(spot.collected_power - collected.mean) < 0.01 * collected.mean + 4.0 * collected.error);
    CHECK(std::abs(spot.received_power - received.mean) < 0.01 * received.mean + 4.0 * received.error);
    const SpotWindow window(spot);
    const auto centroid = mean_of(rays, [&](const support::Profile& p) { return window.centroid(p); });
    INFO("spot " << window.centroid(spot) << ", rays " << centroid.mean << " +- " << centroid.error);
    CHECK(std::abs(window.centroid(spot) - centroid.mean) < 0.05 + 4.0 * centroid.error);
}

TEST_CASE("a thin layer is seen where an opaque face would be", "[layer][volume][physics]") {
    VolumeScene scene("translucent-polymer", {});
    scene.surface.volume = Volume{10.0 * per_mm, 0.01 * per_mm, 1.5, 0.6, 0.1e-6, 0.7};
    const support::Profile film = scene.spot();
    target::Surface matt;
    matt.reflectance = 0.7;
    const support::Profile face =
        receiver::image(scene.beam, scene.part, matt, scene.receiver, scene.edge_spread, 0.35);
    const SpotWindow window(face);
    // The film's places are drawn at random: half a pixel over the square root of thousands.
    CHECK(std::abs(*receiver::centroid_of(film) - *receiver::centroid_of(face)) < 0.05);
}
