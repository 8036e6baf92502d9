// Cutting off at a box, free places on a page, hatching, and cuts through parts before they are drawn.
#include <catch2/catch.hpp>

#include <array>
#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/cross_section.hpp"
#include "sim/drawing/hatching.hpp"
#include "sim/drawing/page_clip.hpp"
#include "sim/drawing/page_view.hpp"

namespace {

using namespace spotwright;
using base::mm;
using drawing::Box, drawing::Vector2;
using Eigen::Vector2d, Eigen::Vector3d;

const Box box{0.0, 0.0, 10.0, 6.0};

double area_of(const std::vector<Vector2>& corners) {
    double twice = 0.0;
    for (std::size_t i = 0; i < corners.size(); ++i) {
        const Vector2& a = corners[i];
        const Vector2& b = corners[(i + 1) % corners.size()];
        twice += a.x() * b.y() - a.y() * b.x();
    }
    return 0.5 * std::abs(twice);
}

}  // namespace

TEST_CASE("a line is cut off at both edges of a box, or left out", "[record][drawing]") {
    const auto kept = drawing::clip_line({-5.0, -2.0}, {15.0, 8.0}, box);
    REQUIRE(kept);
    CHECK(((*kept)[0] - Vector2(0.0, 0.5)).norm() < 1e-12);
    CHECK(((*kept)[1] - Vector2(10.0, 5.5)).norm() < 1e-12);
    CHECK_FALSE(drawing::clip_line({-1.0, 5.0}, {2.0, 9.0}, box));  // past the corner
    CHECK_FALSE(drawing::clip_line({11.0, 1.0}, {11.0, 5.0}, box));
}

TEST_CASE("a closed line stays closed within the box and comes apart at its edges", "[record][drawing]") {
    const std::array square{Vector2(2.0, 2.0), Vector2(8.0, 2.0), Vector2(8.0, 4.0), Vector2(2.0, 4.0)};
    const auto whole = drawing::clip_polyline(square, true, box);
    REQUIRE(whole.size() == 1);
    CHECK(whole[0].closed);
    CHECK(whole[0].points.size() == 4);

    // Its right side stands outside; the seam, at the first point, is none of the ends.
    const auto open = drawing::clip_polyline(square, true, {0.0, 0.0, 7.0, 6.0});
    REQUIRE(open.size() == 1);
    CHECK_FALSE(open[0].closed);
    REQUIRE(open[0].points.size() == 4);
    CHECK((open[0].points.front() - Vector2(7.0, 4.0)).norm() < 1e-12);
    CHECK((open[0].points.back() - Vector2(7.0, 2.0)).norm() < 1e-12);

    const std::array wave{Vector2(0.0, 5.0), Vector2(2.0, 8.0), Vector2(4.0, 5.0), Vector2(6.0, 5.0)};
    const auto pieces = drawing::clip_polyline(wave, false, box);
    REQUIRE(pieces.size() == 2);
    CHECK(pieces[1].points.size() == 3);
}

TEST_CASE("an area is cut to what lies within the box", "[record][drawing]") {
    const std::array triangle{Vector2(-4.0, 0.0), Vector2(4.0, 0.0), Vector2(-4.0, 8.0)};
    // Within the box the triangle under x + y = 4 remains.
    CHECK(area_of(drawing::clip_polygon(triangle, box)) == Approx(8.0));
    CHECK(drawing::clip_polygon(triangle, {5.0, 0.0, 6.0, 1.0}).empty());
    CHECK(drawing::is_within(triangle, {-1.0, 1.0}));
    CHECK_FALSE(drawing::is_within(triangle, {3.0, 3.0}));
}

TEST_CASE("a free place covers nothing and is the nearest there is", "[record][drawing]") {
    drawing::Canvas canvas;
    canvas.line({0.0, 0.0}, {400.0, 300.0}, {});
    const Box area{0.0, 0.0, 400.0, 300.0};
    const auto place = drawing::free_place(canvas.covered(), area, {100.0, 80.0}, {300.0, 0.0});
    REQUIRE(place);
    CHECK(place->top == Approx(0.0).margin(10.0));
    CHECK_FALSE(drawing::clip_line({0.0, 0.0}, {400.0, 300.0}, *place));
    // The inside of a filled area is taken, the inside of a bare line around is not.
    const std::array frame{Vector2(-50.0, -50.0), Vector2(450.0, -50.0), Vector2(450.0, 350.0), Vector2(-50.0, 350.0),
                           Vector2(-50.0, -50.0)};
    drawing::Canvas around;
    around.polyline(frame, {});
    CHECK(drawing::free_place(around.covered(), area, {100.0, 80.0}, {0.0, 0.0}));
    around.polygon(frame, "none", {});
    CHECK_FALSE(drawing::free_place(around.covered(), area, {100.0, 80.0}, {0.0, 0.0}));
    CHECK_FALSE(drawing::free_place({}, area, {401.0, 80.0}, {0.0, 0.0}));
}

