// Where a moving part is, and what of it lies under the beam.
#include <catch2/catch.hpp>

#include <chrono>
#include <cmath>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/motion.hpp"
#include "sim/measure/moving_response.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

constexpr double rounding = 1e-12;

scenario::Scenario cylinder(scenario::Direction axis) {
    scenario::Scenario s;
    s.target.shape = scenario::ShapeKind::cylinder;
    s.target.cylinder.axis = axis;
    s.target.cylinder.radius = 12.0 * mm;
    s.target.displacement = 0.3 * mm;
    s.motion.rotation = 7.0;
    s.motion.eccentricity = 0.8 * mm;
    s.motion.eccentricity_angle = 0.4;
    return s;
}

double share_of_all(const std::vector<measure::PieceShare>& lit) {
    return std::accumulate(lit.begin(), lit.end(), 0.0, [](double sum, const auto& l) { return sum + l.share; });
}

}  // namespace

TEST_CASE("a part without motion stays where it stands", "[motion][unit]") {
    scenario::Scenario s;
    s.target.displacement = 0.7 * mm;
    CHECK_FALSE(measure::moves(s));
    CHECK_FALSE(measure::is_moving_series(s));
    for (const double time : {0.0, 1.0, 1e6}) {
        const measure::PartState place = measure::part_state_at(s, time);
        CHECK(place.along == 0.7 * mm);
        CHECK(place.passed == Eigen::Vector2d(0.0, 0.0));
    }
}

TEST_CASE("speed, vibration and path add up", "[motion][unit]") {
    scenario::Scenario s;
    s.target.displacement = 1.0 * mm;
    s.motion.along = 2.0 * mm;
    s.motion.across = {3.0 * mm, -4.0 * mm};
    s.motion.vibration = 0.1 * mm;
    s.motion.vibration_frequency = 50.0;
    s.motion.places = {{0.0, 1.0}, {0.0, 5.0 * mm}, {0.0, 10.0 * mm}};
    s.target.segments.start = 1.0 * mm;
    const measure::PartState place = measure::part_state_at(s, 0.105);
    const double vibration = 0.1 * mm * std::sin(2.0 * pi * 50.0 * 0.105);
    CHECK(place.along == Approx(1.0 * mm + 0.21 * mm + vibration + 0.525 * mm).epsilon(rounding));
    CHECK(place.across.x() == Approx(0.315 * mm + 1.05 * mm).epsilon(rounding));
    CHECK(place.across.y() == Approx(-0.42 * mm).epsilon(rounding));
    // The pieces go by with the motion across: 5 mm/s, and the share of the path that runs along it.
    CHECK(place.way == Approx(1.0 * mm + 0.525 * mm + 0.6 * 1.05 * mm).epsilon(rounding));
}

TEST_CASE("an eccentric shaft stands where the exact law of its radius says", "[motion][unit]") {
    for (const auto axis : {scenario::Direction::across, scenario::Direction::parallel}) {
        const scenario::Scenario s = cylinder(axis);
        const measure::MovedPart part(s);
        for (const double time : {0.0, 0.013, 0.05, 0.11, 3.021}) {
            const measure::PartState place = measure::part_state_at(s, time);
            const double phi = 2.0 * pi * 7.0 * time + 0.4;
            const double e = s.motion.eccentricity;
            const double big = s.target.cylinder.radius;
            const double r = e * std::cos(phi) + std::sqrt(big * big - std::pow(e * std::sin(phi), 2.0));
            const auto lit = part.lit_displacement(place.along, part.offset_at(place));
            REQUIRE(lit);
            CHECK(*lit == Approx(0.3 * mm - (r - big)).margin(1e-9 * mm));  // rounding of a ray that meets a cylinder
        }
    }
}

TEST_CASE("a positive rotation carries the high spot towards x, or y of a shaft that lies across", "[motion][unit]") {
    scenario::Scenario s = cylinder(scenario::Direction::across);
    s.motion.eccentricity_angle = 0.0;
    const double quarter = 0.25 / s.motion.rotation;
    CHECK(measure::part_state_at(s, 0.0).along == Approx(0.3 * mm - 0.8 * mm));  // nearest where it is high
    CHECK(measure::part_state_at(s, quarter).across.x() == Approx(0.8 * mm));
    CHECK(measure::part_state_at(s, quarter).passed.x() > 0.0);
    s.target.cylinder.axis = scenario::Direction::parallel;
    CHECK(measure::part_state_at(s, quarter).across.y() == Approx(0.8 * mm));
    s.motion.rotation = -s.motion.rotation;
    CHECK(measure::part_state_at(s, quarter).across.y() == Approx(-0.8 * mm));
}

