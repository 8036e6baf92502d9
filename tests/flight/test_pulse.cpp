// Times of pulses at a comparator. Worked values are those of a Gaussian of 1 ns full width, s = 0.4246609 ns, where
// 1 V is 1e16 e/s here, so strong that shot noise is small: derived by hand from V(t) = V0 exp(-t^2 / (2 s^2)).
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/pulse.hpp"

using namespace spotwright;
using base::ns, base::ps;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using scenario::PulseTiming;

namespace {

constexpr double middle = 40.0 * ns;
constexpr double volt = 1e16;       // e/s
constexpr double deviations = 5.0;  // of statistical claims: false alarm 6e-7 each
// Interpolation in steps of a third of the response's deviation: six points, error below 2e-4 of the deviation of the
// signal where that is the response's, and far below where it is longer.
constexpr double interpolation = 2e-4 * 0.4247 * ns;

// A receiver whose signal has the whole width of 1 ns, made up of equal parts of pulse and response.
flight::PulseReceiver nanosecond(PulseTiming timing) {
    flight::PulseReceiver r;
    r.timing = timing;
    const double s = 1.0 * ns / (2.0 * std::sqrt(2.0 * std::log(2.0)));
    r.width = 1.0 * ns / std::sqrt(2.0);
    r.bandwidth = std::sqrt(std::log(2.0)) / (2.0 * base::pi * s / std::sqrt(2.0));
    r.threshold = 0.05 * volt;
    r.fraction_delay = 0.8 * ns;
    r.amplifier_noise = 0.0;
    r.jitter = 0.0;
    r.digitiser_step = 0.0;
    return r;
}

// Rate that gives a peak of the signal of so much. With equal parts the response lowers it by sqrt(2).
flight::Light of_peak(double peak) {
    return {{{middle, peak * std::sqrt(2.0)}}, 0.0};
}

double noiseless(const flight::PulseReceiver& r, double peak) {
    return flight::noiseless_time(flight::make_pulse_plan(r, of_peak(peak))).value() - middle;
}

struct Moments {
    double mean = 0.0;
    double deviation = 0.0;
    double fired = 0.0;
};

Moments times_of(const flight::PulsePlan& plan, std::int64_t pulses) {
    std::vector<double> times;
    for (std::int64_t i = 0; i < pulses; ++i) {
        if (const auto t = flight::pulse_time(plan, 3, 0, i)) times.push_back(*t);
    }
    Moments m;
    m.fired = static_cast<double>(times.size());
    for (const double t : times) m.mean += t / m.fired;
    for (const double t : times) m.deviation += std::pow(t - m.mean, 2) / (m.fired - 1.0);
    m.deviation = std::sqrt(m.deviation);
    return m;
}

double spread_error(double relative_to, double count) {
    return deviations * relative_to / std::sqrt(2.0 * count);
}

}  // namespace

TEST_CASE("a pulse and a response of equal widths make a signal sqrt(2) longer", "[unit]") {
    const flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    CHECK_THAT(flight::signal_deviation(r) / ns, WithinAbs(0.4246609, 1e-7));
    CHECK_THAT(flight::response_deviation(r.bandwidth) * std::sqrt(2.0) / ns, WithinAbs(0.4246609, 1e-7));
}

TEST_CASE("the leading edge fires 0.5 ns before a peak of twice the threshold, and walks to 1.0394624 ns", "[unit]") {
    const flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    CHECK_THAT(noiseless(r, 0.1 * volt), WithinAbs(-0.5 * ns, interpolation));
    CHECK_THAT(noiseless(r, 1.0 * volt), WithinAbs(-1.03946237 * ns, interpolation));
    const double h = 1e-3;
    const double slope = (noiseless(r, 0.1 * volt * std::exp(h)) - noiseless(r, 0.1 * volt * std::exp(-h))) / (2.0 * h);
    CHECK_THAT(slope / ns, WithinAbs(-0.36067376, 2e-4));  // of a function that bends: h^2 and interpolation
}

TEST_CASE("the zero of the constant fraction stays at 0.24375 ns over three decades of amplitude", "[unit]") {
    const flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
    for (const double peak : {0.06, 0.1, 1.0, 10.0, 60.0}) {
        CHECK_THAT(noiseless(r, peak * volt), WithinAbs(0.24375 * ns, interpolation));
    }
}

