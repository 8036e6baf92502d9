// What varies over a surface: patterns, random brightness, feed marks.
#include <catch2/catch.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/markings.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/target/markings.hpp"
#include "sim/target/part.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um;
using Eigen::Vector2d, Eigen::Vector3d;
using target::coverage;

namespace {

// Mean coverage over a square of whole periods, at places of a fine grid that no border follows.
double covered_share(const target::Pattern& pattern, double side) {
    constexpr int steps = 801;
    double sum = 0.0;
    for (int i = 0; i < steps; ++i) {
        for (int k = 0; k < steps; ++k) {
            sum += coverage(pattern, Vector2d((i + 0.37) / steps - 0.5, (k + 0.41) / steps - 0.5) * side);
        }
    }
    return sum / (steps * steps);
}

}  // namespace

TEST_CASE("bars, dots, hatching, weave and patches cover the share of the surface that is asked for", "[target]") {
    // The grid counts each border to a step of 1/801 of two periods: bars have four borders on it.
    constexpr double grid = 0.006;
    for (const double softness : {0.0, 0.1}) {
        CHECK(std::abs(covered_share(target::Bars{1.0, 0.3, softness}, 2.0) - 0.3) < grid);
        const double radius = std::sqrt(0.3 / base::pi);
        CHECK(std::abs(covered_share(target::Dots{1.0, radius, 0.0}, 2.0) - 0.3) < grid);
        const double width = 1.0 - std::sqrt(0.7);
        CHECK(std::abs(covered_share(target::Hatching{{1.0, width, 0.0}}, 2.0) - 0.3) < grid);
        CHECK(std::abs(covered_share(target::Weave{1.0, softness}, 2.0) - 0.5) < grid);
        CHECK(std::abs(covered_share(target::Patch{{0.5, 0.25}, softness}, 2.0) - 0.125) < grid);
    }
}

TEST_CASE("a soft border rises evenly, and half way up stands where the hard one does", "[target]") {
    const target::Pattern soft = target::Border{0.2};
    CHECK(coverage(soft, {-0.11, 5.0}) == 0.0);
    CHECK(coverage(soft, {0.0, 5.0}) == Approx(0.5));
    CHECK(coverage(soft, {0.05, -5.0}) == Approx(0.75));
    CHECK(coverage(soft, {0.11, 0.0}) == 1.0);
    const target::Pattern hard = target::Border{};
    CHECK(coverage(hard, {-1e-12, 0.0}) == 0.0);
    CHECK(coverage(hard, {1e-12, 0.0}) == 1.0);
}

TEST_CASE("the strips of all segments leave each place bare exactly once", "[target]") {
    const std::array<target::AllBut, 3> strips{{{0.0, 0.5, 2.0}, {0.5, 1.75, 2.0}, {1.75, 2.0, 2.0}}};
    base::RandomSequence random({8, base::Stream::ray}, 0);
    for (int i = 0; i < 1000; ++i) {
        const Vector2d place(20.0 * random.uniform() - 10.0, random.uniform());
        double bare = 0.0;
        for (const target::AllBut& strip : strips) bare += 1.0 - coverage(strip, place);
        CHECK(bare == 1.0);
    }
}

TEST_CASE("no pattern covers less than nothing or more than all", "[target]") {
    base::RandomSequence random({7, base::Stream::ray}, 0);
    scenario::CoverageMap map;
    map.columns = 3;
    map.rows = 2;
    map.covered = {0.0, 1.0, 0.5, 1.0, 0.0, 0.25};
    for (const target::Pattern& pattern :
         std::array<target::Pattern, 5>{target::Grain{1.0, 0.4}, target::Grain{1.0, 0.0}, target::Weave{1.0, 0.3},
                                        target::Dots{1.0, 0.5, 0.4}, target::Picture{map, 0.5}}) {
        for (int i = 0; i < 1000; ++i) {
            const double c = coverage(pattern, Vector2d(random.uniform() - 0.5, random.uniform() - 0.5) * 40.0);
            CHECK((c >= 0.0 && c <= 1.0));
        }
    }
}

