// Small helpers for numbers: medians, borders by halving, nodes of integrals.
#include <cmath>
#include <vector>

#include <boost/math/statistics/univariate_statistics.hpp>
#include <catch2/catch.hpp>

#include "sim/base/border.hpp"
#include "sim/base/median.hpp"
#include "sim/base/quadrature.hpp"

using namespace spotwright::base;

TEST_CASE("the upper median is the middle value, of an even count the upper of two", "[base][unit]") {
    CHECK(upper_median(std::vector<int>{7}) == 7);
    CHECK(upper_median(std::vector<int>{9, 2}) == 9);
    CHECK(upper_median(std::vector<int>{9, 2, 5}) == 5);
    CHECK(upper_median(std::vector<double>{4.0, 1.0, 3.0, 2.0}) == 3.0);
    std::vector<double> odd;
    for (int i = 0; i < 101; ++i) odd.push_back(std::sin(37.0 * i));
    const double middle = upper_median(odd);
    CHECK(middle == boost::math::statistics::median(odd));  // which puts them in another order
}

TEST_CASE("a border is found from either side, as near as it was halved", "[base][unit]") {
    const double border = 0.6180339887;
    for (const int halvings : {1, 8, 30}) {
        CAPTURE(halvings);
        const Border rising = border_between(
            0.0, 1.0, [=](double x) { return x < border; }, halvings);
        CHECK(rising.holds < border);
        CHECK(rising.fails >= border);
        CHECK(rising.fails - rising.holds == std::ldexp(1.0, -halvings));  // exact: powers of two
        const Border falling = border_between(
            1.0, 0.0, [=](double x) { return x >= border; }, halvings);
        CHECK(falling.holds == rising.fails);
        CHECK(falling.fails == rising.holds);
    }
}

TEST_CASE("halving is that of a plain loop, to the bit", "[base][unit]") {
    const double border = 1.0 / 3.0;
    double holds = -7.3;
    double fails = 11.9;
    for (int i = 0; i < 40; ++i) {
        const double middle = 0.5 * (holds + fails);
        (middle < border ? holds : fails) = middle;
    }
    const Border found = border_between(
        -7.3, 11.9, [=](double x) { return x < border; }, 40);
    CHECK(found.holds == holds);
    CHECK(found.fails == fails);
}

TEST_CASE("halving ends where the places are close, or next to each other", "[base][unit]") {
    int asked = 0;
    const auto below_third = [&asked](double x) {
        ++asked;
        return x < 1.0 / 3.0;
    };
    const Border close = border_between(0.0, 1.0, below_third, 100, 1e-3);
    CHECK(asked == 10);  // 2^-10 is the first below a thousandth
    CHECK(close.fails - close.holds < 1e-3);
    const Border next = border_between(0.0, 1.0, below_third, 2000);
    CHECK(next.fails == std::nextafter(next.holds, 1.0));
    CHECK(next.fails == 1.0 / 3.0);
}

TEST_CASE("a border's ends are not asked, and may be where nothing changes", "[base][unit]") {
    const Border found = border_between(
        0.0, 1.0, [](double x) { return x > 0.0 && x < 1.0; }, 3);
    CHECK(found.holds == 0.875);
    CHECK(found.fails == 1.0);
    const Border same = border_between(
        2.0, 2.0, [](double) { return true; }, 3);
    CHECK((same.holds == 2.0 && same.fails == 2.0));
}

TEST_CASE("nodes of Gauss and Legendre integrate polynomials of up to twice their number less one", "[base][unit]") {
    const auto integral = [](const std::vector<QuadratureNode>& nodes, int power) {
        double sum = 0.0;
        for (const QuadratureNode& node : nodes) sum += node.weight * std::pow(node.at, power);
        return sum;
    };
    std::vector<QuadratureNode> five;
    add_gauss_nodes<5>(1.0, 3.0, five);
    CHECK(five.size() == 5);
    std::vector<QuadratureNode> six;
    add_gauss_nodes<6>(1.0, 3.0, six);
    CHECK(six.size() == 6);
    for (int power = 0; power <= 9; ++power) {
        const double exact = (std::pow(3.0, power + 1) - 1.0) / (power + 1);
        CHECK(integral(five, power) == Approx(exact).epsilon(1e-14));  // some ten roundings
        CHECK(integral(six, power) == Approx(exact).epsilon(1e-14));
    }
    CHECK(std::abs(integral(five, 10) - (std::pow(3.0, 11) - 1.0) / 11.0) > 1e-6);
    add_gauss_nodes<5>(3.0, 4.0, five);
    CHECK(five.size() == 10);
    CHECK(integral(five, 2) == Approx(21.0).epsilon(1e-14));
}
