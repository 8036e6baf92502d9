// Where the beam lands.
//
// "Published" rows are check values of textbook and published formulas, computed apart from this program; their
// tolerance is half of the last printed digit.
#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

#include <Eigen/Geometry>

#include "sim/emitter/beam.hpp"
#include "sim/target/footprint.hpp"
#include "sim/target/part.hpp"
#include "tests/support/light.hpp"
#include "tests/support/stations.hpp"

namespace {

using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using namespace spotwright;
using base::degree, base::mm, base::um;
using Eigen::Vector3d;
using test::eps, test::example_scenario, test::uniform;

// A footprint as points, each with its share of the power: rays of the beam on a regular grid over +-`beam_reach`
// radii.
struct Node {
    double offset;  // in 1/e^2 radii
    double weight;
};

std::vector<Node> gaussian_nodes(int count) {
    std::vector<Node> nodes;
    const double spacing = 2.0 * target::beam_reach / count;
    double sum = 0.0;
    for (int i = 0; i < count; ++i) {
        const double offset = (i + 0.5) * spacing - target::beam_reach;
        nodes.push_back({offset, std::exp(-2.0 * offset * offset)});
        sum += nodes.back().weight;
    }
    for (Node& node : nodes) node.weight /= sum;
    return nodes;
}

std::vector<target::LitPoint> strike(const emitter::Beam& beam, const target::Part& part, int columns, int rows) {
    std::vector<target::LitPoint> points;
    const auto on_axis = target::meet(part, {beam.face, beam.direction});
    if (!on_axis) return points;
    for (const Node& column : gaussian_nodes(columns)) {
        for (const Node& row : gaussian_nodes(rows)) {
            const emitter::BeamRay ray = emitter::ray_from_face(beam, on_axis->distance, {column.offset, row.offset});
            const auto hit = target::meet(part, ray);
            if (!hit) continue;
            points.push_back({ray.origin + hit->distance * ray.direction, -ray.direction, hit->normal,
                              beam.power * column.weight * row.weight});
        }
    }
    return points;
}

// The grid of nodes ends at 2.6 radii: the variance it gives a Gaussian is short by 2 c phi(c) = 5.6e-6 of itself,
// c = 5.2 standard deviations, and the power it scales up is short by 2e-7.
constexpr double cut_of_variance = 6e-6;
constexpr double cut_of_power = 4e-7;

target::Part tilted_plane(double in_plane, double out_of_plane = 0.0) {
    scenario::Scenario s;
    s.target.tilt = {in_plane, out_of_plane};
    return support::part_of(s, 0.0);
}

// The beam's waist 5 mm before the plane: it diverges where it lands.
emitter::Beam diverging_beam() {
    scenario::Scenario s = example_scenario();
    s.emitter.waist_displacement = -5.0 * mm;
    return support::beam_of(s);
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

}  // namespace

TEST_CASE("the footprint holds the whole power of the beam, at any tilt", "[target][physics]") {
    const emitter::Beam beam = diverging_beam();
    for (std::int64_t draw = 0; draw < 200; draw += 2) {
        const target::Part plane =
            tilted_plane((2.0 * uniform(draw) - 1.0) * 80.0 * degree, (2.0 * uniform(draw + 1) - 1.0) * 60.0 * degree);
        const std::vector<target::LitPoint> points = strike(beam, plane, 48, 12);
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
    const emitter::Beam beam = support::beam_of(example_scenario());
    const target::Part plane = tilted_plane(40.0 * degree);
    const std::vector<target::LitPoint> points = strike(beam, plane, 48, 12);
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
    const Moments m = moments_of(strike(beam, target::square_plane(1.0 * mm), 48, 48));
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
    const Moments m = moments_of(strike(beam, plane, 192, 48));
    const double shift = m.mean.dot(Vector3d::UnitY().cross(plane.normal()));
    CHECK_THAT(shift, WithinRel(flux.shift, 1.1e-5 + cut_of_variance));
    CHECK(m.mean.x() > 0.0);  // the normal leans to +x, where the plane is farther away and the beam wider

    const Moments opposite = moments_of(strike(beam, tilted_plane(-tilt), 192, 48));
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
    const emitter::Beam beam = support::beam_of(example_scenario());
    const Moments m = moments_of(strike(beam, tilted_plane(40.0 * degree), 192, 48));
    CHECK(m.mean.head<2>().norm() <= 192 * 48 * eps * 25.0 * um + 8 * eps * 50.0 * mm);
}

TEST_CASE("a beam that misses the plane or meets its back lights nothing", "[target][unit]") {
    const emitter::Beam beam = support::beam_of(example_scenario());
    CHECK(strike(beam, target::plane_through(Vector3d::Zero(), -Vector3d::UnitZ()), 48, 12).empty());
    CHECK(strike(beam, target::plane_through(Vector3d::Zero(), Vector3d::UnitX()), 48, 12).empty());
    CHECK(strike(beam, target::square_plane(-60.0 * mm), 48, 12).empty());  // behind the emitter face
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
    const target::Part plane = support::part_of(s, 3.0 * mm);
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
    const emitter::Beam beam = support::beam_of(s);
    const auto lit = [&] {
        const target::Part plane = support::part_of(s, 3.0 * mm);
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
        CHECK((support::part_of(sensor, 0.0).normal() - support::part_of(part, 0.0).normal()).norm() <= 8 * eps);
    }
    scenario::Scenario both;
    both.mount.tilt = {0.3, -0.2};
    both.target.tilt = both.mount.tilt;
    CHECK((support::part_of(both, 0.0).normal() - Vector3d::UnitZ()).norm() <= 8 * eps);
}

TEST_CASE("a tilted sensor sees displacement longer by 1 / cos of its tilt", "[target][physics]") {
    scenario::Scenario s;
    s.mount.tilt = {8.0 * degree, 0.0};
    const emitter::Beam beam = support::beam_of(s);
    for (const double displacement : {-4.0 * mm, 0.0, 4.0 * mm}) {
        const auto distance = target::meet(support::part_of(s, displacement), {beam.face, beam.direction});
        REQUIRE(distance.has_value());
        const double expected = s.mount.reference_distance + displacement / std::cos(s.mount.tilt[0]);
        CHECK_THAT(distance->distance, WithinAbs(expected, 8 * eps * 50.0 * mm));
    }
}

TEST_CASE("a tilt of the part leaves the lit point of the axis where it was", "[target][physics]") {
    scenario::Scenario s;
    s.target.tilt = {25.0 * degree, -15.0 * degree};
    const emitter::Beam beam = support::beam_of(s);
    const auto distance = target::meet(support::part_of(s, 2.0 * mm), {beam.face, beam.direction});
    REQUIRE(distance.has_value());
    CHECK_THAT(distance->distance, WithinAbs(52.0 * mm, 8 * eps * 52.0 * mm));
}
