#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <fmt/format.h>
#include <span>
#include <string>
#include <vector>

#include "sim/flight/unwrap.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/phase.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using flight::Modulation;
using scenario::Waveform;
using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;

constexpr double phase_standard_errors = 4.0;  // false alarm 6e-5 for each statistical check
constexpr std::int64_t readings = 20000;
constexpr const char* shot_noise = "derived: sigma^2 = 2 (B + s^2) / (N A^2), times c / (4 pi f)";
constexpr const char* lange = "R. Lange, P. Seitz, IEEE J. Quantum Electron. 37, 390 (2001), from memory";
constexpr const char* phasor_density = "textbook: phase of a phasor in circular Gaussian noise, density integrated";
constexpr const char* why_deviation = "4 standard errors of the deviation of 20000 readings";

flight::BucketNoise wide_well(double read_noise, std::uint64_t seed) {
    return {read_noise, 1e12, 0.0, seed};
}

// Errors of the phase of many readings. [rad]
std::vector<double> phase_errors(const std::vector<double>& mean, double phase, const flight::BucketNoise& noise) {
    std::vector<double> errors;
    std::vector<double> charges(mean.size());
    for (std::int64_t i = 0; i < readings; ++i) {
        flight::draw_buckets(mean, noise, i, charges);
        errors.push_back(phase_difference(flight::demodulate(charges).phase, phase));
    }
    return errors;
}

double deviation_of_all(const std::vector<double>& values) {
    return std::sqrt(boost::math::statistics::sample_variance(values));
}

constexpr double noise_phase = 2.1;

struct NoiseCase {
    std::string id;
    double signal;      // [e per bucket]
    double steady;      // [e per bucket]
    double read_noise;  // [e]
    std::uint64_t seed;
};

// Deviation of the distance, sine light of depth 1, four buckets: A = 2 signal / pi.
Check noise_check(const NoiseCase& c) {
    const std::vector<double> mean =
        mean_buckets(ideal_modulation(Waveform::sine, 4), {{noise_phase, c.signal}}, c.steady);
    const double amplitude = 2.0 * c.signal / pi;
    const double variance = c.signal + c.steady + c.read_noise * c.read_noise;
    const double expected = worked_metres_per_radian() * std::sqrt(0.5 * variance) / amplitude;
    const double got =
        worked_metres_per_radian() * deviation_of_all(phase_errors(mean, noise_phase, wide_well(c.read_noise, c.seed)));
    return {"phase.noise." + c.id,
            fmt::format("noise of the distance at 20 MHz: signal {:.0e} e, steady light {:.0e} e, read noise {:.0f} e",
                        c.signal, c.steady, c.read_noise),
            shot_noise,
            "mm",
            expected / mm,
            got / mm,
            phase_standard_errors * relative_error_of_deviation(static_cast<double>(readings)) * expected / mm,
            why_deviation};
}

// Deviation of the phase for mean and amplitude of the worked values, B = 10000 e and A = 2500 e.
double worked_deviation(std::int64_t buckets, double read_noise) {
    const Modulation modulation = ideal_modulation(Waveform::sine, buckets);
    const double signal = signal_of_amplitude(modulation, 2500.0);
    const std::vector<double> mean = mean_buckets(modulation, {{noise_phase, signal}}, 10000.0 - signal);
    return deviation_of_all(phase_errors(mean, noise_phase, wide_well(read_noise, 12)));
}

Check simulated(const std::string& id, const std::string& claim, const char* source, const std::string& unit,
                double expected, double got) {
    const double tolerance =
        phase_standard_errors * relative_error_of_deviation(static_cast<double>(readings)) * std::abs(expected);
    return {id, claim, source, unit, expected, got, tolerance, why_deviation};
}

// Density of the phase error of a phasor of length 1 in circular noise of deviation s on either axis.
// Source: textbook, e.g. J. W. Goodman, Statistical Optics, constant phasor plus random phasor sum, from memory.
double phase_density(double error, double s) {
    const double along = std::cos(error) / s;
    const double across = std::sin(error) / s;
    return std::exp(-0.5 / (s * s)) / (2.0 * pi) +
           along / std::sqrt(2.0 * pi) * std::exp(-0.5 * across * across) * 0.5 * std::erfc(-along / std::sqrt(2.0));
}

