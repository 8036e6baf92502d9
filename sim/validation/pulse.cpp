// Times of pulses at a comparator against worked values of Gaussian pulses: full width 1 ns, s = 0.4246609 ns, halves
// of its variance from the pulse and from the receiver. A volt corresponds to 1e16 photoelectrons a second, at which
// shot noise is below 1e-4 of the amplifier's variance.
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/pulse.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using scenario::PulseTiming;

constexpr double volt = 1e16;         // e/s
constexpr double middle = 40.0 * ns;  // delay of the light
constexpr const char* gaussian = "Gaussian pulse, noise over slope: textbook; worked value";
// Six samples h = 0.24 s apart: 5/1024 h^6 max|V^(6)| = 1.3e-5 V0, over a slope of 0.6 to 1.9 V0 a deviation, or a tail
// where both are small: 0.01 ps, each time. The grid lies otherwise for each amplitude, so a difference has it twice.
constexpr const char* interpolated = "interpolation of six samples, 0.01 ps for each time";
constexpr double interpolation_ps = 0.02;

double worked_deviation() {
    return 1.0 * ns / (2.0 * std::sqrt(2.0 * std::log(2.0)));
}

flight::PulseReceiver worked_receiver(PulseTiming timing) {
    flight::PulseReceiver r;
    r.timing = timing;
    r.width = 1.0 * ns / std::sqrt(2.0);
    r.bandwidth = std::sqrt(std::log(2.0)) / (2.0 * pi * worked_deviation() / std::sqrt(2.0));
    r.threshold = 0.05 * volt;
    r.fraction_delay = 0.8 * ns;
    r.amplifier_noise = 0.0;
    r.jitter = 0.0;
    r.digitiser_step = 0.0;
    return r;
}

// The receiver lowers a pulse of its own width by sqrt(2).
flight::PulsePlan plan_of(const flight::PulseReceiver& r, double volts, double delay = middle) {
    return flight::make_pulse_plan(r, {{{delay, volts * volt * std::sqrt(2.0)}}, 0.0});
}

double time_ps(const flight::PulseReceiver& r, double volts) {
    return (flight::noiseless_time(plan_of(r, volts)).value() - middle) / ps;
}

// Standard deviation of the times of single pulses. [s]
double scatter(const flight::PulsePlan& plan, std::int64_t pulses) {
    std::vector<double> times;
    for (std::int64_t i = 0; i < pulses; ++i) {
        if (const auto t = flight::pulse_time(plan, 11, 0, i)) times.push_back(*t - middle);
    }
    return std::sqrt(boost::math::statistics::sample_variance(times));
}

std::vector<Check> walk_checks() {
    const flight::PulseReceiver edge = worked_receiver(PulseTiming::leading_edge);
    const flight::PulseReceiver fraction = worked_receiver(PulseTiming::constant_fraction);
    flight::PulseReceiver offset = fraction;
    offset.comparator_offset = 1e-3 * volt;
    double low = time_ps(fraction, 0.06);
    double high = low;
    for (const double volts : {0.1, 1.0, 10.0, 60.0}) {
        low = std::min(low, time_ps(fraction, volts));
        high = std::max(high, time_ps(fraction, volts));
    }
    const double weak = time_ps(edge, 0.1);
    const double strong = time_ps(edge, 1.0);
    constexpr double h = 0.01;
    const double slope = (time_ps(edge, 0.1 * std::exp(h)) - time_ps(edge, 0.1 * std::exp(-h))) / (2.0 * h);
    const double to_mm = 0.5 * speed_of_light * ps / mm;
    return {
        {"pulse.walk.weak", "leading edge of a pulse of twice the threshold, from its peak", gaussian, "ps", -500.0,
         weak, interpolation_ps, interpolated},
        {"pulse.walk.strong", "leading edge of a pulse of twenty times the threshold", gaussian, "ps", -1039.46237,
         strong, interpolation_ps, interpolated},
        {"pulse.walk.leading-edge", "walk of the leading edge as the light grows tenfold, in range", gaussian, "mm",
         80.8633753, to_mm * (weak - strong), 2.0 * to_mm * interpolation_ps, interpolated},
        {"pulse.walk.slope", "shift of the leading edge with the logarithm of the light", gaussian, "ps", -360.67376,
         slope, 1.0, "interpolation of 0.01 ps, twice, over a difference of 2 %"},
        {"pulse.walk.zero", "zero of the constant fraction, D / 2 + s^2 ln f / D", gaussian, "ps", 243.75,
         time_ps(fraction, 1.0), interpolation_ps, interpolated},
        {"pulse.walk.constant-fraction", "walk of the constant fraction over three decades of light", gaussian, "ps",
         0.0, high - low, interpolation_ps, interpolated, Relation::at_most},
        {"pulse.walk.offset", "walk that an offset of 1 mV brings back from 0.1 V to 1 V", gaussian, "ps", 4.78419343,
         time_ps(offset, 0.1) - time_ps(offset, 1.0), 0.02 * 4.78419343,
         "the value is of first order in offset over f V0, 2 %"},
    };
}

