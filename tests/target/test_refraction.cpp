#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include <boost/math/quadrature/exp_sinh.hpp>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/target/refraction.hpp"

using namespace spotwright;
using base::degree, base::mm, base::um, base::pi;
using target::Layer;

namespace {

using Stack = std::vector<Layer>;

const std::vector<Stack> stacks{{{0.3 * mm, 1.5}},
                                {{0.0, 1.5}},
                                {{2.0 * mm, 1.0}, {1.0 * mm, 1.514}},
                                {{0.1 * mm, 1.3}, {0.5 * mm, 1.9}, {1.0 * mm, 1.0}, {3.0 * mm, 1.52}}};

// A ray from the origin, traced face by face with `refract`, to the height h over the front face.
Eigen::Vector3d trace_out(const Stack& stack, Eigen::Vector3d direction, double height) {
    Eigen::Vector3d at = Eigen::Vector3d::Zero();
    for (std::size_t i = 0; i < stack.size(); ++i) {
        at += direction * (stack[i].thickness / direction.z());
        const double next = i + 1 < stack.size() ? stack[i + 1].index : 1.0;
        direction = target::refract(direction, Eigen::Vector3d::UnitZ(), next / stack[i].index).value();
    }
    return at + direction * (height / direction.z());
}

// The same ray the other way: from the outer point into the stack, to the plane of the starting point.
Eigen::Vector3d trace_in(const Stack& stack, const Eigen::Vector3d& from, Eigen::Vector3d direction, double height) {
    Eigen::Vector3d at = from + direction * (height / -direction.z());
    double before = 1.0;
    for (std::size_t i = stack.size(); i-- > 0;) {
        direction = target::refract(direction, Eigen::Vector3d::UnitZ(), stack[i].index / before).value();
        at += direction * (stack[i].thickness / -direction.z());
        before = stack[i].index;
    }
    return at;
}

// Area swept on the plane by two small turns of a direction, per their solid angle: a central difference.
template <class Trace>
double swept_per_solid_angle(const Eigen::Vector3d& direction, const Trace& trace) {
    constexpr double turn = 1e-6;
    const Eigen::Vector3d a = direction.unitOrthogonal();
    const Eigen::Vector3d b = direction.cross(a);
    const auto moved = [&](const Eigen::Vector3d& axis) {
        return Eigen::Vector3d(
            (trace((direction + turn * axis).normalized()) - trace((direction - turn * axis).normalized())) /
            (2.0 * turn));
    };
    return moved(a).cross(moved(b)).norm();
}

double total_height(const Stack& stack, double height) {
    for (const Layer& layer : stack) height += layer.thickness;
    return height;
}

}  // namespace

TEST_CASE("refraction keeps n sin, the plane of incidence and the unit length", "[refraction][physics]") {
    const Eigen::Vector3d normal = Eigen::Vector3d(0.2, -0.3, 0.9).normalized();
    for (const double index : {1.5, 1.0 / 1.5, 1.0, 2.4}) {
        for (const double angle : {0.0, 0.1, 0.6, 0.72}) {
            const Eigen::Vector3d along = normal.unitOrthogonal();
            const Eigen::Vector3d ray = std::sin(angle) * along - std::cos(angle) * normal;
            const auto bent = target::refract(ray, normal, index);
            REQUIRE(bent);
            // Rounding of a dozen operations on numbers of order 1.
            CHECK(std::abs(bent->norm() - 1.0) < 1e-15);
            CHECK(std::abs(index * bent->dot(along) - std::sin(angle)) < 4e-15);
            CHECK(std::abs(bent->dot(along.cross(normal))) < 4e-15);
            CHECK(bent->dot(normal) < 0.0);
            CHECK((*bent - target::refract(ray, -normal, index).value()).norm() < 4e-15);
        }
    }
}

TEST_CASE("light that leaves glass beyond the critical angle is all reflected", "[refraction][physics]") {
    const double critical = std::asin(1.0 / 1.5);
    const auto out = [](double angle) {
        return target::refract({std::sin(angle), 0.0, std::cos(angle)}, Eigen::Vector3d::UnitZ(), 1.0 / 1.5);
    };
    CHECK(out(critical - 1e-6));
    CHECK_FALSE(out(critical + 1e-6));
    CHECK_FALSE(out(80.0 * degree));
}

TEST_CASE("a mirror keeps the part along it and turns the part square to it", "[refraction][physics]") {
    const Eigen::Vector3d normal = Eigen::Vector3d(0.2, -0.3, 0.9).normalized();
    const Eigen::Vector3d ray = Eigen::Vector3d(0.5, 0.1, -0.7).normalized();
    const Eigen::Vector3d after = target::mirrored(ray, normal);
    CHECK(std::abs(after.dot(normal) + ray.dot(normal)) < 1e-15);
    CHECK((after.cross(normal) - ray.cross(normal)).norm() < 1e-15);
    CHECK((target::mirrored(after, -normal) - ray).norm() < 1e-15);
}