double phase_moment(int power, double s) {
    return 2.0 *
           Rule::integrate([&](double e) { return std::pow(e, power) * phase_density(e, s); }, 0.0, pi, 10, 1e-10);
}

// Phase of light too dim to determine it: `linear` is the deviation by the small-angle formula.
Check dim_check(const std::string& id, const std::string& claim, double linear) {
    const Modulation modulation = ideal_modulation(Waveform::sine, 4);
    constexpr double total = 1e5;
    const double signal = std::isinf(linear) ? 0.0 : signal_of_amplitude(modulation, std::sqrt(0.5 * total) / linear);
    const std::vector<double> mean = mean_buckets(modulation, {{noise_phase, signal}}, total - signal);
    const double got = deviation_of_all(phase_errors(mean, noise_phase, wide_well(0.0, 13)));
    const double variance = std::isinf(linear) ? pi * pi / 3.0 : phase_moment(2, linear);
    const double fourth = std::isinf(linear) ? std::pow(pi, 4) / 5.0 : phase_moment(4, linear);
    const double expected = std::sqrt(variance);
    const double relative = std::sqrt((fourth / (variance * variance) - 1.0) / (4.0 * static_cast<double>(readings)));
    return {"phase.noise.dim." + id,
            claim,
            phasor_density,
            "rad",
            expected,
            got,
            phase_standard_errors * relative * expected,
            "4 standard errors of the deviation of 20000 readings, by the fourth moment of that density"};
}

std::vector<Check> noise_over_light() {
    std::vector<Check> checks;
    std::uint64_t seed = 100;
    for (int power = 3; power <= 7; ++power) {
        const double signal = std::pow(10.0, power);
        checks.push_back(noise_check({fmt::format("1e{}", power), signal, 0.0, 0.0, seed++}));
        checks.push_back(noise_check({fmt::format("1e{}.read", power), signal, 0.0, 50.0, seed++}));
        // At 1e3 e this much steady light leaves no small angle.
        if (power > 3) checks.push_back(noise_check({fmt::format("1e{}.steady", power), signal, 1e5, 50.0, seed++}));
    }
    return checks;
}

// Two frequencies, 20 and 16 MHz.

constexpr std::int64_t wrap_readings = 100000;
constexpr double pair_range = 250.0 * ns;
constexpr double pair_frequencies[] = {20.0 * MHz, 16.0 * MHz};

/// Phases of both frequencies, with noise.
struct PhasePair {
    double first;
    double second;
};

struct WrapRun {
    double wrong = 0.0;       // share
    double risk = 0.0;        // mean of the risks that unwrapping states
    double difference = 0.0;  // deviation of 4 p1 - 5 p2 from its whole number
};

// A delay of the range, away from its ends: spread evenly by the golden section.
double spread_delay(std::int64_t i) {
    const double turns = 0.6180339887498949 * static_cast<double>(i);
    return pair_range * (0.1 + 0.8 * (turns - std::floor(turns)));
}

template <class Measure>
WrapRun wrap_run(double deviation, const Measure& measure) {
    WrapRun run;
    for (std::int64_t i = 0; i < wrap_readings; ++i) {
        const double delay = spread_delay(i / 100);
        const PhasePair phases = measure(delay, i);
        const auto found = flight::unwrap(
            {{{pair_frequencies[0], phases.first, deviation}, {pair_frequencies[1], phases.second, deviation}}},
            {0.0, pair_range});
        // A wrong whole number moves the delay by a period of one of them or more.
        const bool right = found && std::abs(std::remainder(found->delay - delay, pair_range)) < 25.0 * ns;
        if (!right) run.wrong += 1.0;
        if (found) run.risk += found->wrap_risk;
        const double difference = (4.0 * phases.first - 5.0 * phases.second) / (2.0 * pi);
        run.difference += std::pow(difference - std::round(difference), 2);
    }
    const auto count = static_cast<double>(wrap_readings);
    return {run.wrong / count, run.risk / count, std::sqrt(run.difference / count)};
}

// Phases with normal errors, taken from the read noise of two empty buckets.
WrapRun normal_run(double deviation) {
    const std::vector<double> empty(2, 0.0);
    std::vector<double> errors(2);
    return wrap_run(deviation, [&](double delay, std::int64_t i) -> PhasePair {
        flight::draw_buckets(empty, wide_well(deviation, 14), i, errors);
        return {2.0 * pi * pair_frequencies[0] * delay + errors[0], 2.0 * pi * pair_frequencies[1] * delay + errors[1]};
    });
}

