// Where the beam lands, and where a matt surface sends the light.
//
// "Published" rows are check values of textbook and published formulas, computed apart from this program; their
// tolerance is half of the last printed digit.
#include <boost/math/quadrature/gauss.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Geometry>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/target/footprint.hpp"
#include "sim/target/surface.hpp"

namespace {

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace spotwright;
using base::degree, base::mm, base::mW, base::nm, base::um;
using Eigen::Vector3d;

constexpr double eps = std::numeric_limits<double>::epsilon();

// The grid of nodes ends at 2.6 radii: the variance it gives a Gaussian is short by 2 c phi(c) = 5.6e-6 of itself,
// c = 5.2 standard deviations, and the power it scales up is short by 2e-7.
constexpr double cut_of_variance = 6e-6;
constexpr double cut_of_power = 4e-7;

// 655 nm, M^2 = 1.2, waist radius 25 um, 1 mW: the example beam of the published rows.
scenario::Scenario example_scenario() {
    scenario::Scenario s;
    s.emitter.wavelength = 655.0 * nm;
    s.emitter.power = 1.0 * mW;
    s.emitter.waist_radius = {25.0 * um, 25.0 * um};
    s.emitter.beam_quality = 1.2;
    return s;
}

target::Part tilted_plane(double in_plane, double out_of_plane = 0.0) {
    scenario::Scenario s;
    s.target.tilt = {in_plane, out_of_plane};
    return target::make_part(s, 0.0);
}

// The beam's waist 5 mm before the plane: it diverges where it lands.
emitter::Beam diverging_beam() {
    scenario::Scenario s = example_scenario();
    s.emitter.waist_displacement = -5.0 * mm;
    return emitter::make_beam(s);
}

double uniform(std::int64_t draw) {
    return (base::random_word({2024, base::Stream::photon_shot}, draw, 0) + 0.5) * 0x1p-32;
}

// Unit vector at these angles from +z.
Vector3d direction(double polar, double azimuth) {
    return {std::sin(polar) * std::cos(azimuth), std::sin(polar) * std::sin(azimuth), std::cos(polar)};
}

struct Moments {
    double power = 0.0;
    Vector3d mean = Vector3d::Zero();
    Eigen::Matrix3d variance = Eigen::Matrix3d::Zero();
};

Moments moments_of(const std::vector<target::LitPoint>& points) {
    Moments m;
    for (const target::LitPoint& p : points) {
        m.power += p.power;
        m.mean += p.power * p.position;
    }
    m.mean /= m.power;
    for (const target::LitPoint& p : points) {
        const Vector3d from_mean = p.position - m.mean;
        m.variance += p.power / m.power * from_mean * from_mean.transpose();
    }
    return m;
}

// Power and first moment, along the plane and in the mounting plane, of what crosses a plane through the reference
// point, summed on a fine grid from the irradiance. `stream_lines`: with the flux of the Poynting vector, which is
// parallel to the stream lines; otherwise with E cos(psi), as if all rays were parallel.
struct Crossing {
    double power = 0.0;
    double shift = 0.0;  // [m]
};

Crossing cross(const emitter::Beam& beam, const target::Part& plane, bool stream_lines) {
    const Vector3d along_plane = Vector3d::UnitY().cross(plane.normal());
    const double along_axis = (plane.origin - beam.face).dot(beam.direction);
    // Six radii of the wide side: what lies outside is below exp(-60). The sum over a regular grid of 16 nodes per
    // radius is exact to rounding for a Gaussian.
    const double radius = emitter::radius_at(beam, 0, along_axis);
    const double step = radius / 16.0;
    const int reach = static_cast<int>(6.0 * 16.0 / plane.normal().z());
    Crossing sum;
    for (int i = -reach; i <= reach; ++i) {
        for (int j = -6 * 16; j <= 6 * 16; ++j) {
            const Vector3d point = plane.origin + i * step * along_plane + j * step * Vector3d::UnitY();
            Vector3d flow = beam.direction;
            if (stream_lines) {
                const Vector3d from_face = point - beam.face;
                const double along = from_face.dot(beam.direction);
                for (int axis = 0; axis < 2; ++axis) {
                    const Vector3d& across = beam.axes[static_cast<std::size_t>(axis)];
                    flow += from_face.dot(across) / emitter::radius_at(beam, axis, along) *
                            emitter::radius_slope_at(beam, axis, along) * across;
                }
            }
            const double power = emitter::irradiance_at(beam, point) * -plane.normal().dot(flow) * step * step;
            sum.power += power;
            sum.shift += power * i * step;
        }
    }
    sum.shift /= sum.power;
    return sum;
}

template <class F>
double integral(const F& f, double low, double high) {
    return boost::math::quadrature::gauss<double, 30>::integrate(f, low, high);
}

// Share of incident power that leaves the surface: integral of f_r cos(theta_o) over the hemisphere, in pieces on
// which Oren-Nayar's form is smooth.
double albedo(const target::Surface& surface, double incidence) {
    const Vector3d to_light = direction(incidence, 0.0);
    const auto over = [&](double polar_low, double polar_high, double azimuth_low, double azimuth_high) {
        return integral(
            [&](double polar) {
                const double ring = integral(
                    [&](double azimuth) {
                        return target::scatter(surface, to_light, direction(polar, azimuth), Vector3d::UnitZ());
                    },
                    azimuth_low, azimuth_high);
                return ring * std::cos(polar) * std::sin(polar);
            },
            polar_low, polar_high);
    };
    const double quarter = base::pi / 2.0;
    double sum = 0.0;
    for (const double start : {-quarter, quarter}) {
        sum += over(0.0, incidence, start, start + 2.0 * quarter);
        sum += over(incidence, quarter, start, start + 2.0 * quarter);
    }
    return sum;
}

// The same in closed form, eq. (target.8): rho (A + B g).
double albedo_closed_form(const target::Surface& surface, double incidence) {
    const double s2 = surface.slope_deviation * surface.slope_deviation;
    const double a = 1.0 - 0.5 * s2 / (s2 + 0.33);
    const double b = 0.45 * s2 / (s2 + 0.09);
    const double s = std::sin(incidence);
    const double g =
        2.0 / base::pi *
        (s * (incidence / 2.0 - std::sin(2.0 * incidence) / 4.0) + std::tan(incidence) * (1.0 - s * s * s) / 3.0);
    return surface.reflectance * (a + b * g);
}

}  // namespace