TEST_CASE("an offset of the comparator brings back a walk of 4.78 ps", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
    r.comparator_offset = 1e-3 * volt;
    // First order in offset over peak: the second order of the pulse of 0.1 V is offset / (f V0) of it, some 2 %.
    CHECK_THAT((noiseless(r, 0.1 * volt) - noiseless(r, 1.0 * volt)) / ps, WithinRel(4.78419343, 0.02));
}

TEST_CASE("a comparator of limited gain fires later by sqrt(2 Q / slope), four times the light sooner by half",
          "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    // At the threshold of V0 exp(-t^2 / 2 s^2) the slope is VT sqrt(2 ln(V0 / VT)) / s.
    const double s = flight::signal_deviation(r);
    const double slope = r.threshold * std::sqrt(2.0 * std::log(20.0)) / s;
    const double swift = noiseless(r, volt);
    constexpr double delay = 10.0 * ps;
    r.comparator_charge = 0.5 * slope * delay * delay;
    // The slope grows by 5 % within 10 ps: second order.
    CHECK_THAT(noiseless(r, volt) - swift, WithinRel(delay, 0.03));
    flight::PulseReceiver fraction = nanosecond(PulseTiming::constant_fraction);
    const double zero = noiseless(fraction, 10.0 * volt);
    fraction.comparator_charge = r.comparator_charge;
    const double weak = noiseless(fraction, volt) - zero;
    const double strong = noiseless(fraction, 4.0 * volt) - zero;
    CHECK(strong > 1.0 * ps);
    CHECK_THAT(weak / strong, WithinRel(2.0, 0.03));
}

TEST_CASE("a pulse that turns back before the comparator has fired is lost", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    // Of a pulse of 1.1 times the threshold, what lies above it has less than its height over it times the time there.
    const double above = 0.1 * r.threshold * 2.0 * flight::signal_deviation(r) * std::sqrt(2.0 * std::log(1.1));
    r.comparator_charge = above;
    CHECK_FALSE(flight::noiseless_time(flight::make_pulse_plan(r, of_peak(1.1 * r.threshold))));
    r.comparator_charge = 0.5 * above;  // the peak is rounder than a triangle of the same base and height
    CHECK(flight::noiseless_time(flight::make_pulse_plan(r, of_peak(1.1 * r.threshold))));
}

TEST_CASE("of a saturated pulse the constant fraction becomes a leading edge, and walks", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
    const double free = noiseless(r, volt);
    r.saturation = 2.0 * volt;
    CHECK(noiseless(r, volt) == free);  // below saturation nothing changes
    for (const double peak : {100.0 * volt, 10000.0 * volt}) {
        const double s = flight::signal_deviation(r);
        const double edge = r.fraction_delay - s * std::sqrt(2.0 * std::log(peak / (r.fraction * r.saturation)));
        CAPTURE(peak, edge);
        // The polynomial of the crossing meets the kink where the delayed pulse saturates, too: a fifth of a step.
        CHECK_THAT(noiseless(r, peak), WithinAbs(edge, 20.0 * ps));
    }
}

TEST_CASE("a saturated amplifier comes down with its time constant", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.saturation = 2.0 * volt;
    r.recovery = 5.0 * ns;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, of_peak(1000.0 * volt));
    const auto sample = [&](double time) {
        return static_cast<double>(plan.signal.at(static_cast<std::size_t>((time - plan.first) / plan.step)));
    };
    CHECK(*std::max_element(plan.signal.begin(), plan.signal.end()) == Approx(r.saturation));
    CHECK(sample(middle + 8.0 * ns) / sample(middle + 13.0 * ns) == Approx(std::exp(1.0)).epsilon(0.05));
    // Down to the threshold it is within the samples.
    CHECK(static_cast<double>(plan.signal.back()) < r.threshold);
}

TEST_CASE("an offset acts on the leading edge as a lower threshold", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.threshold = 0.06 * volt;
    r.comparator_offset = 0.01 * volt;
    CHECK_THAT(noiseless(r, 0.1 * volt), WithinAbs(-0.5 * ns, interpolation));
}

TEST_CASE("a pulse below the threshold is lost, and one above is not", "[unit]") {
    for (const auto timing : {PulseTiming::leading_edge, PulseTiming::constant_fraction}) {
        const flight::PulseReceiver r = nanosecond(timing);
        CHECK_FALSE(flight::noiseless_time(flight::make_pulse_plan(r, of_peak(0.0499 * volt))));
        CHECK(flight::send_pulses(flight::make_pulse_plan(r, of_peak(0.0499 * volt)), 1, 0).fired == 0);
        CHECK(flight::send_pulses(flight::make_pulse_plan(r, of_peak(0.06 * volt)), 1, 0).fired == r.pulses);
    }
}