// Noise at the comparator, and what it makes of times.
std::vector<Check> jitter_checks() {
    constexpr std::int64_t pulses = 40000;
    const double relative = standard_errors * relative_error_of_deviation(static_cast<double>(pulses));
    constexpr const char* why = "5 standard errors of the deviation of 40000 times; the bend of the slope adds 0.2 %";
    flight::PulseReceiver edge = worked_receiver(PulseTiming::leading_edge);
    edge.amplifier_noise = volt / 50.0;
    edge.threshold = 0.5 * volt;
    const double half = scatter(plan_of(edge, 1.0), pulses) / ps;
    edge.threshold = std::exp(-0.5) * volt;
    const double best = scatter(plan_of(edge, 1.0), pulses) / ps;
    flight::PulseReceiver fraction = worked_receiver(PulseTiming::constant_fraction);
    fraction.amplifier_noise = volt / 50.0;
    fraction.threshold = 0.25 * volt;
    const double s = worked_deviation();
    const double d = fraction.fraction_delay;
    const double zero = 0.24375 * ns;
    const double slope = 0.5 * zero / (s * s) * std::exp(-zero * zero / (2.0 * s * s)) -
                         (zero - d) / (s * s) * std::exp(-(zero - d) * (zero - d) / (2.0 * s * s));
    const double correlation = std::exp(-d * d / (2.0 * s * s));  // the response's deviation is s / sqrt(2)
    const double expected = std::sqrt(1.25 - correlation) / (50.0 * slope) / ps;
    // E / N0 of the pulse before the response, E = R^2 s_p sqrt(pi), N0 = 4 sqrt(pi) s_r sigma_n^2: s_p = s_r = s /
    // sqrt(2) makes s_p / sqrt(E / N0) = s / 50.
    const double bound = s / 50.0 / ps;
    return {
        {"pulse.jitter.leading-edge", "scatter of the leading edge at half of the peak, signal over noise 50", gaussian,
         "ps", 14.4269504, half, 14.4269504 * (relative + 0.002), why},
        {"pulse.jitter.best-threshold", "the same at exp(-1/2) of the peak, where it is least", gaussian, "ps",
         14.0029492, best, 14.0029492 * (relative + 0.002), why},
        {"pulse.jitter.constant-fraction", "scatter of the constant fraction, f n(t) - n(t - D) over its slope",
         "derived: noise of a Gaussian response over the slope", "ps", expected,
         scatter(plan_of(fraction, 1.0), pulses) / ps, expected * (relative + 0.002), why},
        {"pulse.jitter.cramer-rao", "no threshold does better than s / sqrt(E / N0)",
         "Cramer-Rao bound of delay in white noise, textbook; Gaussian form derived", "ps", bound, best,
         bound * relative, "5 standard errors of the deviation of 40000 times", Relation::at_least},
    };
}

// Crossings of zero upwards by noise alone, in a second.
Check crossing_check() {
    flight::PulseReceiver r = worked_receiver(PulseTiming::leading_edge);
    r.width = 200.0 * ns;  // only so that there are samples
    r.amplifier_noise = volt;
    r.threshold = volt;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, {{{middle, 0.0}}, 0.0});
    double crossings = 0.0;
    double time = 0.0;
    for (std::int64_t pulse = 0; pulse < 200; ++pulse) {
        const std::vector<float> v = flight::comparator_trace(plan, 5, 0, pulse);
        for (std::size_t i = 1; i < v.size(); ++i) crossings += v[i - 1] < 0.0F && v[i] >= 0.0F ? 1.0 : 0.0;
        time += plan.step * static_cast<double>(v.size() - 1);
    }
    const double expected = 1.0 / (2.0 * pi * std::sqrt(2.0) * flight::response_deviation(r.bandwidth));
    return {"pulse.noise.crossings",
            "noise of a Gaussian response crosses zero upwards at 1 / (2 sqrt(2) pi s) a second",
            "S. O. Rice, Bell Syst. Tech. J. 24, 46 (1945), from memory",
            "1/s",
            expected,
            crossings / time,
            expected * (standard_errors / std::sqrt(crossings) + 0.005),
            "5 standard errors of as many independent crossings, and 0.5 % that fall between samples"};
}

