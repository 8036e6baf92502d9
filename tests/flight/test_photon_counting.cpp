// Times of single photons. The worked values are those of a Gaussian of arrival times, s = 100 ps.
#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/photon_counting.hpp"

using namespace spotwright;
using base::ns, base::ps;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

constexpr double s = 100.0 * ps;
constexpr double middle = 5.003 * ns;
constexpr double deviations = 5.0;  // of statistical claims: false alarm 6e-7 each

flight::PhotonCounter counter(bool corrected) {
    flight::PhotonCounter c;
    c.deviation = s;
    c.bin = 10.0 * ps;
    c.gate_end = 10.0 * ns;
    c.pile_up_corrected = corrected;
    return c;
}

// Light of so many photons a pulse, and so many of constant light in the gate.
flight::CountingPlan plan_of(const flight::PhotonCounter& c, double photons, double background) {
    return flight::make_counting_plan(c, {{{middle, photons / ns}}, background / (c.gate_end - c.gate_begin)}, ns);
}

double sum_of(const std::vector<std::int64_t>& counts) {
    return static_cast<double>(std::accumulate(counts.begin(), counts.end(), std::int64_t{0}));
}

}  // namespace

TEST_CASE("a histogram's mean keeps the photons of the pulse and those of constant light", "[unit]") {
    const flight::CountingPlan plan = plan_of(counter(false), 0.3, 0.2);
    CHECK_THAT(std::accumulate(plan.mean.begin(), plan.mean.end(), 0.0), WithinRel(0.5, 1e-12));
    CHECK_THAT(plan.cumulative.back(), WithinRel(1.0 - std::exp(-0.5), 1e-12));
}

TEST_CASE("with one photon in the mean 63.2 % of pulses give a time", "[unit]") {
    flight::PhotonCounter c = counter(false);
    c.pulses = 100000;
    const flight::CountingPlan plan = plan_of(c, 1.0, 0.0);
    const double share = flight::time_of(plan, flight::count_photons(plan, 1, 0)).detected_share;
    CHECK_THAT(share, WithinAbs(0.632120559, deviations * std::sqrt(0.632 * 0.368 / 1e5)));
}

TEST_CASE("the first of several photons comes early: by 0.0282 s at 0.1 photons and 0.278 s at one", "[unit]") {
    // Without noise: bins of s / 10 add nothing but a hundredth of their own curvature.
    const auto bias = [](double photons, bool corrected) {
        flight::PhotonCounter c = counter(corrected);
        c.pulses = 1000000;
        return (flight::noiseless_time(plan_of(c, photons, 0.0)).value() - middle) / s;
    };
    CHECK_THAT(bias(0.05, false), WithinAbs(-0.014104224, 2e-5));
    CHECK_THAT(bias(0.1, false), WithinAbs(-0.028205355, 2e-5));
    CHECK_THAT(bias(1.0, false), WithinAbs(-0.278064027, 1e-4));
    CHECK_THAT(bias(5.0, false), WithinAbs(-1.08156867, 1e-3));  // the window of 5 s stands about the shifted peak
    for (const double photons : {0.05, 0.1, 1.0, 5.0}) CHECK_THAT(bias(photons, true), WithinAbs(0.0, 1e-4));
}

TEST_CASE("rates of 0.05, 0.2 and 0.1 come back from the counts of first photons", "[unit]") {
    const std::vector<std::int64_t> counts{48771, 172429, 74113};  // of a million; rounded to whole counts
    const std::vector<double> rates = flight::corrected_counts(counts, 1000000);
    CHECK_THAT(rates[0], WithinAbs(0.05, 1e-6));
    CHECK_THAT(rates[1], WithinAbs(0.2, 1e-6));
    CHECK_THAT(rates[2], WithinAbs(0.1, 1e-6));
}

TEST_CASE("a bin that takes all pulses left counts as if half a pulse were left", "[unit]") {
    const std::vector<double> rates = flight::corrected_counts(std::vector<std::int64_t>{6, 4, 0}, 10);
    CHECK_THAT(rates[1], WithinRel(std::log(8.0), 1e-14));
    CHECK(rates[2] == 0.0);
}

TEST_CASE("counts follow the chances of their bins", "[unit]") {
    flight::PhotonCounter c = counter(false);
    c.bin = 500.0 * ps;
    c.deviation = 800.0 * ps;
    c.pulses = 200000;
    const flight::CountingPlan plan = plan_of(c, 0.7, 0.5);
    const std::vector<std::int64_t> counts = flight::count_photons(plan, 6, 2);
    double before = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double expected = static_cast<double>(c.pulses) * (plan.cumulative[i] - before);
        before = plan.cumulative[i];
        CHECK_THAT(static_cast<double>(counts[i]), WithinAbs(expected, deviations * std::sqrt(expected)));
    }
}

