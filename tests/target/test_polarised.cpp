// Polarised light at facets, faces and surfaces.
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <complex>
#include <vector>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/scenario/material.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/polarised.hpp"
#include "sim/target/surface.hpp"
#include "tests/support/light.hpp"

namespace {

using namespace spotwright;
using base::degree, base::nm;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using Eigen::Vector3d;
using target::Fresnel, target::Polarisation;
using test::direction, test::uniform;

// The field of light from `to_light` on the xy plane that makes `angle` with the plane of incidence.
Polarisation field(const Vector3d& to_light, double angle) {
    const Vector3d across = to_light.cross(Vector3d::UnitZ()).normalized();
    const Vector3d in_plane = across.cross(to_light);
    return {1.0, std::cos(angle) * in_plane + std::sin(angle) * across};
}

// A direction off the face, and a field square to it, the same for the same draw.
struct Lit {
    Vector3d to_light;
    Vector3d to_view;
    Polarisation light;
    Polarisation crossed;  // its field square to that of `light`
};

Lit draw_lit(int draw) {
    const auto number = [draw](int k) { return uniform(100 * draw + k); };
    const auto off_face = [&](int k) { return direction(1.4 * number(k), 2.0 * base::pi * number(k + 1)); };
    Lit lit{off_face(0), off_face(2), {}, {}};
    const double angle = base::pi * number(4);
    lit.light = field(lit.to_light, angle);
    lit.crossed = field(lit.to_light, angle + base::pi / 2.0);
    return lit;
}

std::vector<target::Surface> surfaces() {
    std::vector<target::Surface> list;
    for (const char* name : {"white-glossy-paint", "black-glossy-plastic", "ground-steel", "polished-steel", "mirror",
                             "clear-glass", "white-paper"}) {
        list.push_back(target::make_opaque_surface(scenario::library_material(name), 655.0 * nm));
    }
    return list;
}

}  // namespace

// n = 1.5 at 30 deg: r_s = (sqrt(3) - sqrt(8)) / (sqrt(3) + sqrt(8)) and r_p the same of 9 sqrt(3) and 4 sqrt(8), so
// R_s = 0.05779611 and R_p = 0.02524915, 39.2 % above and below their mean. Source: Fresnel's equations, M. Born, E.
// Wolf, Principles of Optics, ch. 1; worked values.
TEST_CASE("glass at 30 deg reflects s light 39 % more than the mean, p light 39 % less", "[published]") {
    const Vector3d to_light = direction(30.0 * degree);
    const Fresnel r = target::fresnel({1.5, 0.0}, to_light.z());
    const auto reflected = [&](double angle) {
        return r.mean(target::s_share(field(to_light, angle), to_light, Vector3d::UnitZ()));
    };
    CHECK_THAT(reflected(90.0 * degree), WithinAbs(0.05779611, 5e-9));
    CHECK_THAT(reflected(0.0), WithinAbs(0.02524915, 5e-9));
    CHECK_THAT(reflected(90.0 * degree) / r.unpolarised() - 1.0, WithinAbs(0.392, 5e-4));
    CHECK_THAT(reflected(0.0) / r.unpolarised() - 1.0, WithinAbs(-0.392, 5e-4));
    CHECK_THAT(reflected(45.0 * degree), WithinRel(r.unpolarised(), 1e-14));
}

// tan of Brewster's angle is n: D. Brewster, Phil. Trans. R. Soc. 105, 125 (1815).
TEST_CASE("a glass face reflects no p light at Brewster's angle, and twice the mean of s light", "[published]") {
    target::Surface glass;
    glass.gloss = target::Gloss{};
    glass.gloss->rms_height = 0.0;
    const Vector3d to_light = direction(std::atan(1.5), 0.7);
    const auto reflected = [&](const Polarisation& light) {
        return target::mirror_reflectance(glass, to_light, Vector3d::UnitZ(), light);
    };
    CHECK(std::atan(1.5) / degree == Approx(56.30993).margin(5e-6));
    CHECK(reflected(field(to_light, 0.0)) < 1e-16);
    CHECK_THAT(reflected(field(to_light, 90.0 * degree)), WithinRel(2.0 * reflected({}), 1e-12));
}

// Worked values of tests/target/test_gloss.cpp: aluminium 0.9172211 and 0.8909229, 1.5 % off their mean.
TEST_CASE("metals at 30 deg differ little between both polarisations", "[published]") {
    const Vector3d to_light = direction(30.0 * degree);
    const Fresnel r = target::fresnel({1.591784, 7.759824}, to_light.z());
    const double s = r.mean(target::s_share(field(to_light, 90.0 * degree), to_light, Vector3d::UnitZ()));
    CHECK_THAT(s / r.unpolarised() - 1.0, WithinAbs(0.01454, 5e-5));
}