Check energy_check() {
    flight::PulseReceiver r = worked_receiver(PulseTiming::leading_edge);
    r.threshold = 1e-5 * volt;
    const flight::PulsePlan plan = plan_of(r, 1.0);
    double electrons = 0.0;
    for (const float v : plan.signal) electrons += static_cast<double>(v) * plan.step;
    const double sent = volt * std::sqrt(2.0) * r.width * std::sqrt(pi / (4.0 * std::log(2.0)));
    return {"pulse.energy",
            "the receiver keeps all electrons of a pulse",
            "peak times width times sqrt(pi / (4 ln 2))",
            "e",
            sent,
            electrons,
            1e-5 * sent,
            "single precision of the samples; tails left out"};
}

// Rounding of times, with a digit of 50 ps.
std::vector<Check> digitiser_checks() {
    constexpr double digit = 50.0 * ps;
    flight::PulseReceiver r = worked_receiver(PulseTiming::leading_edge);
    r.digitiser_step = digit;
    constexpr double brighter = 1e4;  // so that shot noise of 0.8 ps is none
    r.threshold *= brighter;
    double squares = 0.0;
    constexpr int places = 500;
    for (int i = 0; i < places; ++i) {
        const flight::PulsePlan plan = plan_of(r, 0.1 * brighter, middle + digit * (i + 0.5) / places);
        squares += std::pow(flight::pulse_time(plan, 1, 0, 0).value() - *flight::noiseless_time(plan), 2) / places;
    }
    // A quarter of a digit off, where the first Fourier term of the mean error is largest.
    r.pulses = 200000;
    const auto mean_error = [&](double jitter) {
        r.jitter = jitter * digit;
        const flight::PulsePlan plan = plan_of(r, 0.1 * brighter, middle + 0.25 * digit);
        return std::abs(flight::send_pulses(plan, 3, 0).time - *flight::noiseless_time(plan)) / digit;
    };
    const auto error_of = [](double jitter) {
        return standard_errors * std::hypot(jitter, 1.0 / std::sqrt(12.0)) / std::sqrt(2e5);
    };
    const double quarter = std::exp(-2.0 * pi * pi * 0.0625) / pi;
    constexpr const char* fourier = "mean error of a rounded normal number, first Fourier term: derived; worked value";
    constexpr const char* why =
        "5 standard errors of the mean of 200000 pulses, with the spread of jitter and rounding";
    return {
        {"pulse.digitiser.uniform", "rounding to 50 ps, over all places in a digit, has the deviation q / sqrt(12)",
         "uniform distribution; worked value", "ps", 14.4337567, std::sqrt(squares) / ps, 0.01,
         "500 places and interpolation"},
        {"pulse.digitiser.dither-quarter", "jitter of a quarter digit leaves a mean error (q/pi) exp(-2 pi^2 s^2/q^2)",
         fourier, "digit", quarter, mean_error(0.25), error_of(0.25), why},
        {"pulse.digitiser.dither-half", "jitter of half a digit leaves no more than 0.23 % of the digit", fourier,
         "digit", 0.00228924757, mean_error(0.5), error_of(0.5), why, Relation::at_most},
    };
}

std::vector<Check> averaging_checks() {
    flight::PulseReceiver r = worked_receiver(PulseTiming::leading_edge);
    r.jitter = 50.0 * ps;
    const flight::PulsePlan one = plan_of(r, 1.0);
    constexpr std::int64_t pulses = 40000;
    const double to_mm = 0.5 * speed_of_light / mm;
    r.pulses = 400;
    const flight::PulsePlan many = plan_of(r, 1.0);
    std::vector<double> means;
    constexpr std::int64_t readings = 1000;
    for (std::int64_t i = 0; i < readings; ++i) means.push_back(flight::send_pulses(many, 2, i).time - middle);
    const double averaged = std::sqrt(boost::math::statistics::sample_variance(means));
    return {
        {"pulse.range.jitter", "jitter of 50 ps as a deviation of range", "c / 2 times the jitter; worked value", "mm",
         7.49481145, to_mm * scatter(one, pulses),
         7.49481145 * standard_errors * relative_error_of_deviation(static_cast<double>(pulses)),
         "5 standard errors of the deviation of 40000 times; shot noise adds 1e-4"},
        {"pulse.range.averaged", "the same after 400 pulses", "one over sqrt(M) of it; worked value", "mm", 0.374740573,
         to_mm * averaged, 0.374740573 * standard_errors * relative_error_of_deviation(static_cast<double>(readings)),
         "5 standard errors of the deviation of 1000 readings"},
    };
}

}  // namespace

std::vector<Check> pulse_checks(int /*threads*/) {
    return joined({walk_checks(),
                   jitter_checks(),
                   {crossing_check(), energy_check()},
                   digitiser_checks(),
                   averaging_checks(),
                   photon_counting_checks()});
}

}  // namespace spotwright::validation
