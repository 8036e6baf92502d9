// The pattern of an aperture over rectangles, against the pattern itself summed place by place.
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/diffraction.hpp"

using namespace spotwright;

namespace {

// Light per area, distances in lambda N, of a round aperture: (pi / 4) (2 J1(pi r) / (pi r))^2. Source: M. Born, E.
// Wolf, Principles of Optics, ch. 8.5.
double airy(double x, double y) {
    const double v = base::pi * std::hypot(x, y);
    const double amplitude = v < 1e-6 ? 1.0 : 2.0 * boost::math::cyl_bessel_j(1, v) / v;
    return base::pi / 4.0 * amplitude * amplitude;
}

double sinc2(double x) {
    const double v = base::pi * x;
    return v == 0.0 ? 1.0 : std::pow(std::sin(v) / v, 2);
}

// By panels of half a unit at most: five nodes and more to a swing of the pattern.
template <class F>
double integral(const F& f, double from, double to) {
    const int panels = std::max(1, static_cast<int>(std::ceil((to - from) / 0.5)));
    double sum = 0.0;
    for (int i = 0; i < panels; ++i) {
        sum += boost::math::quadrature::gauss<double, 15>::integrate(f, from + (to - from) * i / panels,
                                                                     from + (to - from) * (i + 1) / panels);
    }
    return sum;
}

}  // namespace

TEST_CASE("a round aperture's light on a rectangle is the integral of Airy's pattern", "[physics][published]") {
    const receiver::EdgeSpread pattern;
    struct Rectangle {
        double x, y, half_x, half_y;
    };
    for (const Rectangle& at : {Rectangle{0.0, 0.0, 0.1, 0.1},
                                {0.4, 0.3, 0.1, 0.1},
                                {0.0, 0.0, 0.1, 2.5},
                                {1.2, 0.0, 0.3, 0.3},
                                {0.0, 1.6, 0.5, 0.2},
                                {2.2, 2.2, 0.4, 0.4},
                                {0.6, 0.0, 0.25, 6.0}}) {
        const auto over = [](double x0, double x1, double y0, double y1) {
            return integral([&](double x) { return integral([x](double y) { return airy(x, y); }, y0, y1); }, x0, x1);
        };
        const double exact = over(at.x - at.half_x, at.x + at.half_x, at.y - at.half_y, at.y + at.half_y);
        const double centre = over(-at.half_x, at.half_x, -at.half_y, at.half_y);
        const double found = pattern.share(at.x - at.half_x, at.x + at.half_x, at.y - at.half_y, at.y + at.half_y);
        INFO(at.x << ", " << at.y << ", half widths " << at.half_x << ", " << at.half_y);
        CHECK(std::abs(found - exact) < 4e-4 * centre);  // the stated bound, and the cubic between the table's places
    }
}

TEST_CASE("the product of two edge spreads misses a small pixel by eight percent at the centre of Airy's pattern",
          "[physics]") {
    // Density pi / 4 against the square of the line spread's 8 / (3 pi): 0.785 and 0.721.
    const receiver::EdgeSpread pattern;
    constexpr double half = 0.02;
    const double product = std::pow(2.0 * (pattern(half) - 0.5), 2);
    CHECK(product / (4.0 * half * half) == Approx(std::pow(8.0 / (3.0 * base::pi), 2)).epsilon(2e-3));
    CHECK(pattern.share(-half, half, -half, half) / (4.0 * half * half) == Approx(base::pi / 4.0).epsilon(2e-3));
}

TEST_CASE("a rectangular aperture's light on a rectangle is the product of both sides' sinc^2", "[physics]") {
    const receiver::EdgeSpread pattern(scenario::ApertureShape::rectangular);
    for (const double x : {0.0, 0.7, 3.2}) {
        const double exact = integral(sinc2, x - 0.3, x + 0.3) * integral(sinc2, -1.5, 1.5);
        CHECK(pattern.share(x - 0.3, x + 0.3, -1.5, 1.5) == Approx(exact).margin(1e-5));
    }
}

TEST_CASE("all rectangles side by side take all of the light", "[physics]") {
    for (const auto shape : {scenario::ApertureShape::round, scenario::ApertureShape::rectangular}) {
        const receiver::EdgeSpread pattern(shape);
        double sum = 0.0;
        constexpr double width = 0.75;
        for (int i = -40; i < 40; ++i) sum += pattern.share(i * width, (i + 1) * width, -0.4, 0.4);
        // What lies beyond 30 lambda N along x, at most its share of a whole line.
        const double line = pattern(0.4) - pattern(-0.4);
        CHECK(sum == Approx(line).margin(2.0 * (1.0 - pattern(30.0))));
        CHECK(sum <= line + 1e-12);
        CHECK(pattern.share(-1e9, 1e9, -1e9, 1e9) == Approx(1.0).epsilon(1e-8));
    }
}
