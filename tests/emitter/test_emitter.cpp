// The beam and the laser class it asks for.
//
// "Published" rows are check values of the textbook forms of a Gaussian beam, computed apart from this program for the
// example beam: 655 nm, M^2 = 1.2, waist radius 25 um, 1 mW. Their tolerance is half of the last printed digit.
#include <boost/math/quadrature/gauss.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Geometry>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "tests/support/light.hpp"
#include "tests/support/stations.hpp"

namespace {

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace spotwright;
using base::degree, base::mm, base::mW, base::nm, base::um;
using test::eps, test::example_scenario;

emitter::Beam example_beam() {
    return support::beam_of(example_scenario());
}

// Integral over [low, high] by 30-point Gauss-Legendre in `panels` panels: rounding only, for a Gaussian whose radius
// is no shorter than a panel.
template <class F>
double integral(const F& f, double low, double high, int panels) {
    double sum = 0.0;
    for (int i = 0; i < panels; ++i) {
        const double a = std::lerp(low, high, static_cast<double>(i) / panels);
        const double b = std::lerp(low, high, static_cast<double>(i + 1) / panels);
        sum += boost::math::quadrature::gauss<double, 30>::integrate(f, a, b);
    }
    return sum;
}

double power_in_circle(const emitter::Beam& beam, double along, double radius) {
    const auto ring = [&](double r) {
        constexpr int spokes = 8;
        double mean = 0.0;
        for (int k = 0; k < spokes; ++k) {
            const double angle = 2.0 * base::pi * k / spokes;
            const Eigen::Vector3d across = std::cos(angle) * beam.axes[0] + std::sin(angle) * beam.axes[1];
            mean += emitter::irradiance_at(beam, beam.face + along * beam.direction + r * across) / spokes;
        }
        return 2.0 * base::pi * r * mean;
    };
    return integral(ring, 0.0, radius, 4);
}

// Power with |x| < half_width on axis 0. Beyond 5 radii lies less than exp(-50) of it.
double power_in_slit(const emitter::Beam& beam, double along, double half_width) {
    const double reach = 5.0 * emitter::radius_at(beam, 1, along);
    const auto column = [&](double x) {
        const Eigen::Vector3d centre = beam.face + along * beam.direction + x * beam.axes[0];
        return integral([&](double y) { return emitter::irradiance_at(beam, centre + y * beam.axes[1]); }, -reach,
                        reach, 10);
    };
    return integral(column, -half_width, half_width, 10);
}

// The sums above have at most 10 x 10 x 900 terms, each with a relative rounding of eps.
constexpr double quadrature_rounding = 9e4 * eps;

}  // namespace

TEST_CASE("radius, Rayleigh length and divergence of the example beam are the published ones", "[emitter][published]") {
    const emitter::Beam beam = example_beam();
    CHECK_THAT(emitter::rayleigh_length(beam, 0) / mm, WithinAbs(2.498086, 0.5e-6));                         // X2.01
    CHECK_THAT(emitter::radius_at(beam, 0, beam.waist_along + 5.0 * mm) / um, WithinAbs(55.93597, 0.5e-5));  // X2.02
    CHECK_THAT(emitter::radius_at(beam, 0, beam.waist_along - 5.0 * mm) / um, WithinAbs(55.93597, 0.5e-5));
    CHECK_THAT(emitter::divergence(beam, 0) * 1e3, WithinAbs(10.00766, 0.5e-5));  // X2.03
    const double full_angle = 2.0 * emitter::divergence(beam, 0);
    const double quality = base::pi * 2.0 * beam.waist_radius[0] * full_angle / (4.0 * beam.wavelength);
    CHECK_THAT(quality, WithinAbs(1.2, 8 * eps));  // X2.04
}

TEST_CASE("the radius at the waist is the waist radius and grows by sqrt 2 in a Rayleigh length", "[emitter][unit]") {
    const emitter::Beam beam = example_beam();
    const double rayleigh = emitter::rayleigh_length(beam, 1);
    CHECK(emitter::radius_at(beam, 1, beam.waist_along) == beam.waist_radius[1]);
    // `along` near 50 mm carries eps * 50 mm of rounding, against a Rayleigh length of 2.5 mm.
    CHECK_THAT(emitter::radius_at(beam, 1, beam.waist_along + rayleigh),
               WithinRel(std::sqrt(2.0) * beam.waist_radius[1], 2.0 * 50.0 / 2.5 * eps));
}