TEST_CASE("the receiver keeps the energy of a pulse, however short", "[unit]") {
    for (const double width : {1.0 * ps, 0.7 * ns, 20.0 * ns}) {
        flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
        r.width = width;
        r.threshold = 1e-4 * volt;
        const flight::PulsePlan plan = flight::make_pulse_plan(r, {{{middle, 1e5 * volt}}, 0.0});
        double sum = 0.0;
        for (const float v : plan.signal) sum += static_cast<double>(v) * plan.step;
        const double sent = 1e5 * volt * width * std::sqrt(base::pi / (4.0 * std::log(2.0)));
        CHECK_THAT(sum, WithinRel(sent, 1e-5));
        // So does the shot noise, which is of the light before the response: variance = rate / step.
        double photons = 0.0;
        for (const float d : plan.white_deviation) photons += std::pow(static_cast<double>(d) * plan.step, 2);
        CHECK_THAT(photons, WithinRel(sent, 1e-5));
    }
}

TEST_CASE("times scatter by noise over slope, with either timing", "[unit]") {
    for (const auto timing : {PulseTiming::leading_edge, PulseTiming::constant_fraction}) {
        flight::PulseReceiver r = nanosecond(timing);
        r.threshold = 0.5 * volt;
        r.amplifier_noise = 0.005 * volt;  // slope is even enough over the scatter
        const flight::PulsePlan plan = flight::make_pulse_plan(r, {{{middle, 1e-6 * volt}}, 0.0});
        CHECK_FALSE(flight::timing_deviation(plan));
        const flight::PulsePlan lit = flight::make_pulse_plan(r, of_peak(volt));
        const Moments m = times_of(lit, 6000);
        const double expected = flight::timing_deviation(lit).value();
        CHECK(m.fired == 6000.0);
        CHECK_THAT(m.deviation, WithinAbs(expected, spread_error(expected, m.fired)));
        CHECK_THAT(m.mean, WithinAbs(*flight::noiseless_time(lit), deviations * expected / std::sqrt(m.fired)));
    }
}

TEST_CASE("the jitter of the leading edge is s / (SNR q sqrt(2 ln 1/q))", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.threshold = 0.5 * volt;
    r.amplifier_noise = volt / 50.0;
    // Shot noise, rate / (2 sqrt(pi) s_r), adds 1e-4 to the variance; differences of four samples take 2e-3 of the
    // slope.
    const double expected = flight::timing_deviation(flight::make_pulse_plan(r, of_peak(volt))).value();
    CHECK_THAT(expected / ps, WithinRel(14.4269504, 2.5e-3));
}

TEST_CASE("noise at the comparator has the stated rms and the correlation of a Gaussian response", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.width = 40.0 * ns;
    r.amplifier_noise = 0.02 * volt;
    const double response = flight::response_deviation(r.bandwidth);
    // As much shot noise of constant light again: rate / (2 sqrt(pi) s_r).
    const double rate = std::pow(r.amplifier_noise, 2) * 2.0 * std::sqrt(base::pi) * response;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, {{{middle, 0.0}}, rate});
    constexpr std::size_t lags = 12;
    std::vector<double> products(lags, 0.0);
    double count = 0.0;
    for (std::int64_t pulse = 0; pulse < 1000; ++pulse) {
        const std::vector<float> v = flight::comparator_trace(plan, 5, 0, pulse);
        for (std::size_t i = 0; i + lags < v.size(); ++i) {
            for (std::size_t k = 0; k < lags; ++k)
                products[k] += static_cast<double>(v[i]) * static_cast<double>(v[i + k]);
            ++count;
        }
    }
    // Samples are alike over some 2 sqrt(pi) s_r, so that is the length of one independent draw.
    const double independent = count * plan.step / (2.0 * std::sqrt(base::pi) * response);
    const double variance = 2.0 * std::pow(r.amplifier_noise, 2);
    for (std::size_t k = 0; k < lags; ++k) {
        const double tau = static_cast<double>(k) * plan.step / response;
        CHECK_THAT(products[k] / count / variance,
                   WithinAbs(std::exp(-0.25 * tau * tau), deviations * std::sqrt(2.0 / independent)));
    }
}

