// Allan deviations of series whose slopes are known, and of series with gaps.
#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <vector>

#include "sim/base/border.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/study/allan.hpp"

using namespace spotwright;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

// Normal numbers of deviation 1.
std::vector<double> white(std::size_t count, std::int64_t index = 0) {
    constexpr std::size_t block = 64;
    std::vector<float> normals((count + block - 1) / block * block);
    base::fill_normals({11, base::Stream::read_noise}, index, 0, normals);
    return {normals.begin(), normals.begin() + static_cast<std::ptrdiff_t>(count)};
}

std::vector<double> ramp(std::size_t count, double slope) {
    std::vector<double> values;
    for (std::size_t i = 0; i < count; ++i) values.push_back(slope * static_cast<double>(i));
    return values;
}

// Degrees of freedom that a point's interval was made with, found back by halving.
double freedom_behind(const study::AllanPoint& point) {
    const auto is_too_few = [&point](double log_freedom) {
        return study::deviation_interval_of(point.deviation, std::exp(log_freedom)).low < point.interval.low;
    };
    return std::exp(base::border_between(std::log(0.5), std::log(1e6), is_too_few, 100, 1e-9).holds);
}

}  // namespace

TEST_CASE("white readings average down with the root of their number", "[study]") {
    const auto curve = study::allan_curve(white(1U << 16U), 1e-3);
    REQUIRE(curve.size() == 15);
    for (const study::AllanPoint& point : curve) {
        INFO(point.count);
        CHECK(point.time == static_cast<double>(point.count) * 1e-3);
        const double expected = 1.0 / std::sqrt(static_cast<double>(point.count));
        // Half of a 95 % interval is 1.96 standard errors; 3 times as much is missed once in 1e8, skewed ends apart.
        CHECK(point.deviation - 3.0 * (point.deviation - point.interval.low) < expected);
        CHECK(point.deviation + 3.0 * (point.interval.high - point.deviation) > expected);
        CHECK(point.interval.low < point.deviation);
        CHECK(point.interval.high > point.deviation);
    }
    CHECK_THAT(curve[6].deviation, WithinRel(0.125, 0.05));  // 1000 averages: 2 % a standard error
}

TEST_CASE("a drift grows with the time, in every statistic but one", "[study]") {
    const std::vector<double> drift = ramp(600, 0.3);
    for (const std::int64_t count : {1, 7, 64}) {
        const double expected = 0.3 * static_cast<double>(count) / std::sqrt(2.0);
        constexpr double rounding = 1e-9;
        CHECK_THAT(study::allan_deviation(drift, count), WithinRel(expected, rounding));
        CHECK_THAT(study::overlapping_allan_deviation(drift, count), WithinRel(expected, rounding));
        CHECK_THAT(study::modified_allan_deviation(drift, count), WithinRel(expected, rounding));
        CHECK_THAT(study::hadamard_deviation(drift, count), WithinAbs(0.0, rounding));
    }
}

TEST_CASE("a random walk grows with the root of the time", "[study]") {
    std::vector<double> walk = white(1U << 16U);
    for (std::size_t i = 1; i < walk.size(); ++i) walk[i] += walk[i - 1];
    const auto curve = study::allan_curve(walk, 1.0);
    // Of averages of m steps: sqrt((2 m^2 + 1) / (6 m)), derived. 256 averages: 5 % a standard error.
    CHECK_THAT(curve[8].deviation, WithinRel(std::sqrt((2.0 * 65536.0 + 1.0) / (6.0 * 256.0)), 0.2));
    CHECK_THAT(curve[0].deviation, WithinRel(std::sqrt(0.5), 0.02));
}