TEST_CASE("peak irradiance and half-width of the example beam are the published ones", "[emitter][published]") {
    const emitter::Beam beam = example_beam();
    const Eigen::Vector3d waist = beam.face + beam.waist_along * beam.direction;
    const double peak = emitter::irradiance_at(beam, waist);
    CHECK_THAT(peak, WithinAbs(1018592.0, 0.5));  // X2.09
    // X2.05: full width at half maximum 1.177410 w. Half a digit of it is 2.5e-7 w on the half-width r, and the
    // irradiance changes by 4 r / w^2 dr, relative.
    const double half_width = 1.177410 / 2.0;
    const double at_half = emitter::irradiance_at(beam, waist + half_width * beam.waist_radius[0] * beam.axes[0]);
    CHECK_THAT(at_half / peak, WithinAbs(0.5, 0.5 * 4.0 * half_width * 2.5e-7));
}

TEST_CASE("power through circle and slit, integrated from the irradiance, is the published share",
          "[emitter][published]") {
    const emitter::Beam beam = example_beam();
    for (const double from_waist : {-5.0 * mm, 0.0, 5.0 * mm}) {
        const double along = beam.waist_along + from_waist;
        const double w = emitter::radius_at(beam, 0, along);
        CHECK_THAT(power_in_circle(beam, along, w) / beam.power, WithinAbs(0.8646647, 0.5e-7));        // X2.06
        CHECK_THAT(power_in_circle(beam, along, 1.5 * w) / beam.power, WithinAbs(0.9888910, 0.5e-7));  // X2.07
        CHECK_THAT(power_in_slit(beam, along, w) / beam.power, WithinAbs(0.9544997, 0.5e-7));          // X2.08
        CHECK_THAT(power_in_circle(beam, along, 5.0 * w) / beam.power, WithinRel(1.0, quadrature_rounding));
    }
}

TEST_CASE("a beam of 7 mm diameter sends the published share through a 7 mm aperture", "[emitter][published]") {
    emitter::Beam beam = example_beam();
    beam.waist_radius = {3.5 * mm, 3.5 * mm};
    CHECK_THAT(power_in_circle(beam, beam.waist_along, 3.5 * mm) / beam.power, WithinAbs(0.864664717, 0.5e-9));  // 4.11
}

TEST_CASE("an oblique, elliptical beam carries its whole power through every cross-section", "[emitter][physics]") {
    scenario::Scenario s = example_scenario();
    s.emitter.angle = -30.0 * degree;
    s.emitter.waist_radius = {25.0 * um, 90.0 * um};
    const emitter::Beam beam = support::beam_of(s);
    for (const double along : {40.0 * mm, 50.0 * mm, 57.0 * mm}) {
        const double reach = 5.0 * emitter::radius_at(beam, 0, along);
        CHECK_THAT(power_in_slit(beam, along, reach) / beam.power, WithinRel(1.0, quadrature_rounding));
    }
}

TEST_CASE("the slope of the radius is its derivative and ends in the divergence", "[emitter][physics]") {
    const emitter::Beam beam = example_beam();
    const double rayleigh = emitter::rayleigh_length(beam, 0);
    // Central difference: h^2 / 6 of the third derivative, which is below w0 / z_R^3 everywhere.
    constexpr double h = 10.0 * um;
    const double truncation = h * h / 6.0 * beam.waist_radius[0] / std::pow(rayleigh, 3);
    for (const double from_waist : {-8.0 * mm, -1.0 * mm, 0.0, 0.5 * mm, 5.0 * mm}) {
        const double along = beam.waist_along + from_waist;
        const double difference =
            (emitter::radius_at(beam, 0, along + h) - emitter::radius_at(beam, 0, along - h)) / (2.0 * h);
        CHECK_THAT(emitter::radius_slope_at(beam, 0, along), WithinAbs(difference, truncation));
    }
    // w' = Theta t / sqrt(1 + t^2): short of Theta by 1 / (2 t^2), here 5e-7.
    const double far = emitter::radius_slope_at(beam, 0, beam.waist_along + 1000.0 * rayleigh);
    CHECK_THAT(far, WithinRel(emitter::divergence(beam, 0), 5.1e-7));
    CHECK(far < emitter::divergence(beam, 0));
}