TEST_CASE("the footprint holds the whole power of the beam, at any tilt", "[target][physics]") {
    const emitter::Beam beam = diverging_beam();
    for (std::int64_t draw = 0; draw < 200; draw += 2) {
        const target::Part plane =
            tilted_plane((2.0 * uniform(draw) - 1.0) * 80.0 * degree, (2.0 * uniform(draw + 1) - 1.0) * 60.0 * degree);
        const std::vector<target::LitPoint> points = target::strike(beam, plane, {48, 12});
        REQUIRE(points.size() == 48 * 12);
        CHECK_THAT(moments_of(points).power, WithinRel(beam.power, 48 * 12 * eps));
        for (const target::LitPoint& p : points) {
            REQUIRE(std::abs(plane.normal().dot(p.position - plane.origin)) <= 32 * eps * 50.0 * mm);
            REQUIRE(std::abs(p.to_light.norm() - 1.0) <= 8 * eps);
            REQUIRE(p.to_light.dot(p.normal) > 0.0);
        }
    }
}

TEST_CASE("the footprint of a parallel beam is longer by 1 / cos(tilt), and dimmer by cos(tilt)",
          "[target][published]") {
    const emitter::Beam beam = emitter::make_beam(example_scenario());
    const target::Part plane = tilted_plane(40.0 * degree);
    const std::vector<target::LitPoint> points = target::strike(beam, plane, {48, 12});
    const Moments m = moments_of(points);
    const Vector3d along_plane = Vector3d::UnitY().cross(plane.normal());
    const double length = 2.0 * std::sqrt(along_plane.dot(m.variance * along_plane));
    const double width = 2.0 * std::sqrt(m.variance(1, 1));
    CHECK_THAT(length / um, WithinAbs(32.63518, 0.5e-5 + 32.6 * cut_of_variance / 2.0));  // X2.10
    // 12 nodes over 5.2 radii sum a Gaussian to 1e-11 and cut it at the same place, a little less sharply.
    CHECK_THAT(width / um, WithinAbs(25.0, 25.0 * cut_of_variance));

    // Nodes of one column follow each other; the middle of the grid lies away from its edges.
    const std::size_t node = 24 * 12 + 6;
    const Vector3d column_step = (points[node + 12].position - points[node - 12].position) / 2.0;
    const Vector3d row_step = (points[node + 1].position - points[node - 1].position) / 2.0;
    const double on_surface = points[node].power / column_step.cross(row_step).norm();
    const double on_square_plane = emitter::irradiance_at(beam, points[node].position);
    // The radius differs over the depth of the footprint only by (0.02 / 2.5)^2, which the node's own place shares.
    CHECK_THAT(on_surface / on_square_plane, WithinAbs(0.7660444, 0.5e-7 + 2.0 * cut_of_power));  // X2.11
}

