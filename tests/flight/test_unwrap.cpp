#include <catch2/catch.hpp>

#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/unwrap.hpp"

using namespace spotwright;
using base::MHz, base::ns, base::pi, base::speed_of_light;

namespace {

std::vector<flight::PhaseReading> readings_of(double delay, const std::vector<double>& frequencies, double deviation) {
    std::vector<flight::PhaseReading> readings;
    for (const double f : frequencies) {
        readings.push_back({f, 2.0 * pi * (f * delay - std::floor(f * delay)), deviation});
    }
    return readings;
}

void check_recovered(const std::vector<double>& frequencies, const flight::DelayRange& range) {
    for (int i = 1; i < 500; ++i) {
        const double delay = range.least + (range.greatest - range.least) * i / 500.0;
        const auto found = flight::unwrap(readings_of(delay, frequencies, 1e-3), range);
        REQUIRE(found);
        CHECK(found->delay == Approx(delay).epsilon(1e-12));
        CHECK(found->wrap_risk < 1e-12);
    }
}

// Least distance between the phases of a delay and those of none, whole turns apart, by trying delays one by one.
double scanned_distance(const std::vector<double>& frequencies, double span, double step) {
    double least = 1.0;
    for (double delay = 0.0; delay <= span; delay += step) {
        double squares = 0.0;
        double turns = 0.0;
        for (const double f : frequencies) {
            squares += std::pow(f * delay - std::round(f * delay), 2);
            turns += std::round(f * delay);
        }
        if (turns > 0.0) least = std::min(least, std::sqrt(squares));
    }
    return least;
}

/// The whole-number test of two frequencies with multiples 5 and 4 of 4 MHz.
struct IntegerTest {
    double margin;  ///< from the nearest tie. [1]
    double delay;   ///< mean of both, [s]
    double apart;   ///< difference of both. [s]
};

IntegerTest integer_test(double p1, double p2) {
    const double difference = 4.0 * p1 - 5.0 * p2;
    const int m = static_cast<int>(std::lround(difference));
    IntegerTest test{0.5 - std::abs(difference - m), 0.0, 0.0};
    for (int k1 = 0; k1 < 5; ++k1) {
        for (int k2 = 0; k2 < 4; ++k2) {
            if ((5 * k2 - 4 * k1 - m) % 20 != 0) continue;
            const double first = (p1 + k1) / (20.0 * MHz);
            const double second = (p2 + k2) / (16.0 * MHz);
            test.delay = (25.0 * first + 16.0 * second) / 41.0;
            test.apart = std::abs(first - second);
        }
    }
    return test;
}

// The best of all sets of whole numbers of three frequencies, by trying each.
flight::Unwrapped best_of_all(const std::vector<flight::PhaseReading>& readings, const flight::DelayRange& range) {
    flight::Unwrapped best;
    double least = std::numeric_limits<double>::infinity();
    std::vector<double> all;
    const auto number = [](int i) { return static_cast<double>(i % 10 - 1); };
    for (int set = 0; set < 1000; ++set) {
        const double k[] = {number(set), number(set / 10), number(set / 100)};
        double numerator = 0.0;
        double denominator = 0.0;
        for (std::size_t i = 0; i < 3; ++i) {
            const double slope = 2.0 * pi * readings[i].frequency / readings[i].deviation;
            numerator += slope * (readings[i].phase + 2.0 * pi * k[i]) / readings[i].deviation;
            denominator += slope * slope;
        }
        const double delay = numerator / denominator;
        if (delay < range.least || delay > range.greatest) continue;
        double squares = 0.0;
        for (std::size_t i = 0; i < 3; ++i) {
            const double off = readings[i].phase + 2.0 * pi * (k[i] - readings[i].frequency * delay);
            squares += std::pow(off / readings[i].deviation, 2);
        }
        all.push_back(squares);
        if (squares < least) best.delay = delay;
        least = std::min(least, squares);
    }
    double sum = 0.0;
    for (const double squares : all) sum += std::exp(0.5 * (least - squares));
    best.wrap_risk = 1.0 - 1.0 / sum;
    return best;
}

}  // namespace