TEST_CASE("the share in s is that of the squared field, and exactly a half without polarisation", "[unit]") {
    const Vector3d to_light = direction(0.6, 0.4);
    const auto share = [&](double degree_of, double angle) {
        return target::s_share({degree_of, field(to_light, angle).direction}, to_light, Vector3d::UnitZ());
    };
    CHECK(share(0.0, 0.3) == 0.5);
    for (const double angle : {0.0, 30.0, 45.0, 75.0, 90.0}) {
        const double s = std::pow(std::sin(angle * degree), 2);
        CHECK_THAT(share(1.0, angle * degree), WithinAbs(s, 1e-14));
        CHECK_THAT(share(0.3, angle * degree), WithinAbs(0.35 + 0.3 * s, 1e-14));
    }
    // Along the normal of a facet there is no plane of incidence, and s and p are alike: any share will do.
    const double along = target::s_share({1.0, Vector3d::UnitX()}, Vector3d::UnitZ(), Vector3d::UnitZ());
    CHECK((along >= 0.0 && along <= 1.0));
    // The field of a ray beside the axis is its part square to the ray.
    const Polarisation beside{1.0, (field(to_light, 0.5).direction + 0.2 * to_light).normalized()};
    CHECK_THAT(target::s_share(beside, to_light, Vector3d::UnitZ()), WithinAbs(std::pow(std::sin(0.5), 2), 1e-14));
}

TEST_CASE("unpolarised light is the mean of any two crossed fields, whatever the surface", "[target][physics]") {
    const std::vector<target::Surface> all = surfaces();
    double largest = 0.0;
    for (int draw = 0; draw < 200; ++draw) {
        const Lit lit = draw_lit(draw);
        const Vector3d normal = Vector3d::UnitZ();
        for (const target::Surface& surface : all) {
            const auto both = [&](const auto& of) { return std::array{of(lit.light), of(lit.crossed), of({})}; };
            const auto scattered = both([&](const Polarisation& light) {
                return target::scatter(surface, lit.to_light, lit.to_view, normal, light);
            });
            const auto mirrored = both([&](const Polarisation& light) {
                return target::mirror_reflectance(surface, lit.to_light, normal, light);
            });
            for (const auto& [one, other, mean] : {scattered, mirrored}) {
                CHECK_THAT(0.5 * (one + other), WithinRel(mean, 1e-12) || WithinAbs(mean, 1e-300));
                if (mean > 0.0) largest = std::max(largest, std::abs(one - other) / mean);
            }
        }
    }
    CHECK(largest > 1.0);  // it would be no claim of light that knows no polarisation
}

TEST_CASE("light, view, face, lay and field turned together change nothing", "[target][physics]") {
    std::vector<target::Surface> all = surfaces();
    for (int draw = 0; draw < 50; ++draw) {
        const Lit lit = draw_lit(draw);
        const Eigen::Matrix3d turn(
            Eigen::AngleAxisd(6.0 * uniform(9000 + draw), direction(3.0 * uniform(9100 + draw), draw)));
        for (target::Surface& surface : all) {
            surface.lay = direction(base::pi / 2.0, draw);
            const double before = target::scatter(surface, lit.to_light, lit.to_view, Vector3d::UnitZ(), lit.light);
            target::Surface turned = surface;
            turned.lay = turn * surface.lay;
            const double after =
                target::scatter(turned, turn * lit.to_light, turn * lit.to_view, turn * Vector3d::UnitZ(),
                                {lit.light.degree, turn * lit.light.direction});
            // Flanks of narrow lobes, exp(-q), lose digits by q.
            CHECK_THAT(after, WithinRel(before, 1e-6) || WithinAbs(before, 1e-12));
        }
    }
}

// What a smooth face lets in of either polarisation a white base below it sends back: nothing is lost or gained.
TEST_CASE("a white base below a smooth face sends back what the face does not reflect, of s and of p", "[physics]") {
    target::Surface coated{1.0, 0.0};
    coated.gloss = target::Gloss{};
    coated.gloss->rms_height = 0.0;
    coated.coupling = 1.0 / (1.0 - target::diffuse_fresnel(1.5));
    const Vector3d normal = Vector3d::UnitZ();
    for (const double incidence : {0.0, 30.0, 56.0, 80.0}) {
        const Vector3d to_light = direction(incidence * degree + 1e-9);
        for (const double angle : {0.0, 90.0, 20.0}) {
            const Polarisation light = field(to_light, angle * degree);
            double base = 0.0;
            constexpr int rings = 2000;
            for (int i = 0; i < rings; ++i) {
                const double u = (i + 0.5) / rings;  // cos^2: f_r is the same all about the normal
                base += base::pi / rings *
                        target::base_scatter(coated, to_light, direction(std::acos(std::sqrt(u))), normal, light);
            }
            // 2000 points of R near grazing exit: 1e-5.
            CHECK_THAT(base + target::mirror_reflectance(coated, to_light, normal, light), WithinAbs(1.0, 3e-5));
        }
    }
}

