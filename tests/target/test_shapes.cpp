// Where rays meet parts of every shape.
#include <catch2/catch.hpp>

#include <cmath>
#include <map>
#include <random>
#include <string>
#include <vector>

#include <Eigen/Geometry>

#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/relief.hpp"
#include "sim/target/part.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::mm, base::um, base::degree;
using Eigen::Vector2d, Eigen::Vector3d;
using target::BeamRay, target::Hit, target::Shape;

namespace {

scenario::HeightTable hills() {
    scenario::HeightTable table;
    for (int i = 0; i < 9; ++i) table.x.push_back((i - 4) * 1.0 * mm + 0.2 * mm * std::sin(1.7 * i));
    for (int k = 0; k < 6; ++k) table.y.push_back((k - 2.5) * 1.5 * mm);
    for (int i = 0; i < 9; ++i) {
        for (int k = 0; k < 6; ++k) table.height.push_back(0.4 * mm * std::sin(2.1 * i) * std::cos(1.3 * k));
    }
    return table;
}

std::map<std::string, Shape> shapes() {
    return {{"plane", target::Flat{}},
            {"step", target::make_extrusion({{0.0, 0.0}, {0.0, 1.0 * mm}})},
            {"step down", target::make_extrusion({{0.0, 0.0}, {0.0, -1.0 * mm}})},
            {"groove", target::make_extrusion({{-0.5 * mm, 0.0}, {0.0, -0.5 * mm}, {0.5 * mm, 0.0}})},
            {"profile",
             target::make_extrusion({{-2 * mm, 0.1 * mm}, {-1 * mm, -0.3 * mm}, {0.5 * mm, 0.4 * mm}, {2 * mm, 0.0}})},
            {"roll", target::Roll{4.0 * mm, false}},
            {"trough", target::Roll{4.0 * mm, true}},
            {"ball", target::Ball{4.0 * mm, false}},
            {"hollow", target::Ball{4.0 * mm, true}},
            {"wave", target::Ripple{0.3 * mm, 2.0 * mm}},
            {"map", target::make_height_map(hills())}};
}

// Height of the surface above the reference plane; what is outside of it, and NaN where there is no surface.
double height_of(const Shape& shape, double x, double y) {
    const auto hit = target::meet(shape, {Vector3d(x, y, 100.0 * mm), -Vector3d::UnitZ()}, 0.0);
    return hit ? 100.0 * mm - hit->distance : std::nan("");
}

BeamRay random_ray(std::mt19937_64& random) {
    std::uniform_real_distribution<double> place(-3.0 * mm, 3.0 * mm);
    std::normal_distribution<double> slope(0.0, 1.0);
    const Vector3d direction = Vector3d(slope(random), slope(random), -1.0).normalized();
    const Vector3d through(place(random), place(random), 0.0);
    return {through - 60.0 * mm * direction, direction};
}

}  // namespace

TEST_CASE("heights seen from straight above are those that each shape is made of", "[target][shape]") {
    const auto all = shapes();
    const auto at = [&all](const char* name, double x, double y) { return height_of(all.at(name), x, y); };
    const double rounding = 1e-15;  // 100 mm in double precision
    CHECK(std::abs(at("step", -0.1 * mm, 0.0)) < rounding);
    CHECK(std::abs(at("step", 0.1 * mm, 0.0) - 1.0 * mm) < rounding);
    CHECK(std::abs(at("step down", 0.1 * mm, 0.0) + 1.0 * mm) < rounding);
    CHECK(std::abs(at("groove", 0.2 * mm, 5.0 * mm) + 0.3 * mm) < rounding);
    CHECK(std::abs(at("groove", 0.7 * mm, 0.0)) < rounding);
    CHECK(std::abs(at("profile", -3.0 * mm, 0.0) - 0.1 * mm) < rounding);
    CHECK(std::abs(at("profile", 1.25 * mm, 0.0) - 0.2 * mm) < rounding);
    const double sagitta = 4.0 * mm - std::sqrt(16.0 - 1.0) * mm;
    CHECK(std::abs(at("roll", 1.0 * mm, 9.0 * mm) + sagitta) < rounding);
    CHECK(std::abs(at("trough", 1.0 * mm, 9.0 * mm) - sagitta) < rounding);
    CHECK(std::abs(at("ball", 0.6 * mm, 0.8 * mm) + sagitta) < rounding);
    CHECK(std::abs(at("hollow", 0.6 * mm, 0.8 * mm) - sagitta) < rounding);
    CHECK(std::isnan(at("ball", 3.0 * mm, 3.0 * mm)));
    CHECK(std::abs(at("wave", 0.25 * mm, 0.0) - 0.3 * mm * std::cos(base::pi / 4.0)) < 1e-14);
    const scenario::HeightTable table = hills();
    CHECK(std::abs(at("map", table.x[3], table.y[2]) - table.height[3 * 6 + 2]) < rounding);
    const double middle = 0.25 * (table.height[20] + table.height[21] + table.height[26] + table.height[27]);
    CHECK(std::abs(at("map", 0.5 * (table.x[3] + table.x[4]), 0.5 * (table.y[2] + table.y[3])) - middle) < rounding);
    CHECK(std::abs(at("map", 90.0 * mm, table.y[5]) - table.height[8 * 6 + 5]) < rounding);  // as at the rim
}