TEST_CASE("a stream line keeps its place relative to the radius", "[emitter][physics]") {
    scenario::Scenario s = example_scenario();
    s.emitter.waist_radius = {25.0 * um, 60.0 * um};
    const emitter::Beam beam = support::beam_of(s);
    const double along = beam.waist_along + 2.0 * mm;
    const std::array<double, 2> offset{0.7, -1.3};
    const emitter::BeamRay ray = emitter::ray_at(beam, along, offset);
    CHECK_THAT(ray.direction.norm(), WithinAbs(1.0, 4 * eps));
    for (const double ahead : {-0.2 * mm, 0.0, 0.2 * mm}) {
        const double distance = ahead / ray.direction.dot(beam.direction);
        const Eigen::Vector3d from_face = ray.origin + distance * ray.direction - beam.face;
        for (std::size_t i = 0; i < 2; ++i) {
            const int axis = static_cast<int>(i);
            const double w = emitter::radius_at(beam, axis, along + ahead);
            // The tangent leaves the hyperbola by w'' / 2 times the square of the way, and w'' <= w0 / z_R^2.
            const double rayleigh = emitter::rayleigh_length(beam, axis);
            const double bend = beam.waist_radius[i] / (rayleigh * rayleigh) * ahead * ahead / 2.0;
            const double rounding = 8 * eps * 52.0 * mm;
            CHECK_THAT(from_face.dot(beam.axes[i]), WithinAbs(offset[i] * w, std::abs(offset[i]) * bend + rounding));
        }
    }
}

TEST_CASE("the beam runs from the emitter face through the reference point, tilted towards the receiver by its angle",
          "[emitter][unit]") {
    scenario::Scenario s = example_scenario();
    s.mount.reference_distance = 50.0 * mm;
    s.emitter.angle = 20.0 * degree;
    s.emitter.waist_displacement = -3.0 * mm;
    const emitter::Beam beam = support::beam_of(s);
    const double rounding = 8 * eps;
    CHECK((beam.face + s.mount.reference_distance * beam.direction).norm() <= rounding * s.mount.reference_distance);
    CHECK(beam.face.x() > 0.0);
    CHECK(beam.face.z() > 0.0);
    CHECK_THAT(std::atan2(beam.face.x(), beam.face.z()), WithinAbs(20.0 * degree, rounding));
    CHECK_THAT(beam.waist_along, WithinAbs(47.0 * mm, rounding * 50.0 * mm));
    CHECK_THAT(beam.axes[0].norm(), WithinAbs(1.0, rounding));
    CHECK_THAT(beam.axes[0].dot(beam.direction), WithinAbs(0.0, rounding));
    CHECK((beam.axes[0].cross(beam.axes[1]) + beam.direction).norm() <= rounding);
}

TEST_CASE("limits of accessible emission are the published ones", "[emitter][published]") {
    CHECK(emitter::correction_c4(655.0 * nm) == 1.0);
    CHECK_THAT(emitter::correction_c4(850.0 * nm), WithinAbs(1.99526231, 0.5e-8));                  // 4.02a
    CHECK_THAT(emitter::correction_c4(905.0 * nm), WithinAbs(2.57039578, 0.5e-8));                  // 4.02b
    CHECK_THAT(emitter::emission_limits(655.0 * nm).class_1 / mW, WithinAbs(0.39, 4 * eps));        // 4.04a
    CHECK_THAT(emitter::emission_limits(850.0 * nm).class_1 / mW, WithinAbs(0.778152303, 0.5e-9));  // 4.04b
    CHECK_THAT(emitter::emission_limits(905.0 * nm).class_1 / mW, WithinAbs(1.00245436, 0.5e-8));   // 4.04c
    CHECK_THAT(emitter::emission_limits(850.0 * nm).class_3r / mW, WithinAbs(3.99052463, 0.5e-8));  // 4.04d
    CHECK_THAT(emitter::emission_limits(905.0 * nm).class_3r / mW, WithinAbs(5.14079157, 0.5e-8));  // 4.04e
}

