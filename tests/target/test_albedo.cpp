// What a part reflects of even surroundings and of a lamp, and what it glows.
#include <catch2/catch.hpp>

#include <cmath>
#include <complex>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/target/albedo.hpp"
#include "sim/target/fresnel.hpp"
#include "tests/support/light.hpp"

using namespace spotwright;
using base::degree, base::nm, base::um, base::pi;
using Eigen::Vector3d;
using target::Layers;
using test::direction;

namespace {

const Vector3d up = Vector3d::UnitZ();

target::Surface metal(double height, double along, double across) {
    target::Surface surface;
    surface.gloss = target::Gloss{{2.92, 3.10}, target::FacetDistribution::beckmann, height, along, across, 655.0 * nm};
    return surface;
}

target::Surface glossy_paint(double reflectance, double deviation) {
    target::Surface surface = metal(0.01 * um, 0.01, 0.01);
    surface.gloss->index = 1.5;
    surface.coupling = 1.0 / (1.0 - target::diffuse_fresnel(1.5));
    surface.reflectance = reflectance;
    surface.slope_deviation = deviation;
    return surface;
}

Layers bare(const target::Surface& surface) {
    Layers layers;
    layers.surface = surface;
    return layers;
}

// The same by brute force: all that `scatter` sends to the view, over the hemisphere in cosine and azimuth, and the
// mirror part.
double summed(const target::Surface& surface, const Vector3d& to_view) {
    constexpr int rings = 1200;
    constexpr int spokes = 720;
    double sum = 0.0;
    for (int i = 0; i < rings; ++i) {
        const double c = (i + 0.5) / rings;
        for (int k = 0; k < spokes; ++k) {
            const Vector3d from = direction(std::acos(c), 2.0 * pi * (k + 0.5) / spokes);
            sum += target::scatter(surface, from, to_view, up) * c;
        }
    }
    return sum * 2.0 * pi / (rings * spokes) + target::mirror_reflectance(surface, to_view, up);
}

}  // namespace

TEST_CASE("directional albedo is the hemispherical sum of what a surface scatters and mirrors",
          "[target][physics][slow]") {
    // 0.005: the facets' sum over 96 of them, as its header states; the brute force is good to 1e-3 at these slopes.
    for (const double angle : {5.0, 30.0, 60.0}) {
        const Vector3d view = direction(angle * degree, 0.7);
        for (const target::Surface& surface :
             {metal(1.0 * um, 0.1, 0.1), metal(1.0 * um, 0.05, 0.25), metal(0.03 * um, 0.1, 0.1),
              glossy_paint(0.6, 0.0), glossy_paint(0.6, 15.0 * degree)}) {
            INFO(angle << " deg, slope " << surface.gloss->slope_across << ", base " << surface.reflectance);
            CHECK(directional_albedo(bare(surface), view, up) == Approx(summed(surface, view)).margin(0.005));
        }
    }
}

TEST_CASE("what absorbs nothing vanishes in even surroundings", "[target][physics]") {
    // Exact but for rounding and the quadratures over smooth integrands; with facets, of slope 0.01, their shadows too.
    for (const double angle : {0.0, 30.0, 70.0}) {
        const Vector3d view = direction(angle * degree, 0.3);
        target::Surface white;
        white.reflectance = 1.0;
        CHECK(directional_albedo(bare(white), view, up) == Approx(1.0).epsilon(1e-9));
        CHECK(directional_albedo(bare(glossy_paint(1.0, 0.0)), view, up) == Approx(1.0).margin(2e-3));
        Layers covered = bare(glossy_paint(0.0, 0.0));
        covered.plate = true;
        covered.backing = white;
        CHECK(directional_albedo(covered, view, up) == Approx(1.0).epsilon(1e-9));
        CHECK(directional_emissivity(covered, view, up) == Approx(0.0).margin(1e-9));
    }
}