TEST_CASE("turned texts cover the page where they are seen", "[record][drawing]") {
    drawing::Canvas canvas;
    drawing::TextStyle upwards;
    upwards.turn_deg = -90.0;
    canvas.text({100.0, 200.0}, "a value that reads upwards", upwards);
    REQUIRE(canvas.covered().size() == 1);
    const auto& corners = canvas.covered()[0].line;
    for (const Vector2& corner : corners) {
        CHECK(std::abs(corner.x() - 100.0) < drawing::body_size);
        CHECK(corner.y() < 200.0 + 1e-9);
    }
}

TEST_CASE("hatching stays on the side of the material, no deeper than asked", "[record][drawing]") {
    // A block with a step, from left to right: the material is below, which is downwards on the page.
    const std::vector<drawing::ClippedLine> step{
        {{Vector2(0.0, 60.0), Vector2(50.0, 60.0), Vector2(50.0, 30.0), Vector2(100.0, 30.0)}, false}};
    constexpr double depth = 8.0;
    const auto strokes = drawing::hatching(step, {1.0, 0.0}, depth, {-20.0, 0.0, 120.0, 100.0});
    CHECK(strokes.size() > 15);
    for (const auto& stroke : strokes) {
        for (const Vector2& end : stroke) {
            const double surface = end.x() < 50.0 ? 60.0 : 30.0;
            CHECK(end.y() > surface - 0.01);  // ends are halved to 0.5 / 2^8
            const bool in_reach = end.y() < surface + depth + 0.01 || end.x() < 50.0 + depth + 0.01;
            CHECK(in_reach);
            CHECK(end.x() > -0.01);
            CHECK(end.x() < 100.01);
        }
    }
}

TEST_CASE("hatching keeps within a sharp ridge and off its outside", "[record][drawing]") {
    // Next to the tip the side follows from both flanks together: either alone is wrong on the other's side.
    const std::vector<drawing::ClippedLine> ridge{
        {{Vector2(0.0, 100.0), Vector2(50.0, 10.0), Vector2(60.0, 100.0), Vector2(110.0, 100.0)}, false}};
    const std::array tip{Vector2(0.0, 100.0), Vector2(50.0, 10.0), Vector2(60.0, 100.0)};
    const auto strokes = drawing::hatching(ridge, {1.0, 0.0}, 8.0, {0.0, 0.0, 59.0, 99.0});
    CHECK(strokes.size() > 5);
    for (const auto& stroke : strokes) CHECK(drawing::is_within(tip, 0.5 * (stroke[0] + stroke[1])));
}

TEST_CASE("a ball wider than the window is cut without its underside", "[record][drawing][shape]") {
    target::Part part;
    part.shape = target::Ball{10.0 * mm};
    // The window ends just short of the rims; the underside would show in its lower corners.
    const auto outlines = drawing::cut(part, {{0.0, 0.0}, 0.0, 9.5 * mm, 9.0 * mm, 15.0 * mm});
    REQUIRE(outlines.size() == 1);
    CHECK_FALSE(outlines[0].closed);
    for (const Vector2d& p : outlines[0].points) CHECK(p.y() > -10.0 * mm);

    // Off the middle the plane cuts a smaller circle: sqrt(10^2 - 6^2) = 8, whole in the window.
    const auto small = drawing::cut(part, {{0.0, -2.0 * mm}, 6.0 * mm, 9.5 * mm, 9.0 * mm, 20.0 * mm});
    REQUIRE(small.size() == 1);
    CHECK(small[0].closed);
    for (const Vector2d& p : small[0].points) {
        CHECK((p - Vector2d(0.0, -10.0 * mm)).norm() == Approx(8.0 * mm).margin(1e-9 * mm));
    }
}

TEST_CASE("the rise within a width is that of the shape", "[record][drawing][shape]") {
    target::Part part;
    part.shape = target::Roll{10.0 * mm};
    // Sagitta R - sqrt(R^2 - w^2) with w = 6 mm.
    CHECK(drawing::rise_within(part, {{0.0, 0.0}, 0.0, 6.0 * mm, 0.0, 0.0}) == Approx(2.0 * mm).epsilon(1e-9));
    part.shape = target::Flat{};
    CHECK(drawing::rise_within(part, {{0.0, 0.0}, 0.0, 6.0 * mm, 0.0, 0.0}) == Approx(0.0).margin(1e-12));
}