TEST_CASE("a ray meets every shape where it first touches its surface, and from outside", "[target][shape][property]") {
    std::mt19937_64 random(5);
    for (const auto& [name, shape] : shapes()) {
        INFO(name);
        int met = 0;
        for (int i = 0; i < 400; ++i) {
            const BeamRay ray = random_ray(random);
            const auto hit = target::meet(shape, ray, 0.0);
            if (!hit) continue;
            ++met;
            REQUIRE(hit->normal.norm() == Approx(1.0));
            REQUIRE(hit->normal.dot(ray.direction) < 0.0);
            const Vector3d place = ray.origin + hit->distance * ray.direction;
            const double height = height_of(shape, place.x(), place.y());
            // On a wall the height jumps; elsewhere the place lies on the surface.
            const bool wall = std::abs(hit->normal.z()) < 1e-12;
            if (!wall) REQUIRE(std::abs(place.z() - height) < 1e-12);
            if (std::holds_alternative<target::Roll>(shape) || std::holds_alternative<target::Ball>(shape)) continue;
            // Before it, the ray is above the surface everywhere.
            for (int k = 1; k < 200; ++k) {
                const Vector3d p = ray.origin + hit->distance * (0.9 + 0.1 * k / 201.0) * ray.direction;
                REQUIRE(p.z() > height_of(shape, p.x(), p.y()) - 1e-12);
            }
        }
        CHECK(met > 200);
    }
}

TEST_CASE("the normal of every shape is square to the surface around it", "[target][shape][property]") {
    std::mt19937_64 random(6);
    constexpr double step = 1e-7;
    for (const auto& [name, shape] : shapes()) {
        INFO(name);
        for (int i = 0; i < 200; ++i) {
            const BeamRay ray = random_ray(random);
            const auto hit = target::meet(shape, ray, 0.0);
            if (!hit || hit->normal.z() < 0.2) continue;
            const Vector3d p = ray.origin + hit->distance * ray.direction;
            const double dx = height_of(shape, p.x() + step, p.y()) - height_of(shape, p.x() - step, p.y());
            const double dy = height_of(shape, p.x(), p.y() + step) - height_of(shape, p.x(), p.y() - step);
            // Across an edge the two sides differ; next to none of 200 random rays lies within 0.1 um of one.
            const Vector3d normal = Vector3d(-dx, -dy, 2.0 * step).normalized();
            CHECK((normal - hit->normal).norm() < 1e-4);
        }
    }
}

TEST_CASE("the ray that leaves a convex shape meets it no more, and in a trough it does", "[target][shape]") {
    const auto all = shapes();
    target::Part part{all.at("roll")};
    const Vector3d lens(25.0 * mm, 0.0, 40.0 * mm);
    CHECK_FALSE(target::hides(part, Vector3d::Zero(), lens));
    CHECK_FALSE(target::hides_itself(part.shape));
    part.shape = all.at("trough");
    CHECK_FALSE(target::hides(part, Vector3d::Zero(), lens));
    // From the bottom the rim, at radius to the side and radius up, stands at 45 deg.
    CHECK(target::hides(part, Vector3d::Zero(), Vector3d(45.0 * mm, 0.0, 44.0 * mm)));
    part.shape = all.at("step");
    CHECK(target::hides(part, Vector3d(-0.5 * mm, 0.0, 0.0), Vector3d(40.0 * mm, 0.0, 40.0 * mm)));
    CHECK_FALSE(target::hides(part, Vector3d(-1.5 * mm, 0.0, 0.0), Vector3d(40.0 * mm, 0.0, 40.0 * mm)));
    CHECK_FALSE(target::hides(part, Vector3d(-0.5 * mm, 0.0, 0.0), Vector3d(-40.0 * mm, 0.0, 40.0 * mm)));
    // What lies beyond the place where light goes hides nothing.
    CHECK_FALSE(target::hides(part, Vector3d(-0.5 * mm, 0.0, 0.0), Vector3d(-0.1 * mm, 0.0, 0.1 * mm)));
}