TEST_CASE("emission limits are permitted exposure times the area of the eye's pupil", "[emitter][physics]") {
    // The tables of the standard keep two digits of this product, rounded up: one unit of the second digit, 0.01 mW on
    // 0.39 mW and 0.1 mW on 1.0 mW. Catches a factor, not a digit.
    const double pupil_area = base::pi / 4.0 * std::pow(7.0 * mm, 2);
    CHECK_THAT(pupil_area, WithinAbs(3.848451e-05, 0.5e-11));  // 4.01
    const emitter::EmissionLimits visible = emitter::emission_limits(655.0 * nm);
    CHECK_THAT(visible.class_1 / mW, WithinAbs(10.0 * pupil_area / mW, 0.01));                         // 4.03a
    CHECK_THAT(visible.class_2 / mW, WithinAbs(18.0 * std::pow(0.25, -0.25) * pupil_area / mW, 0.1));  // 4.03b, 4.03d
    CHECK(visible.class_3r == 5.0 * visible.class_2);
}

TEST_CASE("below 500 nm the photochemical limit holds in class 1", "[emitter][published]") {
    // C3 and the limits of IEC 60825-1:2014, from memory; C3 also as C_B of the limits of exposure of ICNIRP, which
    // national rules reprint: 1 to 450 nm, 10^(0.02 (lambda - 450)) above.
    CHECK(emitter::correction_c3(400.0 * nm) == 1.0);
    CHECK(emitter::correction_c3(450.0 * nm) == 1.0);
    CHECK_THAT(emitter::correction_c3(473.0 * nm), WithinRel(std::pow(10.0, 0.46), 1e-12));
    CHECK_THAT(emitter::correction_c3(500.0 * nm), WithinRel(10.0, 1e-12));
    for (const double wavelength : {400.0 * nm, 405.0 * nm, 450.0 * nm}) {
        CHECK_THAT(emitter::emission_limits(wavelength).class_1 / mW, WithinAbs(0.039, 4 * eps));
    }
    CHECK_THAT(emitter::emission_limits(488.0 * nm).class_1 / mW, WithinRel(0.039 * std::pow(10.0, 0.76), 1e-12));
    // Both limits meet at 500 nm; beyond it the thermal one is less, and classes 2 and 3R have no photochemical limit.
    CHECK_THAT(emitter::photochemical_limit(500.0 * nm) / mW, WithinAbs(0.39, 1e-12));
    CHECK(emitter::photochemical_limit(655.0 * nm) == std::numeric_limits<double>::infinity());
    for (double wavelength = 500.0; wavelength <= 700.0; wavelength += 5.0) {
        CHECK_THAT(emitter::emission_limits(wavelength * nm).class_1 / mW, WithinAbs(0.39, 1e-12));
    }
    CHECK(emitter::emission_limits(405.0 * nm).class_2 == emitter::emission_limits(655.0 * nm).class_2);
    CHECK(emitter::emission_limits(405.0 * nm).class_3r == emitter::emission_limits(655.0 * nm).class_3r);
}

TEST_CASE("the photochemical limit is the permitted exposure times the area of the eye's pupil", "[emitter][physics]") {
    // ICNIRP, Health Phys. 105, 271 (2013): C_B W/m^2 beyond 100 s; rounded up to two digits.
    const double pupil_area = base::pi / 4.0 * std::pow(7.0 * mm, 2);
    CHECK_THAT(emitter::photochemical_limit(440.0 * nm) / mW, WithinAbs(1.0 * pupil_area / mW, 0.001));
}

TEST_CASE("a blue laser has a class", "[emitter][unit]") {
    CHECK(emitter::estimated_class(405.0 * nm, 0.038 * mW) == "1");
    CHECK(emitter::estimated_class(405.0 * nm, 0.3 * mW) == "2");
    CHECK(emitter::estimated_class(488.0 * nm, 0.22 * mW) == "1");
    CHECK(emitter::estimated_class(488.0 * nm, 0.23 * mW) == "2");
    CHECK(emitter::estimated_class(405.0 * nm, 1.01 * mW) == "3R");
}