TEST_CASE("the way out, traced face by face, arrives where it should", "[refraction][physics]") {
    for (const Stack& stack : stacks) {
        for (const double height : {1.0 * um, 1.0 * mm, 60.0 * mm}) {
            for (const double distance : {0.0, 1e-9 * mm, 0.4 * mm, 35.0 * mm, 1e3 * mm}) {
                const target::ExitRay way = target::exit_ray(stack, height, distance);
                const target::Inclination first = way.inside.front();
                const Eigen::Vector3d at = trace_out(stack, {first.sine, 0.0, first.cosine}, height);
                INFO("layers " << stack.size() << ", h " << height << ", d " << distance << ", sine "
                               << way.outside.sine);
                // A direction known to 1e-15 meets a plane seen at grazing light to 1e-15 / cos^3 of the height.
                const double grazing = std::pow(way.outside.cosine, -3.0);
                CHECK(std::abs(at.x() - distance) < 4e-15 * (distance + total_height(stack, height) * grazing));
                CHECK(way.exit >= 0.0);
                CHECK(std::abs(way.exit + height * way.outside.tangent() - distance) <
                      1e-14 * (distance + total_height(stack, height)));
            }
        }
    }
}

TEST_CASE("the root is found where height and layers differ by many orders", "[refraction][unit]") {
    for (const double index : {1.0, 1.0 + 1e-12, 1.3, 4.0}) {
        for (double thickness = 1e-12; thickness < 1e3; thickness *= 1e3) {
            for (double height = 1e-12; height < 1e3; height *= 1e3) {
                for (double distance = 1e-15; distance < 1e6; distance *= 1e3) {
                    const Stack stack{{thickness, index}};
                    const target::ExitRay way = target::exit_ray(stack, height, distance);
                    const double found = height * way.outside.tangent() + way.exit;
                    INFO(index << ' ' << thickness << ' ' << height << ' ' << distance);
                    // Rounding of tangents and sums; catches an iteration that gives up early.
                    CHECK(std::abs(found - distance) < 1e-14 * distance);
                }
            }
        }
    }
}

TEST_CASE("solid angle per area agrees with rays traced to either side of it", "[refraction][physics]") {
    for (const Stack& stack : stacks) {
        for (const double height : {2.0 * mm, 60.0 * mm}) {
            for (const double distance : {0.0, 0.4 * mm, 35.0 * mm}) {
                const target::ExitRay way = target::exit_ray(stack, height, distance);
                const target::Inclination first = way.inside.front();
                const double horizontal =
                    swept_per_solid_angle({first.sine, 0.0, first.cosine},
                                          [&](const Eigen::Vector3d& d) { return trace_out(stack, d, height); });
                const double square = horizontal * way.outside.cosine;
                // Central difference: relative error of turn^2 / cos^4 inside against the critical angle, 3e-7 for the
                // steepest ray here (found; 100 times that with ten times the turn), and rounding of 1e-16 / turn.
                // Catches a tangential term taken for a sagittal one, which differs by 1 / cos^2.
                CHECK(way.solid_angle_per_area * square == Approx(1.0).epsilon(0.0).margin(1e-6));
            }
        }
    }
}

TEST_CASE("seen from outside, the area at the starting point obeys the radiance theorem", "[refraction][physics]") {
    for (const Stack& stack : stacks) {
        if (total_height(stack, 0.0) == 0.0) continue;
        for (const double distance : {0.0, 0.4 * mm, 35.0 * mm}) {
            const double height = 60.0 * mm;
            const target::ExitRay way = target::exit_ray(stack, height, distance);
            const Eigen::Vector3d outer(distance, 0.0, total_height(stack, height));
            const double horizontal =
                swept_per_solid_angle({-way.outside.sine, 0.0, -way.outside.cosine},
                                      [&](const Eigen::Vector3d& d) { return trace_in(stack, outer, d, height); });
            const double solid_angle_outside = 1.0 / (horizontal * way.inside.front().cosine);
            // n^2 dA dOmega is kept: outside per area inside = n_1^2 times inside per area outside. Finite differences
            // as above.
            const double n2 = stack.front().index * stack.front().index;
            CHECK(solid_angle_outside / (n2 * way.solid_angle_per_area) == Approx(1.0).epsilon(0.0).margin(1e-6));
        }
    }
}

