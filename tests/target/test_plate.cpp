#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <Eigen/Geometry>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/target/plate.hpp"
#include "sim/target/refraction.hpp"

using namespace spotwright;
using base::degree, base::mm;
using target::Fresnel;
using target::Plate;

namespace {

constexpr double glass = 1.514362;  // BK7 at 655 nm by its Sellmeier formula
const double half_sqrt3 = std::cos(30.0 * degree);

const std::vector<Plate> plates{
    {1.5}, {1.33, {1.0, 0.0}}, {1.514, {2.92, 3.10}}, {1.5, {1.33, 0.0}}, {1.5, {0.2, 3.7}}};

}  // namespace

// Worked values of seven digits, computed from Fresnel's equations for 30 deg.
TEST_CASE("powers of a plate's reflections agree with worked values", "[plate][published]") {
    struct Row {
        int order;
        double s;
        double p;
    };
    for (const Row& row :
         {Row{0, 0.06024378, 0.02655825}, Row{1, 0.05320380, 0.02516630}, Row{2, 1.930932e-4, 1.775081e-5}}) {
        const Fresnel f = target::plate_reflection({glass}, half_sqrt3, row.order);
        // Half of the last digit, and the index's rounding to seven digits.
        CHECK(std::abs(f.s / row.s - 1.0) < 2e-6);
        CHECK(std::abs(f.p / row.p - 1.0) < 2e-6);
    }
    CHECK(std::abs(target::plate_reflections_from({glass}, half_sqrt3, 0).s - 0.1136414) < 2e-7);
    CHECK(std::abs(target::plate_reflections_from({glass}, half_sqrt3, 0).p - 0.05174231) < 1e-7);
    CHECK(std::abs(target::plate_reflection({glass}, half_sqrt3, 1).unpolarised() - 0.03918505) < 1e-7);
}

TEST_CASE("two like faces reflect 2R / (1 + R) in all", "[plate][physics]") {
    for (double cosine = 0.02; cosine <= 1.0; cosine += 0.02) {
        const Fresnel r = target::fresnel(1.5, cosine);
        const Fresnel all = target::plate_reflections_from({1.5}, cosine, 0);
        // The back face is computed from inside the glass: that it equals the front is Stokes's relation.
        CHECK(all.s == Approx(2.0 * r.s / (1.0 + r.s)).epsilon(1e-12));
        CHECK(all.p == Approx(2.0 * r.p / (1.0 + r.p)).epsilon(1e-12).margin(1e-15));
    }
}

TEST_CASE("the orders add up, and with what passes through a bare plate to all of the light", "[plate][physics]") {
    for (const Plate& plate : plates) {
        for (const double cosine : {1.0, 0.8, 0.3, 0.05}) {
            for (int first = 0; first < 3; ++first) {
                Fresnel sum;
                for (int order = first; order < 400; ++order) {
                    const Fresnel f = target::plate_reflection(plate, cosine, order);
                    sum.s += f.s;
                    sum.p += f.p;
                }
                const Fresnel all = target::plate_reflections_from(plate, cosine, first);
                CHECK(sum.s == Approx(all.s).epsilon(1e-12));
                CHECK(sum.p == Approx(all.p).epsilon(1e-12).margin(1e-16));
                CHECK((all.s >= 0.0 && all.s <= 1.0 && all.p >= 0.0 && all.p <= 1.0));
            }
            // What passes at the first go is 1 / (1 - R1 R2) short of all that passes: the echoes inside.
            const Fresnel passed = target::plate_passed(plate, cosine);
            const Fresnel front = target::plate_reflection(plate, cosine, 0);
            const Fresnel back = target::plate_reflection(plate, cosine, 1);
            const double echo = back.s / ((1.0 - front.s) * (1.0 - front.s)) * front.s;
            const double all = target::plate_reflections_from(plate, cosine, 0).s;
            CHECK(passed.s / (1.0 - echo) + all == Approx(1.0).epsilon(1e-12));
        }
    }
}

TEST_CASE("a backing of the plate's own index has no back reflection, a metal one a strong one", "[plate][physics]") {
    CHECK(target::plate_reflection({1.5, {1.5, 0.0}}, 0.8, 1).s < 1e-30);
    // Silver-like backing at normal incidence: |(n - m) / (n + m)|^2 by hand, with losses at the front twice.
    const double front = 0.04;
    const double back = (1.3 * 1.3 + 3.7 * 3.7) / (1.7 * 1.7 + 3.7 * 3.7);
    const Fresnel f = target::plate_reflection({1.5, {0.2, 3.7}}, 1.0, 1);
    CHECK(f.s == Approx((1.0 - front) * (1.0 - front) * back).epsilon(1e-12));
    CHECK(f.p == Approx(f.s).epsilon(1e-12));
}