TEST_CASE("one to four frequencies give back every delay of their range", "[unit]") {
    check_recovered({20.0 * MHz}, {0.0, 50.0 * ns});
    check_recovered({20.0 * MHz}, {170.0 * ns, 220.0 * ns});
    check_recovered({20.0 * MHz, 16.0 * MHz}, {0.0, 250.0 * ns});
    check_recovered({16.0 * MHz, 20.0 * MHz}, {-125.0 * ns, 125.0 * ns});
    check_recovered({10.0 * MHz, 100.0 * MHz}, {0.0, 100.0 * ns});
    check_recovered({80.0 * MHz, 70.0 * MHz, 56.0 * MHz}, {0.0, 500.0 * ns});
    check_recovered({1.0 * MHz, 13.7 * MHz, 61.3 * MHz, 240.1 * MHz}, {0.0, 1000.0 * ns});
}

TEST_CASE("20 and 16 MHz find 23.456 m behind three periods of the first", "[unit]") {
    const double delay = 2.0 * 23.456 / speed_of_light;
    const flight::DelayRange range{0.0, flight::unambiguous_delay(std::vector{20.0 * MHz, 16.0 * MHz})};
    const auto found =
        flight::unwrap({{{20.0 * MHz, 2.0 * pi * 0.129631767, 0.1}, {16.0 * MHz, 2.0 * pi * 0.503705413, 0.1}}}, range);
    REQUIRE(found);
    CHECK(found->delay == Approx(delay).epsilon(1e-9));
    CHECK(std::floor(found->delay * 20.0 * MHz) == 3.0);
}

TEST_CASE("two frequencies are unwrapped as by the whole-number test", "[unit]") {
    std::mt19937 random(1);
    std::uniform_real_distribution<double> cycle(0.0, 1.0);
    const flight::DelayRange range{0.0, 250.0 * ns};
    int compared = 0;
    for (int i = 0; i < 2000; ++i) {
        const double p1 = cycle(random);
        const double p2 = cycle(random);
        const IntegerTest test = integer_test(p1, p2);
        // Left out: ties, and answers at the ends, where the two frequencies may stand at opposite ends.
        if (test.margin < 0.01 || test.apart > 50.0 * ns) continue;
        if (test.delay < 5.0 * ns || test.delay > 245.0 * ns) continue;
        const auto found =
            flight::unwrap({{{20.0 * MHz, 2.0 * pi * p1, 0.1}, {16.0 * MHz, 2.0 * pi * p2, 0.1}}}, range);
        REQUIRE(found);
        CHECK(found->delay == Approx(test.delay).epsilon(1e-9));
        ++compared;
    }
    CHECK(compared > 1500);
}

TEST_CASE("unwrapping finds the best of all whole numbers, however noisy the phases", "[unit]") {
    std::mt19937 random(2);
    std::uniform_real_distribution<double> phase(0.0, 2.0 * pi);
    const flight::DelayRange range{0.0, 110.0 * ns};
    for (int i = 0; i < 300; ++i) {
        const std::vector<flight::PhaseReading> readings{
            {17.0 * MHz, phase(random), 0.3}, {61.0 * MHz, phase(random), 1.0}, {40.0 * MHz, phase(random), 0.6}};
        const flight::Unwrapped best = best_of_all(readings, range);
        const auto found = flight::unwrap(readings, range);
        REQUIRE(found);
        CHECK(found->delay == Approx(best.delay).epsilon(1e-9));
        CHECK(found->wrap_risk == Approx(best.wrap_risk).margin(1e-6));
    }
}