TEST_CASE("shapes stand where their keys say, across or parallel to the mounting plane", "[target][shape][scenario]") {
    const auto truth = [](std::vector<std::string> settings) {
        return support::lit_displacement(
                   scenario::parse("[target]\nmaterial = \"white-ceramic\"\ndisplacement_mm = 1\n", "t", settings),
                   1.0 * mm)
            .value();
    };
    const auto beam_aside = [&](std::vector<std::string> settings) {
        settings.emplace_back("emitter.out_of_plane_mm=0.5");
        return truth(settings);
    };
    const double rounding = 1e-14;
    CHECK(std::abs(truth({"target.shape=step", "target.step.position_mm=0.2"}) - 1.0 * mm) < rounding);
    CHECK(std::abs(truth({"target.shape=step", "target.step.position_mm=-0.2"})) < rounding);  // 1 mm high
    CHECK(std::abs(truth({"target.shape=step", "target.step.position_mm=-0.2", "target.step.edge=parallel"})) <
          rounding);
    const double sagitta = 10.0 * mm - std::sqrt(100.0 - 4.0) * mm;
    CHECK(std::abs(truth({"target.shape=cylinder", "target.cylinder.position_mm=2"}) - 1.0 * mm - sagitta) < rounding);
    CHECK(std::abs(
              truth({"target.shape=cylinder", "target.cylinder.position_mm=2", "target.cylinder.curvature=concave"}) -
              1.0 * mm + sagitta) < rounding);
    CHECK(std::abs(truth({"target.shape=sphere", "target.sphere.position_mm=[0, -2]"}) - 1.0 * mm - sagitta) <
          rounding);
    CHECK(std::abs(truth({"target.shape=groove"}) - 1.5 * mm) < rounding);
    CHECK(std::abs(truth({"target.shape=wave", "target.wave.position_mm=1"}) - 1.05 * mm) < rounding);  // a trough
    // Positions count from the lit point, so a beam beside the mounting plane lights the same place.
    CHECK(std::abs(beam_aside({"target.shape=groove", "target.groove.axis=parallel"}) - 1.5 * mm) < rounding);
}

TEST_CASE("a part that the beam misses has no lit point", "[target][shape]") {
    const auto s = scenario::parse("[target]\nmaterial = \"white-ceramic\"\nshape = \"sphere\"\n", "t",
                                   std::vector<std::string>{"target.sphere.position_mm=[11, 0]"});
    CHECK_FALSE(support::lit_displacement(s, 0.0));
}

TEST_CASE("reliefs are read with their units, in any order of columns and rows", "[scenario][relief]") {
    const auto profile = scenario::parse_heights("# measured\nheight_mm, x_mm\n0.5, 2\n\n-0.25, 1\r\n", "p.csv");
    CHECK(profile.x == std::vector<double>{1.0 * mm, 2.0 * mm});
    CHECK(profile.height == std::vector<double>{-0.25 * mm, 0.5 * mm});
    CHECK(profile.y.empty());
    const auto map = scenario::parse_heights("x_mm,y_mm,height_mm\n1,0,3\n0,0,1\n0,5,2\n1,5,4\n", "m.csv");
    CHECK(map.height == std::vector<double>{1.0 * mm, 2.0 * mm, 3.0 * mm, 4.0 * mm});
    CHECK(map.y == std::vector<double>{0.0, 5.0 * mm});
}

TEST_CASE("what is wrong in a relief's file is named with its line", "[scenario][relief][errors]") {
    const auto message = [](const char* text) {
        try {
            static_cast<void>(scenario::parse_heights(text, "r.csv"));
        } catch (const base::ScenarioError& error) {
            return std::string(error.what());
        }
        return std::string("accepted");
    };
    CHECK_THAT(message("x_mm,depth_mm\n"), Catch::Contains("r.csv:1") && Catch::Contains("depth_mm"));
    CHECK_THAT(message("x_mm\n1\n"), Catch::Contains("r.csv:1") && Catch::Contains("missing"));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n2,a\n"), Catch::Contains("r.csv:3") && Catch::Contains("\"a\""));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n2,nan\n"), Catch::Contains("r.csv:3"));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n2,1e9\n"), Catch::Contains("r.csv:3"));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n2\n"), Catch::Contains("r.csv:3") && Catch::Contains("1 values"));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n0,2\n1,1\n"), Catch::Contains("r.csv:3") && Catch::Contains("before"));
    CHECK_THAT(message("x_mm,y_mm,height_mm\n0,0,1\n1,1,1\n0,1,1\n"), Catch::Contains("2 by 2"));
    CHECK_THAT(message("x_mm,height_mm\n0,1\n"), Catch::Contains("too few"));
    CHECK_THAT(message(""), Catch::Contains("empty file"));
}