TEST_CASE("without light nothing fires but false alarms, and those at Rice's rate", "[unit]") {
    for (const auto timing : {PulseTiming::leading_edge, PulseTiming::constant_fraction}) {
        flight::PulseReceiver r = nanosecond(timing);
        r.amplifier_noise = r.threshold / 3.5;
        r.gate_end = 20.0 * ns;
        r.pulses = 20000;
        // sqrt(-rho'') / (2 pi) exp(-3.5^2 / 2), rho'' = -1 / (2 s_r^2)
        const double rate =
            std::exp(-6.125) / (2.0 * base::pi * std::sqrt(2.0) * flight::response_deviation(r.bandwidth));
        const double expected = static_cast<double>(r.pulses) * -std::expm1(-rate * r.gate_end);
        const double scatter = deviations * std::sqrt(expected);
        const auto fired = [&](const flight::Light& light) {
            return static_cast<double>(flight::send_pulses(flight::make_pulse_plan(r, light), 2, 0).fired);
        };
        CHECK_THAT(fired({}), WithinAbs(expected, scatter));
        // Samples in the gate, where each crossing comes by itself. Crossings of noise come in bunches, of which only
        // the first counts: some hundredths fewer.
        CHECK_THAT(fired({{{10.0 * ns, 0.0}}, 0.0}), WithinAbs(expected, scatter + 0.05 * expected));
        r.amplifier_noise = r.threshold / 9.0;
        CHECK(fired({{{10.0 * ns, 0.0}}, 0.0}) == 0.0);
    }
}

TEST_CASE("strong light scatters by its own shot noise", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.threshold = 50.0 * volt;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, of_peak(100.0 * volt));
    const double expected = flight::timing_deviation(plan).value();
    CHECK_THAT(times_of(plan, 4000).deviation, WithinAbs(expected, spread_error(expected, 4000.0)));
    const flight::PulsePlan fourfold = [&] {
        r.threshold *= 4.0;
        return flight::make_pulse_plan(r, of_peak(400.0 * volt));
    }();
    CHECK_THAT(flight::timing_deviation(fourfold).value(), WithinRel(0.5 * expected, 1e-4));
}

TEST_CASE("an avalanche of gain 100 and ratio 0.02 multiplies the variance of shot noise by 3.95", "[unit]") {
    const double excess = flight::avalanche_excess_noise(100.0, 0.02);
    CHECK_THAT(excess, WithinRel(0.02 * 100.0 + 0.98 * 1.99, 1e-12));
    CHECK(flight::avalanche_excess_noise(1.0, 0.02) == Approx(1.0));
    CHECK(flight::avalanche_excess_noise(50.0, 1.0) == Approx(50.0));
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.threshold = 50.0 * volt;
    const double single = times_of(flight::make_pulse_plan(r, of_peak(100.0 * volt)), 4000).deviation;
    r.excess_noise = excess;
    const double multiplied = times_of(flight::make_pulse_plan(r, of_peak(100.0 * volt)), 4000).deviation;
    // The same draws, scaled: what is left is the curvature of the edge.
    CHECK_THAT(multiplied / single, WithinRel(std::sqrt(excess), 0.01));
    CHECK_THROWS_AS(flight::avalanche_excess_noise(0.5, 0.02), base::DomainError);
}

TEST_CASE("of two returns the leading edge sees the first, and the constant fraction is disturbed", "[unit]") {
    const auto shift = [](PulseTiming timing, double later) {
        const flight::PulseReceiver r = nanosecond(timing);
        const double rate = 1.0 * volt * std::sqrt(2.0);
        const flight::Light two{{{middle, rate}, {middle + later, rate}}, 0.0};
        return flight::noiseless_time(flight::make_pulse_plan(r, two)).value() - middle - noiseless(r, volt);
    };
    CHECK_THAT(shift(PulseTiming::leading_edge, 50.0 * ns), WithinAbs(0.0, interpolation));
    CHECK_THAT(shift(PulseTiming::constant_fraction, 50.0 * ns), WithinAbs(0.0, interpolation));
    // A second return 1 ns later adds f V0 exp(-(t_z - 1 ns)^2 / (2 s^2)) = 0.102 V0 at the zero, over a slope of
    // 1.88 V0 / ns: 0.054 ns to first order. At the leading edge it adds exp(-11.5) V0.
    CHECK(std::abs(shift(PulseTiming::leading_edge, 1.0 * ns)) < 1e-4 * ns);
    CHECK(shift(PulseTiming::constant_fraction, 1.0 * ns) > 0.04 * ns);
}

