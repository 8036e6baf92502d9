// Uncertainties combined, propagated and drawn.
#include <catch2/catch.hpp>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <limits>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/study/uncertainty.hpp"

using namespace spotwright;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using study::Component;
using study::Evaluation;

namespace {

constexpr double rounding = 1e-12;  // of sums and products of a few numbers

Component component(double standard_uncertainty, double degrees_of_freedom = study::endless) {
    return {"", Evaluation::b, standard_uncertainty, degrees_of_freedom};
}

double uniform(std::int64_t index) {
    return base::RandomSequence({7, base::Stream::ray}, index).uniform();
}

study::MonteCarloOptions options(std::int64_t block, std::int64_t most, int threads = 1) {
    study::MonteCarloOptions o;
    o.block = block;
    o.most = most;
    o.threads = threads;
    return o;
}

}  // namespace

TEST_CASE("independent causes add in quadrature, in whatever unit", "[study]") {
    for (const double unit : {1.0, 1e-6, 1e-90}) {
        const std::vector<Component> components{component(3.0 * unit, 8.0), component(4.0 * unit, 20.0)};
        const study::Combined combined = study::combine(components);
        CHECK_THAT(combined.standard_uncertainty, WithinRel(5.0 * unit, rounding));
        // 5^4 / (3^4 / 8 + 4^4 / 20) = 27.26
        CHECK(combined.degrees_of_freedom == 27.0);
        CHECK_THAT(combined.expanded, WithinRel(combined.coverage_factor * combined.standard_uncertainty, rounding));
    }
}

TEST_CASE("what is known without doubt leaves the normal coverage factor", "[study]") {
    const std::vector<Component> known{component(1.0), component(2.0)};
    const study::Combined combined = study::combine(known);
    CHECK(std::isinf(combined.degrees_of_freedom));
    CHECK_THAT(combined.coverage_factor, WithinAbs(1.959963985, 1e-9));
    const std::vector<Component> one{component(1.0, 6.0)};
    CHECK(study::combine(one).degrees_of_freedom == 6.0);
    const std::vector<Component> few{component(1.0, 0.4)};
    CHECK(study::combine(few).degrees_of_freedom == 1.0);
    const std::vector<Component> none{component(0.0, 3.0)};
    CHECK(study::combine(none).expanded == 0.0);
}

TEST_CASE("uncertainties that are none are refused", "[study]") {
    const auto combined = [](const Component& c, double coverage) {
        return study::combine(std::vector<Component>{c}, coverage);
    };
    constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(study::combine({}), base::DomainError);
    CHECK_THROWS_AS(combined(component(-1.0), 0.95), base::DomainError);
    CHECK_THROWS_AS(combined(component(not_a_number), 0.95), base::DomainError);
    CHECK_THROWS_AS(combined(component(1.0, 0.0), 0.95), base::DomainError);
    CHECK_THROWS_AS(combined(component(1.0), 1.0), base::DomainError);
    CHECK_THROWS_AS(combined(component(1.0), not_a_number), base::DomainError);
    CHECK_THROWS_AS(study::deviation_interval(1.0, 1), base::DomainError);
    CHECK_THROWS_AS(study::shortest_interval(std::vector<double>{1.0}, 0.5), base::DomainError);
}

TEST_CASE("second order makes propagation exact for a cube and for a product", "[study]") {
    // Normal x about 1 with u: variance of x^3 is 9 u^2 + 36 u^4 + 15 u^6; the last is of third order.
    const auto cube = [](std::span<const double> x) { return x[0] * x[0] * x[0]; };
    const double u = 0.01;
    const auto propagated = study::propagate(cube, std::vector<study::Input>{{"x", 1.0, u}});
    const double first = std::pow(propagated.components[0].standard_uncertainty, 2);
    CHECK_THAT(first + propagated.second_order, WithinAbs(9.0 * u * u + 36.0 * std::pow(u, 4), 20.0 * std::pow(u, 6)));
    CHECK_THAT(first, !WithinAbs(9.0 * u * u + 36.0 * std::pow(u, 4), 20.0 * std::pow(u, 6)));
    // Of x y: (y u_x)^2 + (x u_y)^2 + (u_x u_y)^2, exactly.
    const auto product = [](std::span<const double> x) { return x[0] * x[1]; };
    const auto two = study::propagate(product, std::vector<study::Input>{{"x", 3.0, 0.2}, {"y", -2.0, 0.5}});
    CHECK_THAT(two.second_order, WithinAbs(std::pow(0.2 * 0.5, 2), rounding));
    CHECK_THAT(two.changes[0], WithinAbs(-0.4, rounding));
    // Of x y^2: f_xyy = 2 and f_xy = 2 y; the products of third derivatives reach both ways.
    const auto mixed = [](std::span<const double> x) { return x[0] * x[1] * x[1]; };
    const auto third = study::propagate(mixed, std::vector<study::Input>{{"x", 1.0, 0.1}, {"y", 1.0, 0.1}});
    // f_x = 1, f_y = 2, f_yy = 2, f_xy = 2, f_xyy = 2: (2^2 / 2 + 2^2 + 1 * 2) u^4.
    CHECK_THAT(third.second_order, WithinAbs(8.0 * 1e-4, rounding));
}