TEST_CASE("on a square plane the footprint is the beam's cross-section, centred on its axis", "[target][physics]") {
    const emitter::Beam beam = diverging_beam();
    const Moments m = moments_of(target::strike(beam, target::square_plane(1.0 * mm), {48, 48}));
    const double w = emitter::radius_at(beam, 0, 51.0 * mm);
    CHECK(m.mean.head<2>().norm() <= 48 * 48 * eps * w);
    CHECK_THAT(m.mean.z(), WithinAbs(-1.0 * mm, 64 * eps * 50.0 * mm));
    CHECK_THAT(2.0 * std::sqrt(m.variance(0, 0)) / w, WithinAbs(1.0, cut_of_variance / 2.0));
    CHECK_THAT(2.0 * std::sqrt(m.variance(1, 1)) / w, WithinAbs(1.0, cut_of_variance / 2.0));
}

TEST_CASE("a diverging beam's footprint shifts by w w' tan / (4 cos) along a tilted plane", "[target][physics]") {
    const emitter::Beam beam = diverging_beam();
    const double tilt = 40.0 * degree;
    const double w = emitter::radius_at(beam, 0, 50.0 * mm);
    const double slope = emitter::radius_slope_at(beam, 0, 50.0 * mm);
    const double first_order = w * slope * std::tan(tilt) / (4.0 * std::cos(tilt));
    const target::Part plane = tilted_plane(tilt);

    const Crossing flux = cross(beam, plane, true);
    CHECK_THAT(flux.power, WithinRel(beam.power, 1e-11));  // rounding of 5e4 terms
    // Next order, relative: 3/4 tan^2 (w'^2 + 3/2 w w'' + w^2 w''' / (6 w')) = 5.3e-5.
    CHECK_THAT(flux.shift, WithinRel(first_order, 6e-5));

    // The footprint's rays are tangents, straight where stream lines bend: the terms with w'' and w''', 1.1e-5.
    const Moments m = moments_of(target::strike(beam, plane, {192, 48}));
    const double shift = m.mean.dot(Vector3d::UnitY().cross(plane.normal()));
    CHECK_THAT(shift, WithinRel(flux.shift, 1.1e-5 + cut_of_variance));
    CHECK(m.mean.x() > 0.0);  // the normal leans to +x, where the plane is farther away and the beam wider

    const Moments opposite = moments_of(target::strike(beam, tilted_plane(-tilt), {192, 48}));
    CHECK_THAT(opposite.mean.x(), WithinRel(-m.mean.x(), 1e-9));
}

TEST_CASE("E cos(psi) in place of the flux would shift the footprint twice as far", "[target][published]") {
    const emitter::Beam beam = diverging_beam();
    const target::Part plane = tilted_plane(40.0 * degree);
    const double wrong = cross(beam, plane, false).shift;
    CHECK_THAT(wrong / um, WithinAbs(0.2742857, 0.5e-7));  // X2.12, which integrates E cos(psi)
    // Equal to second order in w' = 0.009 and in w / z_R = 0.02: 5e-4 covers both.
    CHECK_THAT(cross(beam, plane, true).shift / wrong, WithinAbs(0.5, 5e-4));
}

TEST_CASE("a footprint centred in the waist does not shift on a tilted plane", "[target][physics]") {
    const emitter::Beam beam = emitter::make_beam(example_scenario());
    const Moments m = moments_of(target::strike(beam, tilted_plane(40.0 * degree), {192, 48}));
    CHECK(m.mean.head<2>().norm() <= 192 * 48 * eps * 25.0 * um + 8 * eps * 50.0 * mm);
}

TEST_CASE("a beam that misses the plane or meets its back lights nothing", "[target][unit]") {
    const emitter::Beam beam = emitter::make_beam(example_scenario());
    CHECK(target::strike(beam, target::plane_through(Vector3d::Zero(), -Vector3d::UnitZ()), {}).empty());
    CHECK(target::strike(beam, target::plane_through(Vector3d::Zero(), Vector3d::UnitX()), {}).empty());
    CHECK(target::strike(beam, target::square_plane(-60.0 * mm), {}).empty());  // behind the emitter face
}