TEST_CASE("the class is the lowest whose limit holds the power", "[emitter][unit]") {
    CHECK(emitter::estimated_class(655.0 * nm, 0.30 * mW) == "1");
    CHECK(emitter::estimated_class(655.0 * nm, 0.40 * mW) == "2");
    CHECK(emitter::estimated_class(655.0 * nm, 1.01 * mW) == "3R");
    CHECK(emitter::estimated_class(655.0 * nm, 5.01 * mW) == "3B");
    CHECK(emitter::estimated_class(655.0 * nm, 501.0 * mW) == "4");
    const emitter::EmissionLimits visible = emitter::emission_limits(655.0 * nm);
    CHECK(emitter::estimated_class(655.0 * nm, visible.class_1) == "1");
    CHECK(emitter::estimated_class(655.0 * nm, visible.class_2) == "2");
}

TEST_CASE("invisible light has no class 2", "[emitter][unit]") {
    CHECK(emitter::emission_limits(850.0 * nm).class_2 == 0.0);
    CHECK(emitter::estimated_class(850.0 * nm, 0.77 * mW) == "1");
    CHECK(emitter::estimated_class(850.0 * nm, 0.79 * mW) == "3R");
}

TEST_CASE("no limit is given where the model has none", "[emitter][unit]") {
    CHECK_THROWS_AS(emitter::correction_c4(399.0 * nm), base::DomainError);
    CHECK_THROWS_AS(emitter::correction_c4(1051.0 * nm), base::DomainError);
    CHECK_THROWS_AS(emitter::emission_limits(399.0 * nm), base::DomainError);
    CHECK_THROWS_AS(emitter::emission_limits(1051.0 * nm), base::DomainError);
    CHECK_THROWS_AS(emitter::correction_c3(601.0 * nm), base::DomainError);
    CHECK(emitter::safety_caution().find("not a classification") != std::string::npos);
}

TEST_CASE("the spread of angles times the radius is the beam's parameter product everywhere", "[emitter]") {
    // ISO 11146-1: M^2 lambda / pi, whatever the distance from the waist.
    const scenario::Mount mount;
    scenario::Emitter from;
    from.waist_radius = {30e-6, 80e-6};
    from.beam_quality = 1.7;
    const emitter::Beam beam = emitter::make_beam(from, mount);
    const double product = 1.7 * from.wavelength / 3.14159265358979323846;
    for (const double along : {0.0, 0.03, mount.reference_distance, 0.2}) {
        const emitter::BeamSection section = emitter::section_at(beam, along);
        for (std::size_t axis = 0; axis < 2; ++axis) {
            CHECK(section.radius[axis].norm() * section.angular_radius[axis].norm() == Approx(product));
        }
    }
}

TEST_CASE("an emitter beside the plane of the mounting stands on the side of its sign", "[emitter]") {
    const scenario::Mount mount;
    scenario::Emitter from;
    from.out_of_plane = 3e-3;
    CHECK(emitter::make_beam(from, mount).face.y() == Approx(3e-3));
    CHECK(emitter::make_beam(from, mount).direction.y() == 0.0);
}

TEST_CASE("the field of a polarised beam turns from the plane of the mounting to y, square to the beam", "[emitter]") {
    const scenario::Mount mount;
    scenario::Emitter from;
    CHECK(emitter::make_beam(from, mount).polarisation.degree == 0.0);
    from.angle = -30.0 * degree;
    from.polarisation_degree = 0.9;
    for (const double direction : {0.0, 90.0, -25.0}) {
        from.polarisation_direction = direction * degree;
        const emitter::Beam beam = emitter::make_beam(from, mount);
        const Eigen::Vector3d& field = beam.polarisation.direction;
        CHECK(beam.polarisation.degree == 0.9);
        CHECK_THAT(field.norm(), WithinRel(1.0, 4 * eps));
        CHECK_THAT(field.dot(beam.direction), WithinAbs(0.0, 4 * eps));
        CHECK_THAT(field.y(), WithinAbs(std::sin(direction * degree), 4 * eps));
        CHECK_THAT(field.x(), WithinAbs(std::cos(direction * degree) * std::cos(30.0 * degree), 4 * eps));
    }
}
