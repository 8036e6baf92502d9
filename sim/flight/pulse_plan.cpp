// What all shots of one pose have in common: samples of the signal, noise before the response, and which of the
// samples can decide anything.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/flight/pulse.hpp"
#include "sim/flight/require.hpp"

namespace spotwright::flight {

namespace {

constexpr double samples_per_deviation = 3.0;  // of the response; interpolation is then good to 2e-4 of the signal's
constexpr double response_reach = 4.0;         // deviations
constexpr double sure = 8.0;                   // standard deviations of noise; normal numbers reach 6.7
constexpr std::size_t margin = 8;              // samples beyond a crossing, for its interpolation and slope
constexpr double most_samples = 1e5;

double pulse_deviation(double width) {
    return width / (2.0 * std::sqrt(2.0 * std::numbers::ln2));
}

bool by_fraction(const PulseReceiver& r) {
    return r.timing == scenario::PulseTiming::constant_fraction;
}

void require_valid(const PulseReceiver& r, const Light& light) {
    require(r.timing != scenario::PulseTiming::photon_counting, "timing of the comparator",
            static_cast<double>(r.timing), "leading edge or constant fraction");
    require(r.width > 0.0, "width of the pulse in s", r.width, "above 0");
    require(r.bandwidth > 0.0, "bandwidth of the receiver in Hz", r.bandwidth, "above 0");
    require(r.amplifier_noise >= 0.0, "noise of the amplifier in e/s", r.amplifier_noise, "at least 0");
    require(r.threshold > 0.0, "threshold of the comparator in e/s", r.threshold, "above 0");
    require(r.fraction > 0.0 && r.fraction < 1.0, "fraction of the constant fraction", r.fraction, "within 0 to 1");
    require(r.fraction_delay > 0.0, "delay of the constant fraction in s", r.fraction_delay, "above 0");
    // Steps follow the delay; one far below the response times next to nothing and takes endless samples.
    const double shortest = response_deviation(r.bandwidth) / 30.0;
    require(!by_fraction(r) || r.fraction_delay >= shortest, "delay of the constant fraction in s", r.fraction_delay,
            "at least a thirtieth of the response's deviation");
    require(r.excess_noise >= 1.0, "excess noise", r.excess_noise, "at least 1");
    require(r.jitter >= 0.0, "jitter in s", r.jitter, "at least 0");
    require(r.comparator_charge >= 0.0, "charge of the comparator in e", r.comparator_charge, "at least 0");
    require(r.saturation >= 0.0, "saturation of the amplifier in e/s", r.saturation, "at least 0");
    require(r.recovery >= 0.0, "recovery of the amplifier in s", r.recovery, "at least 0");
    require(r.digitiser_step >= 0.0, "step of the digitiser in s", r.digitiser_step, "at least 0");
    require(r.pulses >= 1 && r.pulses <= (1LL << 20U), "pulses of a reading", static_cast<double>(r.pulses),
            "1 to 2^20");
    require(light.constant_rate >= 0.0, "rate of constant light in 1/s", light.constant_rate, "at least 0");
    for (const Arrival& a : light.arrivals) {
        require(a.rate >= 0.0 && std::isfinite(a.rate), "rate of an arrival in 1/s", a.rate, "at least 0");
        require(std::isfinite(a.delay), "delay of an arrival in s", a.delay, "a finite time");
    }
    require(!light.arrivals.empty() || r.gate_end > r.gate_begin, "arrivals of light without a gate", 0.0,
            "at least one");
}

// Step of the samples: the delay of the constant fraction is a whole number of them.
double sample_step(const PulseReceiver& r) {
    const double step = response_deviation(r.bandwidth) / samples_per_deviation;
    return by_fraction(r) ? r.fraction_delay / std::ceil(r.fraction_delay / step) : step;
}

// Gaussian taps of unit sum.
std::vector<float> response_taps(double deviation, double step) {
    const auto half = static_cast<std::int64_t>(std::ceil(response_reach * deviation / step));
    std::vector<double> taps;
    double sum = 0.0;
    for (std::int64_t k = -half; k <= half; ++k) {
        taps.push_back(std::exp(-0.5 * std::pow(static_cast<double>(k) * step / deviation, 2)));
        sum += taps.back();
    }
    std::vector<float> result;
    for (const double tap : taps) result.push_back(static_cast<float>(tap / sum));
    return result;
}

// Noise of the comparator by that of one white sample, where all samples have the same.
double noise_gain(const std::vector<float>& taps) {
    double squares = 0.0;
    for (const float tap : taps) squares += static_cast<double>(tap) * static_cast<double>(tap);
    return std::sqrt(squares);
}

// Deviation of white noise of a sample: shot noise of the light that comes within its step, variance rate / step of
// the rate's mean (Schottky's formula, two-sided density equal to the rate), and the amplifier's.
double white_deviation_at(const Light& light, double t, double step, double deviation, double amplifier,
                          double excess) {
    double rate = light.constant_rate;
    for (const Arrival& a : light.arrivals) {
        const double scale = std::numbers::sqrt2 * deviation;
        const double share =
            0.5 * (std::erf((t + 0.5 * step - a.delay) / scale) - std::erf((t - 0.5 * step - a.delay) / scale));
        rate += a.rate * deviation * std::sqrt(2.0 * base::pi) * share / step;
    }
    return std::sqrt(excess * rate / step + amplifier * amplifier);
}

double signal_at(const Light& light, double t, double pulse_deviation, double deviation) {
    double sum = 0.0;
    for (const Arrival& a : light.arrivals) {
        sum += a.rate * pulse_deviation / deviation * std::exp(-0.5 * std::pow((t - a.delay) / deviation, 2));
    }
    return sum;
}

// What the amplifier gives of its signal, (pulse.21): no more than its saturation, from which it comes down no faster
// than by its recovery.
void saturate(const PulseReceiver& r, double step, std::vector<float>& signal) {
    if (r.saturation <= 0.0) return;
    const double stays = r.recovery > 0.0 ? std::exp(-step / r.recovery) : 0.0;
    double held = 0.0;
    for (float& v : signal) {
        const double wanted = static_cast<double>(v);
        held = wanted >= r.saturation ? r.saturation : held * stays;
        v = static_cast<float>(std::max(std::min(wanted, r.saturation), held));
    }
}

// Samples from where the first pulse begins to rise above a hundredth of the noise to where the last has fallen again.
std::size_t place_samples(PulsePlan& plan, const Light& light) {
    const double s = signal_deviation(plan.receiver);
    double greatest = 0.0;
    double first = light.arrivals.front().delay;
    double last = first;
    for (const Arrival& a : light.arrivals) {
        greatest += a.rate;
        first = std::min(first, a.delay);
        last = std::max(last, a.delay);
    }
    const double nothing = std::max(0.01 * plan.constant_deviation, 1e-4 * plan.receiver.threshold);
    const double reach = s * std::sqrt(2.0 * std::log(std::max(greatest / nothing, 2.0)));
    double delay = by_fraction(plan.receiver) ? plan.receiver.fraction_delay : 0.0;
    // A saturated amplifier comes down to the threshold later.
    const double held = plan.receiver.saturation > plan.receiver.threshold && greatest > plan.receiver.saturation
                            ? plan.receiver.recovery * std::log(plan.receiver.saturation / plan.receiver.threshold)
                            : 0.0;
    delay += held;
    plan.first = first - reach - delay - static_cast<double>(margin) * plan.step;
    const double count = std::ceil((last + reach + delay - plan.first) / plan.step) + 1.0 + static_cast<double>(margin);
    require(count <= most_samples, "samples of a pulse", count,
            "up to 100000: a longer response, delay or shorter pulse");
    return static_cast<std::size_t>(count);
}

// Noise at the comparator, by sample.
std::vector<double> comparator_deviation(const PulsePlan& plan) {
    std::vector<double> result;
    for (std::size_t i = 0; i < plan.signal.size(); ++i) {
        double variance = 0.0;
        for (std::size_t k = 0; k < plan.response.size(); ++k) {
            const double part =
                static_cast<double>(plan.response[k]) * static_cast<double>(plan.white_deviation[i + k]);
            variance += part * part;
        }
        result.push_back(std::sqrt(variance));
    }
    return result;
}

struct Range {
    std::size_t begin = 0;
    std::size_t end = 0;
};

// Whether the comparator is not yet listened to just before a sample: what crosses then does not count, and a later
// pulse may.
bool is_before_gate(const PulsePlan& plan, std::size_t i) {
    const PulseReceiver& r = plan.receiver;
    return r.gate_end > r.gate_begin && plan.first + plan.step * (static_cast<double>(i) - 1.0) < r.gate_begin;
}

// Samples between the first at which the level may be reached and the first at which it surely is, or the last at
// which it may be. Empty where it is never reached.
Range crossing_range(const PulsePlan& plan, const std::vector<double>& noise, double level) {
    Range range;
    bool rises_before_gate = false;
    for (std::size_t i = 0; i < plan.signal.size(); ++i) {
        const double v = static_cast<double>(plan.signal[i]);
        if (v + sure * noise[i] < level) {
            rises_before_gate = false;
            continue;
        }
        if (range.end == 0) range.begin = i;
        range.end = i + 1;
        rises_before_gate = rises_before_gate || is_before_gate(plan, i);
        if (v > level + sure * noise[i] && !rises_before_gate) break;
    }
    return range;
}

// The same for the constant fraction: from D before it may be armed until it has surely gone from above to below zero
// while armed, or, where that is never sure, until D after it last may have been armed.
Range fraction_range(const PulsePlan& plan, const std::vector<double>& noise) {
    const PulseReceiver& r = plan.receiver;
    const auto delay = static_cast<std::size_t>(std::lround(r.fraction_delay / plan.step));
    Range range;
    std::size_t surely_armed = 0;  // up to here
    bool above = false;
    for (std::size_t i = delay; i < plan.signal.size(); ++i) {
        const double v = static_cast<double>(plan.signal[i]);
        const double both = r.fraction * v - static_cast<double>(plan.signal[i - delay]) + r.comparator_offset;
        const double spread = sure * (r.fraction * noise[i] + noise[i - delay]);
        if (v + sure * noise[i] >= r.threshold) {
            if (range.end == 0) range.begin = i - delay;
            range.end = i + delay + 1;
        }
        if (v > r.threshold + sure * noise[i]) surely_armed = i + delay;
        above = i <= surely_armed && (above || both > spread);
        if (above && both < -spread) {
            if (!is_before_gate(plan, i)) return {range.begin, i + 1};
            above = false;
        }
    }
    return range;
}

// Rice's rate of crossings upwards by noise whose correlation is exp(-tau^2 / (4 s^2)).
// Source: S. O. Rice, Bell Syst. Tech. J. 24, 46 (1945), 3.3, from memory; the correlation of a Gaussian response.
double crossing_rate(double level, double noise, double deviation) {
    if (noise <= 0.0) return 0.0;
    return std::exp(-0.5 * std::pow(level / noise, 2)) / (2.0 * base::pi * std::numbers::sqrt2 * deviation);
}

}  // namespace

// Equation (pulse.19).
double avalanche_excess_noise(double gain, double ionisation_ratio) {
    require(gain >= 1.0, "gain of the avalanche", gain, "at least 1");
    require(ionisation_ratio >= 0.0 && ionisation_ratio <= 1.0, "ratio of ionisation", ionisation_ratio, "0 to 1");
    return ionisation_ratio * gain + (1.0 - ionisation_ratio) * (2.0 - 1.0 / gain);
}

// Equation (pulse.1).
double response_deviation(double bandwidth) {
    return std::sqrt(std::numbers::ln2) / (2.0 * base::pi * bandwidth);
}

// Equation (pulse.2).
double signal_deviation(const PulseReceiver& receiver) {
    return std::hypot(pulse_deviation(receiver.width), response_deviation(receiver.bandwidth));
}

PulsePlan make_pulse_plan(const PulseReceiver& receiver, const Light& light) {
    require_valid(receiver, light);
    PulsePlan plan;
    plan.receiver = receiver;
    plan.step = sample_step(receiver);
    plan.response = response_taps(response_deviation(receiver.bandwidth), plan.step);
    const double gain = noise_gain(plan.response);
    plan.constant_deviation =
        std::hypot(receiver.amplifier_noise, gain * std::sqrt(receiver.excess_noise * light.constant_rate / plan.step));
    const double level = by_fraction(receiver) ? receiver.threshold : receiver.threshold - receiver.comparator_offset;
    plan.false_alarm_rate = crossing_rate(level, plan.constant_deviation, response_deviation(receiver.bandwidth));
    if (light.arrivals.empty()) {
        plan.first = receiver.gate_end;
        return plan;
    }
    const std::size_t samples = place_samples(plan, light);
    const std::size_t half = plan.response.size() / 2;
    const double s = pulse_deviation(receiver.width);
    for (std::size_t i = 0; i < samples; ++i) {
        const double t = plan.first + plan.step * static_cast<double>(i);
        plan.signal.push_back(static_cast<float>(signal_at(light, t, s, signal_deviation(receiver))));
    }
    saturate(receiver, plan.step, plan.signal);
    for (std::size_t i = 0; i < samples + 2 * half; ++i) {
        const double t = plan.first + plan.step * (static_cast<double>(i) - static_cast<double>(half));
        plan.white_deviation.push_back(static_cast<float>(
            white_deviation_at(light, t, plan.step, s, receiver.amplifier_noise / gain, receiver.excess_noise)));
    }
    const std::vector<double> noise = comparator_deviation(plan);
    const Range range = by_fraction(receiver) ? fraction_range(plan, noise) : crossing_range(plan, noise, level);
    if (range.end > 0) {
        plan.begin = range.begin - std::min(range.begin, margin);
        // A comparator of limited gain may fire anywhere after the crossing; a width ends where the pulse does.
        const bool to_the_end = receiver.comparator_charge > 0.0 || receiver.measures_width;
        plan.end = to_the_end ? samples : std::min(range.end + margin, samples);
    }
    return plan;
}

}  // namespace spotwright::flight