TEST_CASE("the intervals of white readings hold the truth 19 times of 20", "[study]") {
    for (const std::size_t place : {0U, 4U}) {
        int held = 0;
        constexpr int repeats = 3000;
        double sum = 0.0;
        double squares = 0.0;
        study::AllanPoint point;
        for (int i = 0; i < repeats; ++i) {
            point = study::allan_curve(white(128, i + 1), 1.0)[place];
            const double expected = 1.0 / std::sqrt(static_cast<double>(point.count));
            if (point.interval.low <= expected && point.interval.high >= expected) ++held;
            const double variance = point.deviation * point.deviation;
            sum += variance;
            squares += variance * variance;
        }
        INFO("averages of " << point.count);
        // 5 standard errors, and 1 % because overlapping squares are chi-squared only nearly.
        CHECK_THAT(held / static_cast<double>(repeats), WithinAbs(0.95, 5.0 * std::sqrt(0.0475 / repeats) + 0.01));
        // Chi-squared of f degrees has the relative variance 2 / f; of 3000 values it is known to some 3.5 %.
        const double mean = sum / repeats;
        const double relative_variance = squares / repeats / (mean * mean) - 1.0;
        CHECK_THAT(freedom_behind(point), WithinRel(2.0 / relative_variance, 0.14));
    }
}

TEST_CASE("a constant offset of the readings changes nothing", "[study]") {
    std::vector<double> shifted = white(1000);
    const auto curve = study::allan_curve(shifted, 1.0);
    for (double& value : shifted) value += 1e6;
    const auto moved = study::allan_curve(shifted, 1.0);
    constexpr double rounding = 1e-8;  // 1e6 times 1e-16, over thousand sums
    for (std::size_t i = 0; i < curve.size(); ++i)
        CHECK_THAT(moved[i].deviation, WithinRel(curve[i].deviation, rounding));
}

TEST_CASE("noise and drift have their best averaging time where they meet", "[study]") {
    // Noise s every T, drift D: s^2 T / t + D^2 t^2 / 2 is least at t^3 = s^2 T / D^2; here 0.01 / (0.02^2) = 25.
    std::vector<double> readings = white(1U << 15U);
    for (std::size_t i = 0; i < readings.size(); ++i) readings[i] += 0.02 * 0.01 * static_cast<double>(i);
    const study::AllanStudy result = study::allan_study(readings, 0.01);
    REQUIRE(result.least);
    CHECK(result.min_inside);
    // Powers of two next to 2.92 s.
    CHECK(result.least->time >= 1.28);
    CHECK(result.least->time <= 5.12);
    CHECK(result.gaps == study::Gaps::none);
    CHECK_FALSE(study::allan_study(white(4096), 1.0).min_inside);
}

TEST_CASE("few gaps are closed, and many leave the longest stretch", "[study]") {
    std::vector<double> readings = white(1000);
    for (const std::size_t i : {10U, 500U, 900U}) readings[i] = missing;
    const study::AllanStudy closed = study::allan_study(readings, 1.0);
    CHECK(closed.gaps == study::Gaps::closed);
    CHECK(closed.missing == 3);
    CHECK(closed.used == 997);
    for (std::size_t i = 100; i < 110; ++i) readings[i] = missing;
    const study::AllanStudy cut = study::allan_study(readings, 1.0);
    CHECK(cut.gaps == study::Gaps::longest_run);
    CHECK(cut.missing == 13);
    CHECK(cut.used == 399);  // 501 to 899
    const std::vector<double> stretch(readings.begin() + 501, readings.begin() + 900);
    CHECK(cut.curve.back().deviation == study::allan_curve(stretch, 1.0).back().deviation);
    const study::AllanStudy nothing = study::allan_study(std::vector<double>(50, missing), 1.0);
    CHECK(nothing.curve.empty());
    CHECK_FALSE(nothing.least);
    CHECK(study::allan_study({}, 1.0).curve.empty());
}

TEST_CASE("too few readings and no period are refused", "[study]") {
    const std::vector<double> three{1.0, 2.0, 4.0};
    CHECK_THROWS_AS(study::allan_deviation(three, 2), base::DomainError);
    CHECK_THROWS_AS(study::allan_deviation(three, 0), base::DomainError);
    CHECK_THROWS_AS(study::allan_deviation(three, std::numeric_limits<std::int64_t>::max()), base::DomainError);
    CHECK_THROWS_AS(study::modified_allan_deviation(three, 2), base::DomainError);
    CHECK_THROWS_AS(study::hadamard_deviation(std::vector<double>{1.0, 2.0}, 1), base::DomainError);
    CHECK_THROWS_AS(study::allan_deviation(std::vector<double>{1.0, missing}, 1), base::DomainError);
    CHECK_THROWS_AS(study::allan_curve(three, 0.0), base::DomainError);
    CHECK(study::allan_curve(three, 1.0).empty());
}