TEST_CASE("a moved part is the scenario's with its position moved", "[motion][unit]") {
    for (const auto edge : {scenario::Direction::across, scenario::Direction::parallel}) {
        scenario::Scenario s;
        s.target.shape = scenario::ShapeKind::step;
        s.target.step.edge = edge;
        s.target.step.position = 0.2 * mm;
        s.target.tilt = {10.0 * degree, -5.0 * degree};
        s.mount.tilt = {3.0 * degree, 1.0 * degree};
        s.emitter.angle = -5.0 * degree;
        const measure::MovedPart part(s);
        measure::PartState place;
        place.along = 1.5 * mm;
        place.across =
            edge == scenario::Direction::across ? Eigen::Vector2d(0.3 * mm, 0.0) : Eigen::Vector2d(0.0, 0.3 * mm);
        const target::Part moved = part.at(place.along, part.offset_at(place));
        s.target.step.position += 0.3 * mm;
        const target::Part expected = sensor::part_of(s, 1.5 * mm);
        CHECK((moved.origin - expected.origin).norm() < 1e-9 * mm);  // rounding of lengths of 50 mm
        CHECK((moved.axes - expected.axes).norm() < rounding);
        const auto truth = sensor::lit_displacement(s, 1.5 * mm);
        REQUIRE(truth);
        CHECK(part.lit_displacement(place.along, part.offset_at(place)).value() == Approx(*truth).margin(1e-9 * mm));
    }
}

TEST_CASE("pieces come one after the other, over and over, and before time 0 as well", "[motion][unit]") {
    scenario::Segments segments;
    segments.length = {1.0, 2.0, 3.0};
    for (const double turn : {-12.0, -6.0, 0.0, 6.0, 600.0}) {
        CHECK(measure::piece_at(segments, turn + 0.5) == 0);
        CHECK(measure::piece_at(segments, turn + 2.9) == 1);
        CHECK(measure::piece_at(segments, turn + 5.9) == 2);
    }
}

TEST_CASE("the beam's shares of the pieces make up the beam", "[motion][unit]") {
    scenario::Segments segments;
    segments.length = {1.0 * mm, 2.0 * mm};
    for (double way = -4.0 * mm; way < 4.0 * mm; way += 0.13 * mm) {
        for (const double radius : {0.001 * mm, 0.1 * mm, 0.9 * mm, 2.0 * mm, 50.0 * mm}) {
            CHECK(share_of_all(measure::lit_segments(segments, way, radius)) == Approx(1.0).epsilon(rounding));
        }
    }
    const auto border = measure::lit_segments(segments, 1.0 * mm, 0.1 * mm);
    REQUIRE(border.size() == 2);
    CHECK(border[0].share == Approx(0.5).epsilon(1e-9));
    CHECK(measure::lit_segments(segments, 0.5 * mm, 0.1 * mm).size() == 1);
    // A Gaussian has 2.3 % of its power beyond one 1/e^2 radius on one side.
    const auto beside = measure::lit_segments(segments, 0.9 * mm, 0.1 * mm);
    REQUIRE(beside.size() == 2);
    CHECK(beside[1].share == Approx(0.5 * std::erfc(std::sqrt(2.0))).epsilon(1e-9));
    const auto wide = measure::lit_segments(segments, 0.2 * mm, 100.0 * mm);
    CHECK(wide[0].share == Approx(1.0 / 3.0).epsilon(1e-9));
}

TEST_CASE("pieces of a millionth of the beam take no time", "[motion][unit]") {
    scenario::Segments segments;
    segments.length.assign(64, 1e-12);
    const auto begin = std::chrono::steady_clock::now();
    CHECK(measure::lit_segments(segments, 1e3, 1.0 * mm).size() == 64);
    CHECK(std::chrono::steady_clock::now() - begin < std::chrono::milliseconds(100));
}

TEST_CASE("the bandwidth is where exposure and average together pass 1/sqrt 2", "[motion][unit]") {
    for (const double exposure : {1.0 * us, 60.0 * us, 125.0 * us}) {
        for (const std::int64_t average : {1, 2, 16, 1000}) {
            const double f = measure::bandwidth(exposure, average, 125.0 * us);
            CHECK(measure::exposure_response(f, exposure) * measure::average_response(f, average, 125.0 * us) ==
                  Approx(std::sqrt(0.5)).epsilon(1e-9));
            CHECK(f < measure::bandwidth(0.5 * exposure, average, 125.0 * us));
        }
    }
    CHECK(measure::average_response(1.0 / (125.0 * us), 16, 125.0 * us) == Approx(1.0));  // as no motion at all
}