// Phases from drawn buckets, whose small-angle deviation is given.
WrapRun bucket_run(double deviation) {
    Modulation modulation = ideal_modulation(Waveform::sine, 4);
    const double signal = signal_of_amplitude(modulation, 5000.0);
    const double steady = 2.0 * std::pow(deviation * 5000.0, 2) - signal;
    std::vector<double> mean;
    std::vector<double> charges(8);
    return wrap_run(deviation, [&](double delay, std::int64_t i) -> PhasePair {
        if (i % 100 == 0) {
            mean.clear();
            for (const double frequency : pair_frequencies) {
                modulation.frequency = frequency;
                const auto part = mean_buckets(modulation, {{2.0 * pi * frequency * delay, signal}}, steady);
                mean.insert(mean.end(), part.begin(), part.end());
            }
        }
        flight::draw_buckets(mean, wide_well(0.0, 15), i, charges);
        const std::span<const double> all(charges);
        return {flight::demodulate(all.first(4)).phase, flight::demodulate(all.last(4)).phase};
    });
}

// Probability that |4 e1 - 5 e2| exceeds half a turn, errors e with the density of a phasor in noise.
double phasor_wrap_chance(double s) {
    const auto right_given = [s](double first) {
        const double from = std::max((4.0 * first - pi) / 5.0, -pi);
        const double to = std::min((4.0 * first + pi) / 5.0, pi);
        return Rule::integrate([s](double e) { return phase_density(e, s); }, from, to, 5, 1e-9);
    };
    return 1.0 - Rule::integrate([&](double e) { return phase_density(e, s) * right_given(e); }, -pi, pi, 8, 1e-9);
}

Check rate_check(const std::string& id, const std::string& claim, const char* source, double expected, double got) {
    const double tolerance =
        phase_standard_errors * std::sqrt(expected * (1.0 - expected) / static_cast<double>(wrap_readings));
    return {"phase.wrap." + id, claim, source,    "1",
            expected,           got,   tolerance, "4 standard errors of a share of 100000 readings"};
}

}  // namespace

std::vector<Check> phase_noise_checks() {
    std::vector<Check> checks = noise_over_light();
    const double shot = worked_deviation(4, 0.0);
    const double all = worked_deviation(4, 30.0);
    const double range = 2.0 * pi * worked_metres_per_radian();
    const std::vector<double> lit = mean_buckets(ideal_modulation(Waveform::sine, 4), {{noise_phase, 1e4}}, 1e5);
    const double mean_error = boost::math::statistics::mean(phase_errors(lit, noise_phase, wide_well(50.0, 16)));
    const double mean_tolerance = phase_standard_errors * worked_metres_per_radian() * std::sqrt(0.5 * 112500.0) /
                                  (2e4 / pi) / std::sqrt(static_cast<double>(readings));
    const std::vector<Check> worked_values{
        simulated("phase.noise.worked.shot", "noise of the phase, B = 10000 e, A = 2500 e, shot noise", shot_noise,
                  "rad", 0.0282842712, shot),
        simulated("phase.noise.worked.distance", "the same as distance at 20 MHz", shot_noise, "m", 0.0337385052,
                  worked_metres_per_radian() * shot),
        simulated("phase.noise.worked.read", "noise of the phase with 30 e of read noise", shot_noise, "rad",
                  0.0295296461, all),
        simulated("phase.noise.worked.read_distance", "the same as distance at 20 MHz", shot_noise, "m", 0.0352240335,
                  worked_metres_per_radian() * all),
        simulated("phase.noise.worked.eight", "noise of the phase with eight buckets alike", shot_noise, "rad", 0.02,
                  worked_deviation(8, 0.0)),
        simulated("phase.noise.optical_amplitude",
                  "noise of the distance by L / sqrt(8) sqrt(B) / (2 A), A before the gate weakens it", lange, "m",
                  range / std::sqrt(8.0) * 100.0 / (2.0 * 2500.0 * 0.5 * pi), worked_metres_per_radian() * shot),
        {"phase.noise.steady_mean", "steady light ten times the signal moves the mean distance by nothing", shot_noise,
         "mm", 0.0, worked_metres_per_radian() * mean_error / mm, mean_tolerance / mm,
         "4 standard errors of the mean of 20000 readings"},
        dim_check("half", "noise of the phase where the small-angle formula gives 0.5 rad", 0.5),
        dim_check("one", "where it gives 1 rad", 1.0),
        dim_check("none", "with no modulated light it is that of a guess, pi / sqrt(3)", HUGE_VAL),
    };
    checks.insert(checks.end(), worked_values.begin(), worked_values.end());
    return checks;
}