// A plate without absorption: all that is reflected, and (1 - R) / (1 + R) that passes, for each polarisation (the sum
// of a geometric series; Born and Wolf, ch. 7.6, without interference).
TEST_CASE("of light of any field a plate reflects and passes all", "[plate][physics]") {
    const Vector3d to_light = direction(40.0 * degree, 1.1);
    const Fresnel face = target::fresnel({1.5, 0.0}, to_light.z());
    const Fresnel passed{(1.0 - face.s) / (1.0 + face.s), (1.0 - face.p) / (1.0 + face.p)};
    const Fresnel reflected = target::plate_reflections_from({1.5}, to_light.z(), 0);
    for (const double angle : {0.0, 25.0, 90.0}) {
        const double s = target::s_share(field(to_light, angle * degree), to_light, Vector3d::UnitZ());
        CHECK_THAT(reflected.mean(s) + passed.mean(s), WithinRel(1.0, 1e-14));
    }
}

// Against complex amplitudes, apart from the code: E_s r_s across and E_p r_p in the plane of incidence, below
// Brewster's angle, twice in a row in planes of incidence that differ.
TEST_CASE("light that two glass faces mirror has the power of the amplitudes", "[target][physics]") {
    constexpr double n = 1.5;
    struct Jones {
        Vector3d direction;  // of travel
        Vector3d field;
    };
    const auto mirror = [](const Jones& in, const Vector3d& normal) {
        const Vector3d to_light = -in.direction;
        const double c = to_light.dot(normal);
        const double q = std::sqrt(n * n - 1.0 + c * c);
        const Vector3d across = to_light.cross(normal).normalized();
        const Vector3d before = across.cross(in.direction);
        const Vector3d way = in.direction - 2.0 * in.direction.dot(normal) * normal;
        const Vector3d after = across.cross(way);
        const double s = (c - q) / (c + q);
        const double p = (n * n * c - q) / (n * n * c + q);
        return Jones{way, s * in.field.dot(across) * across + p * in.field.dot(before) * after};
    };
    for (int draw = 0; draw < 40; ++draw) {
        const Vector3d to_light = direction(0.2 + 0.6 * uniform(draw), 6.0 * uniform(500 + draw));
        const Polarisation light = field(to_light, 3.0 * uniform(700 + draw));
        const Vector3d first = Vector3d::UnitZ();
        const Jones once = mirror({-to_light, light.direction}, first);
        const Vector3d second =
            Eigen::AngleAxisd(0.5, direction(1.0, 6.0 * uniform(900 + draw))) * Vector3d(-once.direction);
        const Jones twice = mirror(once, second);

        const Fresnel face = target::fresnel({n, 0.0}, to_light.z());
        const double share = face.mean(target::s_share(light, to_light, first));
        const Polarisation onward = target::mirrored(light, face, to_light, first);
        CHECK(onward.degree == Approx(1.0).epsilon(1e-12));
        CHECK(std::abs(onward.direction.dot(once.direction)) < 1e-12);
        const Fresnel next = target::fresnel({n, 0.0}, -once.direction.dot(second));
        const double both = share * next.mean(target::s_share(onward, -once.direction, second));
        CHECK_THAT(both, WithinRel(twice.field.squaredNorm(), 1e-9));
    }
}

// Of two shares that add up, each by itself: what is polarised by what, and the rest by the mean.
TEST_CASE("light that a face weakens keeps its share of polarised light by power", "[unit]") {
    const Vector3d to_light = direction(0.8);
    const Polarisation partly{0.4, field(to_light, 90.0 * degree).direction};
    const Polarisation left = target::weakened(partly, {0.2, 0.6}, to_light, Vector3d::UnitZ());
    CHECK_THAT(left.degree, WithinRel(0.4 * 0.2 / (0.4 * 0.2 + 0.6 * 0.4), 1e-12));
    CHECK_THAT(std::abs(left.direction.dot(partly.direction)), WithinRel(1.0, 1e-12));
    CHECK(target::weakened({}, {0.2, 0.6}, to_light, Vector3d::UnitZ()).degree == 0.0);
    // p light that a face at Brewster's angle would mirror is gone.
    CHECK(target::weakened(field(to_light, 0.0), {0.2, 0.0}, to_light, Vector3d::UnitZ()).degree < 1e-12);
}