TEST_CASE("what is certain contributes nothing and is not moved", "[study]") {
    const auto root = [](std::span<const double> x) { return std::sqrt(x[0]) + x[1]; };
    const std::vector<study::Input> inputs{{"edge", 0.0, 0.0}, {"free", 1.0, 0.1, 5.0, Evaluation::a}};
    const auto propagated = study::propagate(root, inputs);
    CHECK(propagated.components[0].standard_uncertainty == 0.0);
    CHECK(propagated.components[1].evaluation == Evaluation::a);
    CHECK(propagated.components[1].degrees_of_freedom == 5.0);
    const std::vector<study::Input> beyond{{"edge", 0.0, 0.1}, {"free", 1.0, 0.1}};
    CHECK_THROWS_AS(study::propagate(root, beyond), base::DomainError);
}

TEST_CASE("correlation adds what moves together and takes away what moves against", "[study]") {
    const auto sum = [](std::span<const double> x) { return x[0] + x[1]; };
    const auto p = study::propagate(sum, std::vector<study::Input>{{"a", 0.0, 3.0}, {"b", 0.0, 4.0}});
    const auto with = [&](double r) { return study::correlated_uncertainty(p, std::vector<double>{1.0, r, r, 1.0}); };
    CHECK_THAT(with(0.0), WithinRel(5.0, rounding));
    CHECK_THAT(with(1.0), WithinRel(7.0, rounding));
    CHECK_THAT(with(-1.0), WithinRel(1.0, rounding));
    CHECK_THROWS_AS(with(1.1), base::DomainError);
    CHECK_THROWS_AS(study::correlated_uncertainty(p, std::vector<double>{1.0}), base::DomainError);
    CHECK_THROWS_AS(study::correlated_uncertainty(p, std::vector<double>{1.0, 0.5, -0.5, 1.0}), base::DomainError);
    const auto three = study::propagate([](std::span<const double> x) { return x[0] + x[1] + x[2]; },
                                        std::vector<study::Input>{{"a", 0.0, 1.0}, {"b", 0.0, 1.0}, {"c", 0.0, 1.0}});
    const std::vector<double> contradictory{1.0, -0.9, -0.9, -0.9, 1.0, -0.9, -0.9, -0.9, 1.0};
    CHECK_THROWS_AS(study::correlated_uncertainty(three, contradictory), base::DomainError);
}

TEST_CASE("the shortest interval is never longer than the symmetric one and holds the share", "[study]") {
    std::vector<double> skew;
    for (int i = 0; i < 999; ++i) skew.push_back(-std::log(1.0 - (i + 0.5) / 999.0));
    const study::Interval shortest = study::shortest_interval(skew, 0.9);
    const study::Interval symmetric = study::symmetric_interval(skew, 0.9);
    CHECK(shortest.high - shortest.low < symmetric.high - symmetric.low);
    CHECK(shortest.low == skew.front());
    const auto held = [&](const study::Interval& i) {
        return std::count_if(skew.begin(), skew.end(), [&](double x) { return x > i.low && x <= i.high; });
    };
    CHECK(held(shortest) == 899);  // 0.9 * 999 = 899.1
    CHECK(held(symmetric) == 899);
    const auto below = std::count_if(skew.begin(), skew.end(), [&](double x) { return x < symmetric.low; });
    const auto above = std::count_if(skew.begin(), skew.end(), [&](double x) { return x > symmetric.high; });
    CHECK(std::abs(below - above) <= 1);
    const std::vector<double> two{1.0, 2.0};
    CHECK(study::shortest_interval(two, 0.999).high == 2.0);
    CHECK(study::symmetric_interval(two, 0.001).low == 1.0);
}