TEST_CASE("a positive in-plane tilt turns the normal to +x, a positive out-of-plane tilt to -y", "[target][unit]") {
    const double angle = 20.0 * degree;
    const Vector3d in_plane = tilted_plane(angle, 0.0).normal();
    CHECK((in_plane - Vector3d(std::sin(angle), 0.0, std::cos(angle))).norm() <= 4 * eps);
    const Vector3d out_of_plane = tilted_plane(0.0, angle).normal();
    CHECK((out_of_plane - Vector3d(0.0, -std::sin(angle), std::cos(angle))).norm() <= 4 * eps);
    CHECK(tilted_plane(0.0, 0.0).normal() == Vector3d::UnitZ());
}

TEST_CASE("a part at a displacement lies below the reference point, away from the sensor", "[target][unit]") {
    scenario::Scenario s;
    s.target.tilt = {30.0 * degree, 10.0 * degree};
    const target::Part plane = target::make_part(s, 3.0 * mm);
    // Where the beam's axis meets the plane: a few roundings of 50 mm.
    CHECK((plane.origin - Vector3d(0.0, 0.0, -3.0 * mm)).norm() <= 8 * eps * 50.0 * mm);
    const target::Part square = target::square_plane(3.0 * mm);
    CHECK(square.origin == Vector3d(0.0, 0.0, -3.0 * mm));
    CHECK(square.normal() == Vector3d::UnitZ());
}

TEST_CASE("a part turns about the lit point, whatever the angles of emitter and sensor", "[target][physics]") {
    scenario::Scenario s;
    s.emitter.angle = -15.0 * degree;
    s.mount.tilt = {7.0 * degree, -4.0 * degree};
    const emitter::Beam beam = emitter::make_beam(s);
    const auto lit = [&] {
        const target::Part plane = target::make_part(s, 3.0 * mm);
        const double along = target::meet(plane, {beam.face, beam.direction}).value().distance;
        return Vector3d(beam.face + along * beam.direction);
    };
    const Vector3d untilted = lit();
    for (const scenario::Pair tilt : {scenario::Pair{0.3, 0.0}, scenario::Pair{-0.4, 0.2}, scenario::Pair{0.0, -0.5}}) {
        s.target.tilt = tilt;
        CHECK((lit() - untilted).norm() <= 16 * eps * 50.0 * mm);
    }
}

TEST_CASE("tilting the sensor is tilting the part the other way, at the reference point", "[target][physics]") {
    for (const scenario::Pair tilt : {scenario::Pair{0.3, 0.0}, scenario::Pair{0.0, -0.2}}) {
        scenario::Scenario sensor;
        sensor.mount.tilt = tilt;
        scenario::Scenario part;
        part.target.tilt = {-tilt[0], -tilt[1]};
        CHECK((target::make_part(sensor, 0.0).normal() - target::make_part(part, 0.0).normal()).norm() <= 8 * eps);
    }
    scenario::Scenario both;
    both.mount.tilt = {0.3, -0.2};
    both.target.tilt = both.mount.tilt;
    CHECK((target::make_part(both, 0.0).normal() - Vector3d::UnitZ()).norm() <= 8 * eps);
}

TEST_CASE("a tilted sensor sees displacement longer by 1 / cos of its tilt", "[target][physics]") {
    scenario::Scenario s;
    s.mount.tilt = {8.0 * degree, 0.0};
    const emitter::Beam beam = emitter::make_beam(s);
    for (const double displacement : {-4.0 * mm, 0.0, 4.0 * mm}) {
        const auto distance = target::meet(target::make_part(s, displacement), {beam.face, beam.direction});
        REQUIRE(distance.has_value());
        const double expected = s.mount.reference_distance + displacement / std::cos(s.mount.tilt[0]);
        CHECK_THAT(distance->distance, WithinAbs(expected, 8 * eps * 50.0 * mm));
    }
}

TEST_CASE("a tilt of the part leaves the lit point of the axis where it was", "[target][physics]") {
    scenario::Scenario s;
    s.target.tilt = {25.0 * degree, -15.0 * degree};
    const emitter::Beam beam = emitter::make_beam(s);
    const auto distance = target::meet(target::make_part(s, 2.0 * mm), {beam.face, beam.direction});
    REQUIRE(distance.has_value());
    CHECK_THAT(distance->distance, WithinAbs(52.0 * mm, 8 * eps * 52.0 * mm));
}

