// What a scan finds, from made-up readings whose answer is known.
#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/roundness.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

struct Readings {
    std::vector<double> place;
    std::vector<double> value;
};

std::vector<float> noise(std::size_t count, std::uint64_t seed) {
    std::vector<float> numbers((count + 63) / 64 * 64);
    fill_normals({seed, Stream::read_noise}, 0, 0, numbers);
    return numbers;
}

// A shaft with its high spot at 0.7 rad, 30 um off; turns in the direction of the sign.
Readings turning(int count, double turns, double deviation, std::uint64_t seed = 1) {
    const std::vector<float> numbers = noise(static_cast<std::size_t>(count), seed);
    Readings r;
    for (int i = 0; i < count; ++i) {
        const double angle = 2.0 * pi * turns * i / count;
        r.place.push_back(angle);
        r.value.push_back(1.0 * mm - 30.0 * um * std::cos(angle + 0.7) +
                          deviation * static_cast<double>(numbers[static_cast<std::size_t>(i)]));
    }
    return r;
}

}  // namespace

TEST_CASE("eccentricity and high spot come out of whole turns, either way round", "[roundness][unit]") {
    for (const double turns : {1.0, 2.0, 2.7, -1.0, -3.4}) {
        const Readings r = turning(500, turns, 0.0);
        const auto found = measure::run_out(r.place, r.value);
        REQUIRE(found);
        constexpr double rounding = 1e-9;
        CHECK(found->eccentricity.value == Approx(30.0 * um).epsilon(rounding));
        CHECK(found->high_spot.value == Approx(0.7).epsilon(rounding));
        CHECK(found->revolutions == static_cast<std::int64_t>(std::floor(std::abs(turns))));
        CHECK(found->total == Approx(60.0 * um).epsilon(1e-3));  // samples miss the crests by 1 - cos(step / 2)
        CHECK(found->out_of_roundness < 1e-6 * um);
    }
}

TEST_CASE("run-out scatters from shaft to shaft as its standard uncertainty says", "[roundness][unit]") {
    constexpr int shafts = 200;
    double squares = 0.0;
    double uncertainty = 0.0;
    for (int k = 0; k < shafts; ++k) {
        const Readings r = turning(400, 2.0, 2.0 * um, static_cast<std::uint64_t>(k) + 10);
        const auto found = measure::run_out(r.place, r.value);
        REQUIRE(found);
        squares += std::pow(found->eccentricity.value - 30.0 * um, 2.0) / shafts;
        uncertainty += found->eccentricity.uncertainty / shafts;
    }
    // A deviation from 200 shafts is known to 1 / sqrt(400); the allowance for neighbours that are alike by chance
    // adds.
    CHECK(uncertainty == Approx(std::sqrt(squares)).epsilon(4.0 * 0.05));
}

TEST_CASE("errors that come round with the surface lower the uncertainty by turns no further", "[roundness][unit]") {
    const auto uncertainty = [](int turns) {
        const std::vector<float> numbers = noise(200, 3);
        Readings r;
        for (int i = 0; i < 200 * turns; ++i) {
            r.place.push_back(2.0 * pi * i / 200.0);
            r.value.push_back(10.0 * um * std::cos(2.0 * pi * i / 200.0) +
                              um * static_cast<double>(numbers[static_cast<std::size_t>(i % 200)]));
        }
        return measure::run_out(r.place, r.value)->eccentricity.uncertainty;
    };
    CHECK(uncertainty(8) == Approx(uncertainty(1)).epsilon(0.15));  // by the chance correlations of 200 numbers
}

TEST_CASE("less than a turn, or one with a gap, gives no run-out", "[roundness][unit]") {
    const Readings part = turning(500, 0.9, 0.0);
    CHECK_FALSE(measure::run_out(part.place, part.value));
    Readings gap = turning(500, 1.0, 0.0);
    gap.place.erase(gap.place.begin() + 200, gap.place.begin() + 400);
    gap.value.erase(gap.value.begin() + 200, gap.value.begin() + 400);
    CHECK_FALSE(measure::run_out(gap.place, gap.value));
    CHECK_FALSE(measure::run_out({}, {}));
}