TEST_CASE("polarisations are averaged after the products", "[plate][physics]") {
    const Fresnel r = target::fresnel(glass, half_sqrt3);
    const double mean_first = (1.0 - r.unpolarised()) * (1.0 - r.unpolarised()) * r.unpolarised();
    // They differ by 2 var(R) and more: 6e-4 here. A model that averages first would be off by that.
    CHECK(mean_first - target::plate_reflection({glass}, half_sqrt3, 1).unpolarised() > 5e-4);
}

TEST_CASE("apparent thickness agrees with worked values", "[plate][published]") {
    const auto symmetric = [](double angle) { return target::apparent_thickness(1.0 * mm, glass, angle, angle) / mm; };
    // Half of the last digit, and the index's rounding to seven digits.
    CHECK(std::abs(symmetric(30.0 * degree) - 0.6058503) < 3e-7);
    CHECK(std::abs(symmetric(45.0 * degree) - 0.5280310) < 3e-7);
    CHECK(std::abs(symmetric(0.0) - 0.6603440) < 3e-7);
}

TEST_CASE("the two axes, traced through the plate, cross where the back face seems to lie", "[plate][physics]") {
    const double n = 1.5;
    const double t = 2.0 * mm;
    const Eigen::Vector3d up = Eigen::Vector3d::UnitZ();
    for (const double emitter : {0.0, 0.3, -0.2, 0.9}) {
        for (const double receiver : {0.1, 0.5, 0.8}) {
            if (emitter + receiver <= 0.0) continue;
            // Both lines start where they cross the front face, such that inside they meet on the back face.
            const auto down = [&](double angle, double side) {
                const Eigen::Vector3d outside(side * std::sin(angle), 0.0, -std::cos(angle));
                const Eigen::Vector3d inside = target::refract(outside, up, n).value();
                return std::pair(Eigen::Vector3d(-inside * (t / -inside.z())), outside);
            };
            const auto e = down(emitter, 1.0);
            const auto r = down(receiver, -1.0);
            // Straight on from the front face (z = 0 there for both) the lines meet at this depth.
            const double depth =
                (r.first.x() - e.first.x()) / (e.second.x() / -e.second.z() - r.second.x() / -r.second.z());
            CHECK(target::apparent_thickness(t, n, emitter, receiver) == Approx(depth).epsilon(1e-12));
            CHECK(target::thickness_from(depth, n, emitter, receiver) == Approx(t).epsilon(1e-12));
        }
    }
}

TEST_CASE("apparent thickness goes over smoothly to axes that are one", "[plate][physics]") {
    for (const double angle : {0.0, 0.4, -0.7}) {
        const double one = target::apparent_thickness(1.0, 1.5, angle, -angle);
        for (const double apart : {1e-8, 0.8e-6, 1.2e-6, 1e-5}) {
            // A difference of angle shows in first order of `apart`; either formula's own error is 1e-10.
            CHECK(std::abs(target::apparent_thickness(1.0, 1.5, angle + apart, -angle) - one) < apart + 1e-10);
        }
    }
    CHECK(target::apparent_thickness(1.0, 1.5, 0.0, 0.0) == Approx(1.0 / 1.5).epsilon(1e-14));
    CHECK(target::apparent_thickness(1.0, 1.0, 0.3, 0.5) == Approx(1.0).epsilon(1e-14));
}

TEST_CASE("a plate that cannot be is refused", "[plate][unit]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(target::plate_reflection({1.5}, 1.0, -1), base::DomainError);
    CHECK_THROWS_AS(target::plate_reflections_from({1.5}, 1.0, -1), base::DomainError);
    for (const double bad : {0.9, nan}) {
        CHECK_THROWS_AS(target::plate_reflection({bad}, 1.0, 0), base::DomainError);
        CHECK_THROWS_AS(target::plate_passed({bad}, 1.0), base::DomainError);
        CHECK_THROWS_AS(target::apparent_thickness(1.0, bad, 0.1, 0.1), base::DomainError);
    }
    for (const double bad : {90.0 * degree, -2.0, nan}) {
        CHECK_THROWS_AS(target::apparent_thickness(1.0, 1.5, bad, 0.1), base::DomainError);
        CHECK_THROWS_AS(target::thickness_from(1.0, 1.5, 0.1, bad), base::DomainError);
    }
}