TEST_CASE("without background the centroid of N photons scatters by s / sqrt(N)", "[unit]") {
    flight::PhotonCounter c = counter(true);
    c.pulses = 4000;
    const flight::CountingPlan plan = plan_of(c, 0.05, 0.0);
    constexpr std::int64_t readings = 1000;
    double squares = 0.0;
    double mean = 0.0;
    for (std::int64_t i = 0; i < readings; ++i) {
        const double error = flight::time_of(plan, flight::count_photons(plan, 1, i)).time.value() - middle;
        squares += error * error / readings;
        mean += error / readings;
    }
    // N itself scatters: mean of 1 / N is 1 + 1 / N of 1 / mean of N. Bins of s / 10 add a thousandth.
    const double expected = s / std::sqrt(4000.0 * -std::expm1(-0.05));
    CHECK_THAT(std::sqrt(squares), WithinAbs(expected, expected * (deviations / std::sqrt(2.0 * readings) + 0.01)));
    CHECK_THAT(mean, WithinAbs(0.0, deviations * expected / std::sqrt(readings)));
}

TEST_CASE("even background does not draw the time towards the middle of the gate", "[unit]") {
    flight::PhotonCounter c = counter(true);
    c.pulses = 1000000;
    c.gate_end = 30.0 * ns;
    // A plain centroid over the gate would be off by 10 ns times the background's share of the photons.
    CHECK_THAT(flight::noiseless_time(plan_of(c, 0.02, 0.2)).value(), WithinAbs(middle, 0.002 * s));
}

TEST_CASE("where no pulse stands out there is no time", "[unit]") {
    flight::PhotonCounter c = counter(true);
    for (const double background : {0.0, 1e-3, 0.1, 2.0}) {
        const flight::CountingPlan plan = plan_of(c, 0.0, background);
        for (std::int64_t i = 0; i < 300; ++i) {
            CHECK_FALSE(flight::time_of(plan, flight::count_photons(plan, 9, i)).time);
        }
    }
    CHECK(flight::time_of(plan_of(c, 0.1, 0.1), flight::count_photons(plan_of(c, 0.1, 0.1), 9, 0)).time);
}

TEST_CASE("light that fills every pulse still gives a time, near the pulse's beginning", "[unit]") {
    flight::PhotonCounter c = counter(true);
    const flight::CountingPlan plan = plan_of(c, 1e6, 0.0);
    const flight::CountReading reading = flight::time_of(plan, flight::count_photons(plan, 9, 0));
    CHECK(reading.detected_share == 1.0);
    CHECK(*reading.time < middle);
    CHECK(*reading.time > middle - 6.0 * s);
}

TEST_CASE("counts of a longer reading begin with those of a shorter one", "[unit]") {
    flight::PhotonCounter c = counter(true);
    std::vector<std::int64_t> before(1000, 0);
    for (const std::int64_t pulses : {1, 100, 1024, 1500, 5000}) {
        c.pulses = pulses;
        const std::vector<std::int64_t> counts = flight::count_photons(plan_of(c, 0.5, 0.5), 3, 11);
        for (std::size_t i = 0; i < counts.size(); ++i) CHECK(counts[i] >= before[i]);
        before = counts;
    }
    const flight::CountingPlan plan = plan_of(c, 0.5, 0.5);
    CHECK(flight::count_photons(plan, 3, 11) == before);
    CHECK(flight::count_photons(plan, 3, 12) != before);
    CHECK(flight::count_photons(plan, 4, 11) != before);
    CHECK_THAT(sum_of(before), WithinAbs(5000.0 * -std::expm1(-1.0), deviations * std::sqrt(5000.0 * 0.632 * 0.368)));
}

TEST_CASE("a counter that cannot be is refused", "[unit]") {
    const auto refused = [](const auto& change) {
        flight::PhotonCounter c = counter(true);
        change(c);
        CHECK_THROWS_AS(plan_of(c, 0.1, 0.1), base::DomainError);
    };
    refused([](flight::PhotonCounter& c) { c.deviation = 0.0; });
    refused([](flight::PhotonCounter& c) { c.bin = 0.0; });
    refused([](flight::PhotonCounter& c) { c.bin = 1e-15; });
    refused([](flight::PhotonCounter& c) { c.gate_end = 90.0 * ps; });
    refused([](flight::PhotonCounter& c) { c.pulses = 0; });
    CHECK_THROWS_AS(flight::make_counting_plan(counter(true), {{{0.0, 1.0}}, 0.0}, 0.0), base::DomainError);
    CHECK_THROWS_AS(flight::make_counting_plan(counter(true), {{{0.0, -1.0}}, 0.0}, ns), base::DomainError);
    CHECK_THROWS_AS(flight::corrected_counts(std::vector<std::int64_t>{6, 6}, 10), base::DomainError);
    CHECK_THROWS_AS(flight::corrected_counts(std::vector<std::int64_t>{-1}, 10), base::DomainError);
}