TEST_CASE("a circle through an arc is found exactly, and to its uncertainty with noise", "[roundness][unit]") {
    const auto arc = [](double deviation) {
        const std::vector<float> numbers = noise(300, 5);
        Readings r;
        for (int i = 0; i < 300; ++i) {
            const double angle = (-25.0 + 50.0 * i / 299.0) * degree;
            r.place.push_back(2.0 * mm + 20.0 * mm * std::sin(angle));
            r.value.push_back(5.0 * mm - 20.0 * mm * std::cos(angle) +
                              deviation * static_cast<double>(numbers[static_cast<std::size_t>(i)]));
        }
        return r;
    };
    const Readings exact = arc(0.0);
    const auto circle = measure::fit_circle(exact.place, exact.value);
    REQUIRE(circle);
    CHECK(circle->radius.value == Approx(20.0 * mm).epsilon(1e-9));
    CHECK(circle->centre.x() == Approx(2.0 * mm).epsilon(1e-9));
    const Readings noisy = arc(5.0 * um);
    const auto near = measure::fit_circle(noisy.place, noisy.value);
    REQUIRE(near);
    CHECK(near->radius.uncertainty > 1.0 * um);
    CHECK(std::abs(near->radius.value - 20.0 * mm) < 3.0 * near->radius.uncertainty);
}

TEST_CASE("points on a line, or three of them, make no circle", "[roundness][unit]") {
    const std::vector<double> x{0.0, 1.0, 2.0, 3.0, 4.0};
    CHECK_FALSE(measure::fit_circle(x, x));
    CHECK_FALSE(measure::fit_circle(std::vector<double>{0.0, 1.0, 0.0}, std::vector<double>{0.0, 0.0, 1.0}));
    CHECK_FALSE(measure::fit_circle(std::vector<double>(9, 1.0), std::vector<double>(9, 2.0)));
}

TEST_CASE("a step's height does not care about tilt, about its edge, or about the way of the scan",
          "[roundness][unit]") {
    for (const bool backwards : {false, true}) {
        const std::vector<float> numbers = noise(600, 9);
        Readings r;
        for (int i = 0; i < 600; ++i) {
            const double x = (backwards ? 599 - i : i) * 5.0 * um;
            double d = 0.02 * x - (x > 1.1 * mm ? 0.4 * mm : 0.0) +
                       1.0 * um * static_cast<double>(numbers[static_cast<std::size_t>(i)]);
            if (std::abs(x - 1.1 * mm) < 0.1 * mm) d += 0.3 * mm;  // what the edge does to readings
            if (i % 100 == 7) d -= 0.5 * mm;                       // and dirt
            r.place.push_back(x);
            r.value.push_back(d);
        }
        const auto found = measure::step_height(r.place, r.value);
        REQUIRE(found);
        CHECK(std::abs(found->edge - 1.1 * mm) < 0.11 * mm);
        CHECK(found->height.uncertainty < 0.5 * um);
        CHECK(std::abs(found->height.value - 0.4 * mm) < 3.0 * found->height.uncertainty);
    }
}

TEST_CASE("a scan without two plateaus gives no height, or none worth mentioning", "[roundness][unit]") {
    CHECK_FALSE(measure::step_height(std::vector<double>{1.0, 2.0}, std::vector<double>{1.0, 2.0}));
    std::vector<double> x;
    std::vector<double> level;
    for (int i = 0; i < 100; ++i) {
        x.push_back(i * um);
        level.push_back(0.25 * mm);
    }
    const auto none = measure::step_height(x, level);
    REQUIRE(none);
    CHECK(std::abs(none->height.value) < 1e-9 * um);
}