TEST_CASE("bare metal reflects its surroundings by its mirror part and its lobe", "[target][unit]") {
    // Of a smooth lobe nothing is shadowed: all that Fresnel reflects, whatever the roughness says of its sharing.
    const Vector3d view = direction(30.0 * degree, 0.0);
    const double reflected = target::fresnel({2.92, 3.10}, std::cos(30.0 * degree)).unpolarised();
    for (const double height : {0.0, 0.0125 * um, 1.0 * um}) {
        CHECK(directional_albedo(bare(metal(height, 0.005, 0.005)), view, up) == Approx(reflected).epsilon(1e-3));
    }
}

TEST_CASE("a clear plate alone does not glow, and reflects by both faces", "[target][unit]") {
    Layers plate = bare(glossy_paint(0.0, 0.0));
    plate.plate = true;
    CHECK(directional_emissivity(plate, up, up) == 0.0);
    // R = 0.04 at each face: 2 R / (1 + R).
    CHECK(directional_albedo(plate, up, up) == Approx(0.08 / 1.04).epsilon(1e-9));
}

TEST_CASE("the radiance factor of a white matt part is the cosine to the lamp", "[target][physics]") {
    target::Surface white;
    white.reflectance = 1.0;
    target::DistantLamp lamp;
    for (const double angle : {0.0, 40.0, 80.0}) {
        lamp.direction = direction(angle * degree, 1.0);
        CHECK(lamp_radiance_factor(bare(white), lamp, direction(0.5, 0.0), up) ==
              Approx(std::cos(angle * degree)).margin(1e-4));  // the sun's disc: 0.0047^2 / 4
    }
    lamp.direction = direction(100.0 * degree, 1.0);
    CHECK(lamp_radiance_factor(bare(white), lamp, direction(0.5, 0.0), up) == 0.0);
}

TEST_CASE("a mirror shows the lamp itself where the aperture sees it, and nothing beside it", "[target][physics]") {
    target::DistantLamp lamp;
    lamp.direction = direction(30.0 * degree, pi);
    lamp.half_angle = 5.0 * degree;
    lamp.aperture_half_angle = 2.0 * degree;
    const target::Surface mirror = metal(0.0, 0.005, 0.005);
    const double reflected = target::fresnel({2.92, 3.10}, std::cos(30.0 * degree)).unpolarised();
    // Radiance of a disc: E / (pi sin^2 alpha).
    const double sine = std::sin(5.0 * degree);
    CHECK(lamp_radiance_factor(bare(mirror), lamp, direction(30.0 * degree, 0.0), up) ==
          Approx(reflected / (sine * sine)).epsilon(1e-9));
    CHECK(lamp_radiance_factor(bare(mirror), lamp, direction(38.0 * degree, 0.0), up) == 0.0);
}

TEST_CASE("rough metal under a lamp by its facets is the same as by its lobe", "[target][unit]") {
    // On either side of where the sum changes from directions of the lamp to facets. 5 %: some 60 of 512 facets see the
    // lamp, the rim of the aperture smooths the count, and the first sum leaves the aperture out.
    const double slope = 0.1;
    const target::Surface rough = metal(1.0 * um, slope, slope);
    for (const double view : {20.0, 35.0, 45.0}) {
        target::DistantLamp lamp;
        lamp.direction = direction(30.0 * degree, pi);
        lamp.aperture_half_angle = 0.03;
        lamp.half_angle = 2.0 * slope - 0.0301;
        const double by_lamp = lamp_radiance_factor(bare(rough), lamp, direction(view * degree, 0.0), up);
        lamp.half_angle = 2.0 * slope - 0.0299;
        const double by_facets = lamp_radiance_factor(bare(rough), lamp, direction(view * degree, 0.0), up);
        CHECK(by_facets == Approx(by_lamp).epsilon(0.05));
    }
}

TEST_CASE("discs cover each other as circles do", "[target][unit]") {
    CHECK(target::covered_share(1.0, 2.0, 0.5) == 1.0);
    CHECK(target::covered_share(2.0, 1.0, 0.5) == 0.25);
    CHECK(target::covered_share(1.0, 1.0, 2.0) == 0.0);
    // Two equal circles, centres a radius apart: (2 pi / 3 - sqrt(3) / 2) / pi.
    CHECK(target::covered_share(1.0, 1.0, 1.0) == Approx(2.0 / 3.0 - std::sqrt(3.0) / (2.0 * pi)).epsilon(1e-12));
}