TEST_CASE("all that escapes passes the plane overhead", "[refraction][physics]") {
    for (const Stack& stack : stacks) {
        const double height = 10.0 * mm;
        const auto ring = [&](double distance) {
            const target::ExitRay way = target::exit_ray(stack, height, distance);
            return 2.0 * pi * distance * way.solid_angle_per_area * way.outside.cosine;
        };
        boost::math::quadrature::exp_sinh<double> integrator;
        const double escaped = integrator.integrate([&](double x) { return x > 1e8 ? 0.0 : ring(x); }, 1e-10);
        // Cone of the critical angle, inside the first layer; beyond 1e8 m lies 1e-10 of it.
        const double n = stack.front().index;
        const double cone = 2.0 * pi * (1.0 - std::sqrt(1.0 - 1.0 / (n * n)));
        CHECK(escaped == Approx(cone).epsilon(1e-7));
    }
}

TEST_CASE("without refraction the layers are air", "[refraction][physics]") {
    const Stack air{{1.0 * mm, 1.0}, {4.0 * mm, 1.0}};
    for (const double distance : {0.0, 3.0 * mm, 300.0 * mm}) {
        const double r = std::hypot(60.0 * mm, distance);
        for (const target::ExitRay& way :
             {target::exit_ray(air, 55.0 * mm, distance), target::exit_ray({}, 60.0 * mm, distance)}) {
            CHECK(way.solid_angle_per_area * r * r == Approx(1.0).epsilon(1e-14));
            CHECK(way.sagittal_distance == Approx(r).epsilon(1e-14));
            CHECK(way.tangential_distance == Approx(r).epsilon(1e-14));
            CHECK(way.optical_path == Approx(r).epsilon(1e-14));
            CHECK(way.outside.sine == Approx(distance / r).epsilon(1e-14).margin(1e-300));
        }
    }
}

TEST_CASE("the way out is the shortest optical path through its faces", "[refraction][physics]") {
    const Stack stack{{2.0 * mm, 1.3}, {1.0 * mm, 1.514}};
    const double height = 20.0 * mm;
    const double distance = 15.0 * mm;
    const target::ExitRay way = target::exit_ray(stack, height, distance);
    const double x1 = stack[0].thickness * way.inside[0].tangent();
    const double x2 = way.exit;
    const auto path = [&](double a, double b) {
        return stack[0].index * std::hypot(stack[0].thickness, a) +
               stack[1].index * std::hypot(stack[1].thickness, b - a) + std::hypot(height, distance - b);
    };
    CHECK(way.optical_path == Approx(path(x1, x2)).epsilon(1e-14));
    // Fermat: the first order vanishes. What is left of a difference over +-0.1 um is the third order, step^3 / t^2 =
    // 1e-15 m for the thinnest layer; an angle wrong by 1e-6 would show as 2e-13 m.
    const double step = 0.1 * um;
    CHECK(std::abs(path(x1 + step, x2) - path(x1 - step, x2)) < 2e-15);
    CHECK(std::abs(path(x1, x2 + step) - path(x1, x2 - step)) < 2e-15);
    CHECK(path(x1 + step, x2) > way.optical_path);
    CHECK(path(x1, x2 - step) > way.optical_path);
}

TEST_CASE("straight down, a layer looks shallower by its index", "[refraction][published]") {
    // Apparent depth t / n, M. Born, E. Wolf, Principles of Optics, ch. 4, from memory.
    const target::ExitRay way = target::exit_ray(Stack{{1.5 * mm, 1.5}}, 10.0 * mm, 0.0);
    CHECK(way.sagittal_distance == Approx(11.0 * mm).epsilon(1e-14));
    CHECK(way.tangential_distance == Approx(11.0 * mm).epsilon(1e-14));
    CHECK(way.solid_angle_per_area == Approx(1.0 / (1.5 * 1.5 * 11.0 * mm * 11.0 * mm)).epsilon(1e-14));
}

TEST_CASE("a way out that cannot be is refused", "[refraction][unit]") {
    const Stack glass{{1.0 * mm, 1.5}};
    const double nan = std::numeric_limits<double>::quiet_NaN();
    for (const double bad : {0.0, -1.0, nan}) CHECK_THROWS_AS(target::exit_ray(glass, bad, 0.0), base::DomainError);
    for (const double bad : {-1.0, nan}) {
        CHECK_THROWS_AS(target::exit_ray(glass, 1.0, bad), base::DomainError);
        CHECK_THROWS_AS(target::exit_ray(Stack{{bad, 1.5}}, 1.0, 0.0), base::DomainError);
        CHECK_THROWS_AS(target::exit_ray(Stack{{1.0, bad}}, 1.0, 0.0), base::DomainError);
    }
    CHECK_THROWS_AS(target::exit_ray(Stack{{1.0, 0.9}}, 1.0, 0.0), base::DomainError);
    CHECK_THROWS_AS(target::exit_ray(Stack(5), 1.0, 0.0), base::DomainError);
}