TEST_CASE("the better of two phases weighs more", "[unit]") {
    // Both say 100 ns, but for a tenth of a nanosecond that one has too much.
    auto readings = readings_of(100.0 * ns, {20.0 * MHz, 16.0 * MHz}, 0.1);
    readings[1].phase += 2.0 * pi * 16.0 * MHz * 0.1 * ns;
    readings[1].deviation = 0.2;
    const double share = 16.0 * 16.0 / 4.0 / (16.0 * 16.0 / 4.0 + 20.0 * 20.0);
    CHECK(flight::unwrap(readings, {0.0, 250.0 * ns})->delay == Approx(100.0 * ns + share * 0.1 * ns).epsilon(1e-12));
}

TEST_CASE("the risk of a wrong wrap says how many answers are as good", "[unit]") {
    const std::vector<double> one{20.0 * MHz};
    CHECK(flight::unwrap(readings_of(20.0 * ns, one, 0.01), {0.0, 50.0 * ns})->wrap_risk == 0.0);
    CHECK(flight::unwrap(readings_of(20.0 * ns, one, 0.01), {0.0, 100.0 * ns})->wrap_risk == Approx(0.5));
    CHECK(flight::unwrap(readings_of(20.0 * ns, one, 0.01), {0.0, 200.0 * ns})->wrap_risk == Approx(0.75));
    // Half-way between two whole numbers, m = 0.5.
    const auto tie = flight::unwrap({{{20.0 * MHz, pi, 0.1}, {16.0 * MHz, 0.6 * pi, 0.1}}}, {0.0, 250.0 * ns});
    CHECK(tie->wrap_risk == Approx(0.5).margin(1e-3));
}

TEST_CASE("phases that say nothing leave every whole number open", "[unit]") {
    const auto guess = flight::unwrap(readings_of(100.0 * ns, {20.0 * MHz, 16.0 * MHz}, 1.8), {0.0, 250.0 * ns});
    REQUIRE(guess);
    CHECK(guess->wrap_risk > 0.7);
}

TEST_CASE("there is no answer where no whole number leads into the range", "[unit]") {
    const std::vector<double> one{20.0 * MHz};
    CHECK_FALSE(flight::unwrap(readings_of(20.0 * ns, one, 0.01), {0.0, 10.0 * ns}));
    CHECK(flight::unwrap(readings_of(20.0 * ns, one, 0.01), {60.0 * ns, 80.0 * ns})->delay == Approx(70.0 * ns));
}

TEST_CASE("the unambiguous delay is one over the greatest common divisor", "[unit]") {
    CHECK(flight::unambiguous_delay(std::vector{20.0 * MHz}) == Approx(50.0 * ns));
    CHECK(flight::unambiguous_delay(std::vector{20.0 * MHz, 16.0 * MHz}) == Approx(250.0 * ns));
    CHECK(flight::unambiguous_delay(std::vector{80.0 * MHz, 70.0 * MHz, 56.0 * MHz}) == Approx(500.0 * ns));
}

TEST_CASE("two multiples of one frequency stand 1 / sqrt(M1^2 + M2^2) apart", "[unit]") {
    const std::vector<double> pair{20.0 * MHz, 16.0 * MHz};
    CHECK(flight::min_wrap_distance(pair, {0.0, 225.0 * ns}) == Approx(1.0 / std::sqrt(41.0)));
    CHECK(flight::min_wrap_distance(pair, {40.0 * ns, 265.0 * ns}) == Approx(1.0 / std::sqrt(41.0)));
    CHECK(flight::min_wrap_distance(pair, {0.0, 250.0 * ns}) < 1e-9);
    CHECK(flight::min_wrap_distance(pair, {0.0, 2000.0 * ns}) < 1e-9);
    // The chance of a wrong wrap says the same: half the distance, in standard deviations.
    const double s = 0.2;
    CHECK(flight::wrap_error_chance(5.0, 4.0, s, s) ==
          Approx(std::erfc(2.0 * pi / (std::sqrt(41.0) * 2.0 * std::sqrt(2.0) * s))));
}