std::vector<Check> unwrapping_checks() {
    const double delay = 2.0 * 23.456 / speed_of_light;
    std::vector<flight::PhaseReading> read;
    for (const double frequency : pair_frequencies) {
        Modulation modulation = ideal_modulation(Waveform::sine, 4);
        modulation.frequency = frequency;
        const auto buckets = mean_buckets(modulation, {{2.0 * pi * frequency * delay, 1000.0}});
        read.push_back({frequency, flight::demodulate(buckets).phase, 0.1});
    }
    const double p1 = read[0].phase / (2.0 * pi);
    const double p2 = read[1].phase / (2.0 * pi);
    const double found = flight::unwrap(read, {0.0, flight::unambiguous_delay(pair_frequencies)}).value().delay;
    const WrapRun normal = normal_run(0.2);
    const WrapRun buckets = bucket_run(0.2);
    const char* derived = "derived; worked value";
    const char* closed = "derived: erfc(1 / (2 sqrt(2) s_m)), normal phases";
    return {
        worked("phase.wrap.range", "range of 20 and 16 MHz together", derived, "m", 37.4740573,
               0.5 * speed_of_light * flight::unambiguous_delay(pair_frequencies)),
        worked("phase.wrap.first", "phase of 23.456 m at 20 MHz in periods", derived, "1", 0.129631767, p1),
        worked("phase.wrap.second", "at 16 MHz", derived, "1", 0.503705413, p2),
        {"phase.wrap.integer", "4 p1 - 5 p2 is a whole number", derived, "1", -2.0, 4.0 * p1 - 5.0 * p2, 1e-9,
         "rounding"},
        {"phase.wrap.periods", "whole periods of 20 MHz that unwrapping finds", derived, "1", 3.0,
         std::floor(worked_modulation * found), 0.0, "exact"},
        worked("phase.wrap.distance", "distance that unwrapping finds", derived, "m", 23.456,
               0.5 * speed_of_light * found),
        {"phase.wrap.difference", "deviation of 4 p1 - 5 p2 at 0.1 rad", derived, "1", 0.101908887,
         normal_run(0.1).difference,
         0.101908887 * phase_standard_errors * relative_error_of_deviation(static_cast<double>(wrap_readings)),
         "4 standard errors of the deviation of 100000 readings"},
        worked("phase.wrap.chance.0.1", "chance of a wrong wrap at 0.1 rad", derived, "1", 9.27899951e-07,
               flight::wrap_error_chance(5.0, 4.0, 0.1, 0.1)),
        worked("phase.wrap.chance.0.2", "at 0.2 rad", derived, "1", 0.0141602725,
               flight::wrap_error_chance(5.0, 4.0, 0.2, 0.2)),
        rate_check("rate.0.2", "share of wrong wraps at 0.2 rad, normal phases", closed, 0.0141602725, normal.wrong),
        rate_check("rate.0.3", "at 0.3 rad", closed, flight::wrap_error_chance(5.0, 4.0, 0.3, 0.3),
                   normal_run(0.3).wrong),
        rate_check("risk.0.2", "mean of the risk that each reading states at 0.2 rad", closed, 0.0141602725,
                   normal.risk),
        rate_check("rate.buckets", "share of wrong wraps at 0.2 rad by the small-angle formula, from drawn buckets",
                   phasor_density, phasor_wrap_chance(0.2), buckets.wrong),
        worked("phase.wrap.apart", "phase distance of the turns of 20 and 16 MHz: 1 / sqrt(41)", derived, "1",
               1.0 / std::sqrt(41.0), flight::min_wrap_distance(pair_frequencies, {0.0, 0.9 * pair_range})),
    };
}

}  // namespace spotwright::validation