TEST_CASE("a return beyond a lost one still fires", "[unit]") {
    const flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
    const double rate = 0.1 * volt * std::sqrt(2.0);
    const flight::PulsePlan plan =
        flight::make_pulse_plan(r, {{{middle, 0.3 * rate}, {middle + 30.0 * ns, rate}}, 0.0});
    CHECK_THAT(*flight::noiseless_time(plan) - middle, WithinAbs(30.24375 * ns, 2.0 * interpolation));
    CHECK_THAT(*flight::pulse_time(plan, 1, 0, 0) - middle, WithinAbs(30.24 * ns, 0.05 * ns));
}

TEST_CASE("a digitiser's error is hidden by jitter of half its step to 0.23 % of the step", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.digitiser_step = 1.0 * ns;
    r.pulses = 100000;
    const auto error = [&](double jitter) {
        r.jitter = jitter;
        // A threshold in the middle of the digits' range: the true time is a quarter of a step off a digit.
        flight::Light light = of_peak(0.1 * volt);
        light.arrivals[0].delay = 40.75 * ns;
        const flight::PulsePlan plan = flight::make_pulse_plan(r, light);
        return flight::send_pulses(plan, 8, 0).time - 40.25 * ns;
    };
    CHECK_THAT(error(0.0), WithinAbs(-0.25 * ns, 1e-6 * ns));
    const double scatter = deviations * std::hypot(0.5, 1.0 / std::sqrt(12.0)) / std::sqrt(1e5);
    CHECK(std::abs(error(0.5 * ns)) < (0.00228924757 + scatter) * ns);
}

TEST_CASE("readings of M pulses scatter by 1 / sqrt(M)", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::leading_edge);
    r.jitter = 50.0 * ps;
    r.pulses = 25;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, of_peak(100.0 * volt));
    double squares = 0.0;
    constexpr std::int64_t readings = 800;
    const double one = std::hypot(50.0 * ps, *flight::timing_deviation(plan));
    for (std::int64_t i = 0; i < readings; ++i) {
        squares += std::pow(flight::send_pulses(plan, 4, i).time - *flight::noiseless_time(plan), 2);
    }
    CHECK_THAT(std::sqrt(squares / readings), WithinAbs(0.2 * one, spread_error(0.2 * one, readings)));
}

TEST_CASE("the time of a pulse depends on seed, reading and pulse alone", "[unit]") {
    flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
    r.amplifier_noise = 0.01 * volt;
    r.pulses = 10;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, of_peak(volt));
    double backwards = 0.0;
    for (std::int64_t i = 9; i >= 0; --i) backwards += 0.1 * *flight::pulse_time(plan, 7, 5, i);
    CHECK_THAT(flight::send_pulses(plan, 7, 5).time, WithinRel(backwards, 1e-14));
    CHECK(*flight::pulse_time(plan, 7, 5, 0) != *flight::pulse_time(plan, 7, 5, 1));
    CHECK(*flight::pulse_time(plan, 7, 5, 0) != *flight::pulse_time(plan, 7, 6, 0));
    CHECK(*flight::pulse_time(plan, 7, 5, 0) != *flight::pulse_time(plan, 8, 5, 0));
}

TEST_CASE("a receiver that cannot be is refused", "[unit]") {
    const auto refused = [](const auto& change) {
        flight::PulseReceiver r = nanosecond(PulseTiming::constant_fraction);
        change(r);
        CHECK_THROWS_AS(flight::make_pulse_plan(r, of_peak(volt)), base::DomainError);
    };
    refused([](flight::PulseReceiver& r) { r.width = 0.0; });
    refused([](flight::PulseReceiver& r) { r.bandwidth = -1.0; });
    refused([](flight::PulseReceiver& r) { r.threshold = 0.0; });
    refused([](flight::PulseReceiver& r) { r.fraction = 1.0; });
    refused([](flight::PulseReceiver& r) { r.fraction_delay = 0.0; });
    refused([](flight::PulseReceiver& r) { r.amplifier_noise = -1.0; });
    refused([](flight::PulseReceiver& r) { r.jitter = -1.0; });
    refused([](flight::PulseReceiver& r) { r.digitiser_step = -1.0; });
    refused([](flight::PulseReceiver& r) { r.pulses = 0; });
    refused([](flight::PulseReceiver& r) { r.width = 1.0; });  // samples of a second
    refused([](flight::PulseReceiver& r) { r.timing = PulseTiming::photon_counting; });
    CHECK_THROWS_AS(flight::make_pulse_plan(nanosecond(PulseTiming::leading_edge), {}), base::DomainError);
    CHECK_THROWS_AS(flight::make_pulse_plan(nanosecond(PulseTiming::leading_edge), of_peak(-1.0)), base::DomainError);
}