TEST_CASE("Lambert's surface sends the published share of power into a round aperture", "[target][published]") {
    // rho = 0.8, aperture 8 mm at 60 mm, 30 deg from the normal. In q = sin^2 of the angle from the cone's axis the
    // solid angle times cosine is even, and any Gauss rule is exact.
    const target::Surface surface{0.8, 0.0};
    const double half_angle = std::atan(4.0 / 60.0);
    const Vector3d axis = direction(30.0 * degree, 0.0);
    const Vector3d first = Vector3d::UnitY();
    const Vector3d second = axis.cross(first);
    const auto share_of_ring = [&](double q) {
        constexpr int spokes = 16;
        const double cosine = std::sqrt(1.0 - q);
        double sum = 0.0;
        for (int k = 0; k < spokes; ++k) {
            const double azimuth = 2.0 * base::pi * k / spokes;
            const Vector3d view =
                cosine * axis + std::sqrt(q) * (std::cos(azimuth) * first + std::sin(azimuth) * second);
            sum += target::scatter(surface, Vector3d::UnitZ(), view, Vector3d::UnitZ()) * view.z();
        }
        return sum * 2.0 * base::pi / spokes / (2.0 * cosine);
    };
    const double share = integral(share_of_ring, 0.0, std::pow(std::sin(half_angle), 2));
    CHECK_THAT(share, WithinAbs(0.003065577, 0.5e-9));  // X4.01, X4.02
}

TEST_CASE("Oren-Nayar's reflectance distribution is the published one", "[target][published]") {
    const target::Surface surface{0.8, 20.0 * degree};
    const Vector3d up = Vector3d::UnitZ();
    // Straight down and up again only A is left.
    CHECK_THAT(target::scatter(surface, up, up, up) * base::pi / 0.8, WithinAbs(0.8651679, 0.5e-7));  // X4.03
    const Vector3d light = direction(30.0 * degree, 0.0);
    const double same_side = target::scatter(surface, light, direction(45.0 * degree, 0.0), up);
    const double far_side = target::scatter(surface, light, direction(45.0 * degree, 180.0 * degree), up);
    CHECK_THAT(same_side, WithinAbs(0.2472205, 0.5e-7));  // X4.05
    CHECK_THAT(far_side, WithinAbs(0.2203132, 0.5e-7));   // X4.06
    // sin(alpha) tan(beta) = sin 45 tan 30 turns the difference into B; the rounding of 4 operations is on top.
    const double b = (same_side - far_side) * base::pi / 0.8 / (std::sin(45.0 * degree) * std::tan(30.0 * degree));
    CHECK_THAT(b, WithinAbs(0.2588243, 0.5e-7));  // X4.04
}

TEST_CASE("without slopes Oren-Nayar's surface is Lambert's", "[target][unit]") {
    const target::Surface surface{0.5, 0.0};
    const Vector3d up = Vector3d::UnitZ();
    for (std::int64_t draw = 0; draw < 40; draw += 2) {
        const Vector3d view = direction(uniform(draw) * 89.0 * degree, uniform(draw + 1) * 2.0 * base::pi);
        CHECK(target::scatter(surface, direction(0.4, 1.0), view, up) == 0.5 / base::pi);
    }
    // and slopes that vanish lead to it: A - 1 and B are of the order of their square.
    const double nearly = target::scatter({0.5, 1e-6}, direction(0.4, 0.0), direction(0.8, 0.0), up);
    CHECK_THAT(nearly, WithinRel(0.5 / base::pi, 1e-11));
}

TEST_CASE("nothing scatters below the horizon", "[target][unit]") {
    const target::Surface surface{0.8, 20.0 * degree};
    const Vector3d up = Vector3d::UnitZ();
    CHECK(target::scatter(surface, direction(91.0 * degree, 0.0), up, up) == 0.0);
    CHECK(target::scatter(surface, up, direction(91.0 * degree, 0.0), up) == 0.0);
}

TEST_CASE("every library material scatters alike when light and view are exchanged", "[target][physics]") {
    for (const std::string& name : scenario::material_names()) {
        const target::Surface surface = target::make_surface(scenario::library_material(name), 655.0 * nm);
        for (std::int64_t draw = 0; draw < 400; draw += 4) {
            const Vector3d light = direction(uniform(draw) * 89.0 * degree, uniform(draw + 1) * 2.0 * base::pi);
            const Vector3d view = direction(uniform(draw + 2) * 89.0 * degree, uniform(draw + 3) * 2.0 * base::pi);
            const double forth = target::scatter(surface, light, view, Vector3d::UnitZ());
            const double back = target::scatter(surface, view, light, Vector3d::UnitZ());
            // A glossy lobe is an exponential of up to some hundreds: its argument's rounding is magnified as much.
            CHECK(std::abs(forth - back) <= (surface.gloss ? 1e-12 : 8 * eps) * back);
            if (!surface.gloss) CHECK(forth > 0.0);
        }
    }
}