TEST_CASE("Monte Carlo does not depend on threads and ends when it has settled", "[study]") {
    const auto trial = [](std::int64_t i) { return std::optional<double>(uniform(i)); };
    const study::MonteCarlo alone = study::monte_carlo(trial, options(2000, 400000, 1));
    const study::MonteCarlo together = study::monte_carlo(trial, options(2000, 400000, 5));
    CHECK(alone.mean == together.mean);
    CHECK(alone.standard_uncertainty == together.standard_uncertainty);
    CHECK(alone.shortest.low == together.shortest.low);
    CHECK(alone.trials == together.trials);
    CHECK(alone.settled);
    CHECK(alone.trials > 4000);
    // u = 0.2887, 2 digits: to 0.005; the mean's own standard error at the end is at most half of that.
    CHECK(2.0 * alone.mean_error <= 0.005);
    CHECK_THAT(alone.standard_uncertainty, WithinAbs(1.0 / std::sqrt(12.0), 5.0 * alone.uncertainty_error));
    study::MonteCarloOptions finer = options(2000, 20000);
    finer.digits = 5;
    const study::MonteCarlo unsettled = study::monte_carlo(trial, finer);
    CHECK_FALSE(unsettled.settled);
    CHECK(unsettled.trials == 20000);
}

TEST_CASE("Monte Carlo counts trials without a result, and needs some with one", "[study]") {
    std::atomic<std::int64_t> called{0};
    const auto sometimes = [&](std::int64_t i) -> std::optional<double> {
        ++called;
        if (i % 4 == 0) return std::nullopt;
        return i % 4 == 1 ? std::numeric_limits<double>::quiet_NaN() : uniform(i);
    };
    const study::MonteCarlo found = study::monte_carlo(sometimes, options(1000, 3000));
    CHECK(found.trials == called);
    CHECK(found.without_result == found.trials / 2);
    CHECK_THAT(found.mean, WithinAbs(0.5, 5.0 * 0.2887 / std::sqrt(500.0)));
    const auto never = [](std::int64_t) { return std::optional<double>(); };
    CHECK_THROWS_AS(study::monte_carlo(never, options(10, 100)), base::DomainError);
    CHECK_THROWS_AS(study::monte_carlo(never, options(1, 100)), base::DomainError);
    const auto constant = [](std::int64_t) { return std::optional<double>(0.1); };
    const study::MonteCarlo same = study::monte_carlo(constant, options(10, 1000));
    CHECK(same.trials == 20);
    CHECK_THAT(same.standard_uncertainty, WithinAbs(0.0, rounding));
}

TEST_CASE("the numerical tolerance is half a unit of the last digit kept", "[study]") {
    CHECK_THAT(study::numerical_tolerance(0.0348, 2), WithinRel(0.0005, rounding));
    CHECK_THAT(study::numerical_tolerance(0.0348, 1), WithinRel(0.005, rounding));
    CHECK_THAT(study::numerical_tolerance(9.96, 2), WithinRel(0.5, rounding));  // written as 10
    CHECK_THAT(study::numerical_tolerance(9.94, 2), WithinRel(0.05, rounding));
    CHECK(study::numerical_tolerance(0.0, 2) == 0.0);
    CHECK(study::monte_carlo_block(0.99) == 10000);
    CHECK(study::monte_carlo_block(0.999) == 100000);
}

TEST_CASE("a standard deviation is known better from more readings", "[study]") {
    const study::Interval few = study::deviation_interval(2.0, 10);
    const study::Interval many = study::deviation_interval(2.0, 1000000);
    CHECK(few.low < many.low);
    CHECK(few.high > many.high);
    CHECK(few.low < 2.0);
    CHECK(few.high > 2.0);
    // 1.96 / sqrt(2 (n - 1)) for many readings; the next term is of the order of its square.
    CHECK_THAT(many.high / 2.0 - 1.0, WithinRel(1.959964 / std::sqrt(2e6), 2e-3));
    CHECK(study::deviation_interval_of(2.0, study::endless).high == 2.0);
    CHECK(study::deviation_interval(0.0, 5).high == 0.0);
}

TEST_CASE("the interval of a standard deviation covers it 19 times of 20", "[study]") {
    // Sums of squares of 4 normal numbers, from pairs of uniform ones (Box and Muller): chi-squared of 4 degrees.
    int covered = 0;
    constexpr int repeats = 4000;
    for (int i = 0; i < repeats; ++i) {
        base::RandomSequence draws({3, base::Stream::ray}, i);
        const double squares = -2.0 * (std::log(draws.uniform()) + std::log(draws.uniform()));
        const study::Interval interval = study::deviation_interval(std::sqrt(squares / 4.0), 5);
        if (interval.low <= 1.0 && interval.high >= 1.0) ++covered;
    }
    CHECK_THAT(covered / static_cast<double>(repeats), WithinAbs(0.95, 5.0 * std::sqrt(0.95 * 0.05 / repeats)));
}