TEST_CASE("a picture stands upright about its middle, black is covered, and its rim goes on", "[target][scenario]") {
    const scenario::CoverageMap map = scenario::parse_picture("P2 # grey\n2 2\n10\n0 10\n5 10\n", "t.pgm");
    const target::Pattern picture = target::Picture{map, 1.0};
    CHECK(coverage(picture, {-0.5, 0.5}) == Approx(1.0));   // top left: black
    CHECK(coverage(picture, {-0.5, -0.5}) == Approx(0.5));  // below it: grey
    CHECK(coverage(picture, {0.5, 0.5}) == Approx(0.0));
    CHECK(coverage(picture, {0.0, 0.0}) == Approx(0.375));  // bilinear
    CHECK(coverage(picture, {-99.0, 0.5}) == Approx(1.0));
    const std::string bytes("P5\n2 1\n65535\n\x00\x00\xff\xff", 17);
    const scenario::CoverageMap fine = scenario::parse_picture(bytes, "t.pgm");
    CHECK(fine.covered == std::vector<double>{1.0, 0.0});
}

TEST_CASE("what is no picture is rejected with its reason", "[target][scenario]") {
    for (const auto& [text, reason] :
         std::array<std::pair<std::string, std::string>, 7>{{{"", "not a PGM image"},
                                                             {"P6 1 1 255 a", "not a PGM image"},
                                                             {"P2 0 1 255", "its width is 0"},
                                                             {"P2 9999999 9999999 255 0", "its height is 9999999"},
                                                             {"P2 1 1 255 256", "its pixel is 256"},
                                                             {"P2 2 1 255 1", "no number for its pixel"},
                                                             {"P5 2 2 255 a", "ends after 1 of 4 bytes"}}}) {
        INFO(text);
        CHECK_THROWS_WITH(scenario::parse_picture(text, "t.pgm"), Catch::Contains(reason));
    }
}

TEST_CASE("brightness is the sum of its waves' cosines", "[target][unit]") {
    const target::Texture texture = target::make_texture(0.2, 50.0 * um, 7);
    REQUIRE(texture.phase.size() == 64);
    // From the lit point to 10 m beside it, to either side.
    for (const double x : {0.0, 1e-6, -3e-5, 0.01, -10.0}) {
        for (const double y : {0.0, -2e-6, 4e-4, 7.0}) {
            double sum = 0.0;
            for (std::size_t i = 0; i < texture.phase.size(); ++i) {
                sum +=
                    std::cos(2.0 * base::pi * (texture.number_x[i] * x + texture.number_y[i] * y + texture.phase[i]));
            }
            const double expected = std::max(0.0, 1.0 + 0.2 * std::sqrt(2.0 / 64.0) * sum);
            // The series ends at 6e-12; 10 m are 1e6 turns, which a double tells apart by 1e-10.
            CHECK(std::abs(target::brightness(texture, {x, y}) - expected) <
                  (std::abs(x) < 1.0 && y < 1.0 ? 1e-10 : 1e-8));
        }
    }
}

TEST_CASE("random brightness has the deviation and the correlation that are asked for", "[target]") {
    // Over 400 surfaces at one pair of places each: the sample's deviation errs by 1 / sqrt(800) = 3.5 %, its
    // correlation by (1 - r^2) / 20 = 3 to 5 %; three of each are allowed.
    constexpr double length = 100.0 * um;
    constexpr int surfaces = 400;
    for (const double distance : {0.0, 60.0 * um, 120.0 * um}) {
        double square = 0.0;
        double product = 0.0;
        for (int seed = 1; seed <= surfaces; ++seed) {
            const target::Texture texture = target::make_texture(0.1, length, static_cast<std::uint64_t>(seed));
            const double a = target::brightness(texture, {3.0 * mm, -1.0 * mm}) - 1.0;
            const double b = target::brightness(texture, {3.0 * mm + 0.6 * distance, -1.0 * mm + 0.8 * distance}) - 1.0;
            square += a * a / surfaces;
            product += a * b / surfaces;
        }
        CHECK(std::abs(std::sqrt(square) / 0.1 - 1.0) < 0.11);
        CHECK(std::abs(product / square - std::exp(-std::pow(distance / length, 2.0))) < 0.15);
    }
}

TEST_CASE("feed marks are as deep as textbooks of turning say, level on the whole, and repeat", "[target]") {
    // R_t = f^2 / (8 r), from memory: 0.1 mm and 0.8 mm give 1.5625 um.
    const target::FeedMarks marks{0.1 * mm, 0.8 * mm};
    const double crest = target::groove_at(marks, 0.05 * mm * (1.0 - 1e-12)).height;
    CHECK(crest - target::groove_at(marks, 0.0).height == Approx(1.5625 * um));
    double mean = 0.0;
    constexpr int steps = 1000;
    for (int i = 0; i < steps; ++i) mean += target::groove_at(marks, (i + 0.5) / steps * marks.spacing).height / steps;
    CHECK(std::abs(mean) < 1e-6 * crest);  // the midpoint rule of a parabola errs by 1e-6 of it
    CHECK(target::groove_at(marks, 0.02 * mm).slope == Approx(0.025));
    CHECK(target::groove_at(marks, 1.02 * mm).slope == Approx(0.025));
}