TEST_CASE("the hemispherical albedo of the scatter is its closed form", "[target][physics]") {
    // Gauss-Legendre of 30 points twice on smooth pieces: rounding of some 4000 terms.
    for (const double slope : {0.0, 5.0 * degree, 15.0 * degree, 40.0 * degree}) {
        for (const double incidence : {5.0 * degree, 30.0 * degree, 60.0 * degree, 85.0 * degree}) {
            const target::Surface surface{0.9, slope};
            CHECK_THAT(albedo(surface, incidence), WithinRel(albedo_closed_form(surface, incidence), 4000 * eps));
        }
    }
}

TEST_CASE("no matt library material sends back more than its reflectance, up to 60 deg of incidence",
          "[target][physics]") {
    for (const std::string& name : scenario::material_names()) {
        const target::Surface surface = target::make_surface(scenario::library_material(name), 655.0 * nm);
        if (surface.gloss) continue;
        for (std::int64_t draw = 0; draw < 50; ++draw) {
            const double incidence = uniform(draw) * 60.0 * degree;
            CHECK(albedo(surface, incidence) <= surface.reflectance * (1.0 + 4000 * eps));
        }
    }
}

TEST_CASE("at grazing incidence Oren-Nayar's short form overshoots the reflectance by at most 1.52 %",
          "[target][physics]") {
    // Known limit of the published short form: A + B/2 at 90 deg has its maximum 1.01519 at s^2 = 0.0394 rad^2, a
    // slope deviation of 11.4 deg. See docs/theory/target.md, eq. (target.9).
    double largest = 0.0;
    for (double slope = 0.0; slope <= 45.0; slope += 0.5) {
        for (double incidence = 0.5; incidence < 90.0; incidence += 0.5) {
            const target::Surface surface{1.0, slope * degree};
            const double share = albedo_closed_form(surface, incidence * degree);
            largest = std::max(largest, share);
            if (incidence <= 60.0) CHECK(share <= 1.0 + 8 * eps);
        }
    }
    CHECK(largest <= 1.0152);
    CHECK(largest > 1.01);
    for (const std::string& name : scenario::material_names()) {
        const target::Surface surface = target::make_surface(scenario::library_material(name), 655.0 * nm);
        if (surface.gloss) continue;
        for (std::int64_t draw = 0; draw < 20; ++draw) {
            const double share = albedo(surface, (60.0 + 29.0 * uniform(draw)) * degree);
            CHECK(share <= 1.0152 * surface.reflectance);
            CHECK(share < 1.0);
        }
    }
}

TEST_CASE("a rough matt surface sends more light back towards the lamp than away from it", "[target][physics]") {
    const target::Surface surface{0.5, 15.0 * degree};
    const Vector3d light = direction(40.0 * degree, 0.0);
    CHECK(target::scatter(surface, light, direction(40.0 * degree, 0.0), Vector3d::UnitZ()) >
          target::scatter(surface, light, direction(40.0 * degree, base::pi), Vector3d::UnitZ()));
}

TEST_CASE("the white tile reflects 0.85 and a black anodised part is bright in the near infrared", "[target][unit]") {
    const scenario::Material tile = scenario::library_material("white-ceramic");
    CHECK(target::make_surface(tile, 655.0 * nm).reflectance == 0.85);
    const scenario::Material anodised = scenario::library_material("black-anodised-aluminium");
    CHECK(target::make_surface(anodised, 655.0 * nm).reflectance < 0.08);
    CHECK(target::make_surface(anodised, 850.0 * nm).reflectance >
          5.0 * target::make_surface(anodised, 655.0 * nm).reflectance);
}

TEST_CASE("a material gives no reflectance outside the wavelengths it was told", "[target][unit]") {
    const scenario::Material card = scenario::library_material("grey-card");
    CHECK_NOTHROW(target::make_surface(card, 700.0 * nm));
    CHECK_THROWS_AS(target::make_surface(card, 850.0 * nm), base::DomainError);
}
