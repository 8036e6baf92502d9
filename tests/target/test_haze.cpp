// Haze of polished faces: its power, its place among mirror part and lobe, and how it is drawn.
#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/sample.hpp"
#include "sim/target/surface.hpp"
#include "tests/support/light.hpp"

using namespace spotwright;
using base::degree, base::nm, base::um, base::pi;
using Eigen::Vector3d;
using test::direction;

namespace {

const Vector3d upright = Vector3d::UnitZ();
constexpr double wavelength = 633.0 * nm;

scenario::Haze spectrum(double height, double corner, double exponent) {
    return {height, corner, exponent, "test"};
}

// Of a metal that reflects all light at any angle: n = 0.001 + 50 i, R > 0.9999.
target::Surface hazy(const scenario::Haze& haze, double coarse = 0.0) {
    target::Surface surface;
    surface.gloss = target::Gloss{{0.001, 50.0}, target::FacetDistribution::beckmann, coarse, 0.005, 0.005, wavelength};
    surface.gloss->haze = target::make_haze(haze, wavelength);
    return surface;
}

// Over the hemisphere, in rings about the mirror direction that grow with the distance from it: u = tan of half the
// angle, in even steps of its logarithm.
double hemispherical(const target::Surface& surface, double incidence) {
    const Vector3d to_light = direction(incidence, pi);
    const Vector3d mirrored = direction(incidence, 0.0);
    const Vector3d side = Vector3d::UnitY();
    const Vector3d other = mirrored.cross(side);
    constexpr int rings = 4000;
    constexpr int spokes = 256;
    const double first = std::log(1e-6);
    const double step = (std::log(0.5 * pi + incidence) - first) / rings;
    double sum = 0.0;
    for (int i = 0; i < rings; ++i) {
        const double angle = std::exp(first + (i + 0.5) * step);
        for (int k = 0; k < spokes; ++k) {
            const double azimuth = 2.0 * pi * (k + 0.5) / spokes;
            const Vector3d view =
                std::cos(angle) * mirrored + std::sin(angle) * (std::cos(azimuth) * side + std::sin(azimuth) * other);
            if (view.z() <= 0.0) continue;
            sum += target::haze_scatter(surface, to_light, view, upright) * view.z() * std::sin(angle) * angle;
        }
    }
    return sum * step * 2.0 * pi / spokes;
}

}  // namespace

TEST_CASE("at normal incidence the haze holds the total integrated scatter in closed form", "[target][physics]") {
    // Equation (target.21) for C = 3, b = B / lambda and s = (lambda f)^2: (4 pi Rq / lambda)^2 times b^2 int_0^1
    // sqrt(1 - s) (1 + b^2 s)^-2 ds, by parts 1 - ln((r + 1) / (r - 1)) / (2 r b^2), r = sqrt(1 + 1 / b^2) (derived).
    // 1e-3: the steps of 4000 rings.
    for (const double corner : {0.3 * um, 1.0 * um, 10.0 * um}) {
        const double height = 2.0 * nm;
        const double b = corner / wavelength;
        const double q = 1.0 / b;
        const double r = std::sqrt(1.0 + q * q);
        const double closed = 1.0 - q * q / (2.0 * r) * std::log((r + 1.0) / (r - 1.0));
        const double phase = 4.0 * pi * height / wavelength;
        INFO(corner / um << " um");
        CHECK(hemispherical(hazy(spectrum(height, corner, 3.0)), 0.0) == Approx(phase * phase * closed).epsilon(1e-3));
    }
}

TEST_CASE("a coarse spectrum scatters what Bennett and Porteus give", "[target][published]") {
    // H. E. Bennett, J. O. Porteus, JOSA 51, 123 (1961): TIS = (4 pi Rq / lambda)^2, for structures longer than the
    // wavelength; at an angle times cos^2. 3 nm at 633 nm: 0.00355. 1 %: light of the spectrum's tail, B = 50 um, C
    // = 3.
    const target::Surface surface = hazy(spectrum(3.0 * nm, 50.0 * um, 3.0));
    CHECK(hemispherical(surface, 0.0) == Approx(0.00355).epsilon(0.01));
    CHECK(hemispherical(surface, 60.0 * degree) == Approx(0.25 * 0.00355).epsilon(0.02));
}

TEST_CASE("haze, lobe and mirror part together reflect no more than Fresnel's reflectance", "[target][physics]") {
    for (const scenario::Haze& haze :
         {spectrum(9.0 * nm, 0.3 * um, 1.5), spectrum(9.0 * nm, 3.0 * um, 2.0), spectrum(9.0 * nm, 30.0 * um, 3.0)}) {
        const target::Surface surface = hazy(haze, 0.03 * um);
        for (const double angle : {0.0, 30.0, 60.0, 80.0}) {
            const double cosine = std::cos(angle * degree);
            const double hazed = hemispherical(surface, angle * degree);
            const double held = target::haze_share(*surface.gloss, cosine);
            const double phase = 4.0 * pi * haze.rms_height / wavelength;
            INFO("C " << haze.exponent << " at " << angle << " deg");
            CHECK(hazed <= held);
            CHECK(hazed >= held - 0.06 * phase * phase);  // the header's bound
            // What is left for mirror and lobe: shares that add up to 1 less the haze.
            CHECK(target::mirror_share(*surface.gloss, cosine) +
                      target::facet_light_share(*surface.gloss, cosine, cosine) ==
                  Approx(1.0 - held).epsilon(1e-12));
        }
    }
}

TEST_CASE("haze is reciprocal, and of no effect without its heights", "[target][unit]") {
    const target::Surface surface = hazy(spectrum(4.0 * nm, 5.0 * um, 2.0), 0.01 * um);
    for (int i = 0; i < 50; ++i) {
        const Vector3d a = direction(1.5 * test::uniform(4 * i), 6.0 * test::uniform(4 * i + 1));
        const Vector3d b = direction(1.5 * test::uniform(4 * i + 2), 6.0 * test::uniform(4 * i + 3));
        const double there = target::scatter(surface, a, b, upright);
        CHECK(target::scatter(surface, b, a, upright) == Approx(there).epsilon(1e-9));
    }
    scenario::Material steel = scenario::library_material("polished-steel");
    steel.haze = spectrum(0.0, 5.0 * um, 2.0);
    CHECK_FALSE(target::make_surface(steel, wavelength).gloss->haze.has_value());
}

TEST_CASE("drawn directions of scatter carry the haze with bounded weights", "[target][physics]") {
    // Mean weight of draws against the hemispherical integral; the lobe beside it is that of coarse heights.
    const target::Surface surface = hazy(spectrum(9.0 * nm, 2.0 * um, 2.0), 0.0);
    const Vector3d to_light = direction(30.0 * degree, pi);
    constexpr int draws = 40000;
    double sum = 0.0;
    double squares = 0.0;
    double largest = 0.0;
    for (int i = 0; i < draws; ++i) {
        const auto sample = target::sample_scatter(
            surface, to_light, upright, {test::uniform(3 * i), test::uniform(3 * i + 1), test::uniform(3 * i + 2)});
        const double weight = sample ? sample->weight : 0.0;
        sum += weight;
        squares += weight * weight;
        largest = std::max(largest, weight);
    }
    const double mean = sum / draws;
    const double error = std::sqrt((squares / draws - mean * mean) / draws);
    CHECK(mean == Approx(hemispherical(surface, 30.0 * degree)).margin(5.0 * error));
    // A quarter of the draws are haze: no weight above four times the whole share.
    const double phase = 4.0 * pi * 9.0 * nm / wavelength;
    CHECK(largest <= 4.0 * phase * phase * 1.001);
}