TEST_CASE("a place on feed marks stands at the height of its groove, its normal square to the flank", "[target]") {
    // The flank between two places 0.2 um apart: its direction errs by 1e-4 of the slope's change, and the normal's
    // first order by the square of the slope, 4e-4.
    for (const double turn : {0.0, 50.0 * base::degree}) {
        target::Markings markings;
        markings.feed_marks = target::FeedMarks{0.1 * mm, 0.8 * mm};
        markings.feed_axes.turn = turn;
        const Vector3d feed(std::cos(turn), std::sin(turn), 0.0);
        const auto at = [&](double x) {
            return target::on_feed_marks(markings, x * feed, Vector3d::UnitZ(), Vector3d::UnitZ());
        };
        for (const double x : {-0.03 * mm, 0.02 * mm}) {
            CHECK(at(x).place.z() == Approx(target::groove_at(*markings.feed_marks, x).height));
            const Vector3d flank = (at(x + 0.1 * um).place - at(x - 0.1 * um).place).normalized();
            CHECK(std::abs(flank.dot(at(x).normal)) < 1e-3);
            CHECK(std::abs(flank.z()) > 0.02);  // it leans, or the claim would be empty
        }
    }
}

TEST_CASE("a block is met on its top, on the walls that face the light, and around it on the plane", "[target]") {
    const target::Shape block = target::Block{{1.0, 2.0}, 0.5};
    const auto down = [&](double x, double y) { return target::meet(block, {{x, y, 10.0}, {0.0, 0.0, -1.0}}, 0.0); };
    CHECK(down(0.9, 1.9)->distance == Approx(9.5));
    CHECK(down(1.1, 0.0)->distance == Approx(10.0));
    CHECK(down(0.0, -2.1)->distance == Approx(10.0));
    // At 45 degrees from the right: it meets the wall x = 1 half way up.
    const auto wall = target::meet(block, {{2.0, 0.0, 1.25}, Vector3d(-1.0, 0.0, -1.0).normalized()}, 0.0);
    CHECK(wall->normal == Vector3d(1.0, 0.0, 0.0));
    CHECK(wall->distance == Approx(std::sqrt(2.0)));
    // From a place beside it the block hides what lies behind.
    CHECK(target::meet(block, {{2.0, 0.0, 0.0}, Vector3d(-1.0, 0.0, 0.1).normalized()}, 1e-11).has_value());
    CHECK_FALSE(target::meet(block, {{2.0, 0.0, 0.0}, Vector3d(-1.0, 0.0, 0.6).normalized()}, 1e-11).has_value());
    CHECK(target::hides_itself(block));
}

TEST_CASE("a pattern is part of the part: it goes and turns with it", "[target]") {
    const auto part_at = [](const std::vector<std::string>& more, double displacement) {
        std::vector<std::string> settings{"target.pattern.kind=border", "target.pattern.material=black-rubber",
                                          "target.pattern.position_mm=[0.1, 0]"};
        settings.insert(settings.end(), more.begin(), more.end());
        const scenario::Scenario s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\n", "t", settings);
        return support::part_of(s, displacement);
    };
    const auto covered = [](const target::Part& part, const Vector3d& on_part) {
        return target::weight_at(*part.markings, target::Zone::covered, part.origin + part.axes * on_part);
    };
    for (const double displacement : {0.0, 2.0 * mm}) {
        const target::Part tilted = part_at({"target.tilt_deg=[20, 10]", "mount.tilt_deg=[5, 3]"}, displacement);
        CHECK(covered(tilted, {0.11 * mm, 3.0 * mm, 0.0}) == 1.0);
        CHECK(covered(tilted, {0.09 * mm, -3.0 * mm, 0.0}) == 0.0);
        const target::Part turned = part_at({"target.pattern.turn_deg=90"}, displacement);
        CHECK(covered(turned, {-5.0 * mm, 0.01 * mm, 0.0}) == 1.0);  // its origin lies at y = 0
        CHECK(covered(turned, {5.0 * mm, -0.01 * mm, 0.0}) == 0.0);
    }
}