TEST_CASE("a single frequency tells apart what lies within one period", "[unit]") {
    const std::vector<double> one{20.0 * MHz};
    CHECK(flight::min_wrap_distance(one, {0.0, 0.0}) == 1.0);
    CHECK(flight::min_wrap_distance(one, {0.0, 40.0 * ns}) == Approx(0.2));
    CHECK(flight::min_wrap_distance(one, {0.0, 60.0 * ns}) == Approx(0.0).margin(1e-12));
}

TEST_CASE("the distance of wraps is that of trying all delays", "[unit]") {
    const std::vector<std::vector<double>> sets{{20.0 * MHz, 17.3 * MHz},
                                                {61.0 * MHz, 60.1 * MHz, 17.0 * MHz},
                                                {80.0 * MHz, 70.0 * MHz, 56.0 * MHz},
                                                {100.0 * MHz, 10.0 * MHz, 9.9 * MHz, 33.3 * MHz}};
    for (const std::vector<double>& set : sets) {
        for (const double span : {30.0 * ns, 180.0 * ns, 470.0 * ns}) {
            const double step = 0.005 * ns;
            // A step moves each phase by at most 0.0005 cycles.
            CHECK(flight::min_wrap_distance(set, {0.0, span}) ==
                  Approx(scanned_distance(set, span, step)).margin(0.001));
        }
    }
}

TEST_CASE("frequencies that nearly repeat cannot be told apart", "[unit]") {
    // The greatest common divisor is 1 Hz: unambiguous in name to 1 s, in truth not even to 300 ns.
    const std::vector<double> set{20.0 * MHz, 16000001.0};
    CHECK(flight::unambiguous_delay(set) == Approx(1.0));
    CHECK(flight::min_wrap_distance(set, {0.0, 300.0 * ns}) < 0.02);
}

TEST_CASE("extreme but allowed phases give numbers", "[unit]") {
    for (const double deviation : {1e-300, 1e-12, 1.0, 1e300}) {
        auto readings = readings_of(100.0 * ns, {20.0 * MHz, 16.0 * MHz, 3.0 * MHz}, deviation);
        readings[1].phase += 3.0;
        readings[2].deviation = 1e-300;
        const auto found = flight::unwrap(readings, {0.0, 4e-3});  // 80000 periods
        REQUIRE(found);
        CHECK(std::isfinite(found->delay));
        CHECK((found->wrap_risk >= 0.0 && found->wrap_risk <= 1.0));
    }
}

TEST_CASE("unwrapping refuses what it cannot do", "[unit]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const flight::DelayRange range{0.0, 100.0 * ns};
    using Readings = std::vector<flight::PhaseReading>;
    CHECK_THROWS_AS(flight::unwrap(Readings{}, range), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings(5, {1e7, 0.0, 0.1}), range), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{1e7, 0.0, 0.0}}, range), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{1e7, nan, 0.1}}, range), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{0.0, 0.0, 0.1}}, range), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{1e7, 0.0, 0.1}}, {0.0, 0.02}), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{1e7, 0.0, 0.1}}, {1.0, 0.0}), base::DomainError);
    CHECK_THROWS_AS(flight::unwrap(Readings{{1e7, 0.0, 0.1}}, {nan, 1.0}), base::DomainError);
    CHECK_THROWS_AS(flight::unambiguous_delay({}), base::DomainError);
    CHECK_THROWS_AS(flight::unambiguous_delay(std::vector{0.5}), base::DomainError);
    CHECK_THROWS_AS(flight::min_wrap_distance(std::vector{2e7}, {0.0, 0.02}), base::DomainError);
    CHECK_THROWS_AS(flight::min_wrap_distance({}, range), base::DomainError);
    CHECK_THROWS_AS(flight::wrap_error_chance(0.0, 4.0, 0.1, 0.1), base::DomainError);
    CHECK_THROWS_AS(flight::wrap_error_chance(5.0, 4.0, -0.1, 0.1), base::DomainError);
    CHECK(flight::wrap_error_chance(5.0, 4.0, 0.0, 0.0) == 0.0);
}
