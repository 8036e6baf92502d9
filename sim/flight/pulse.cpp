#include "sim/flight/pulse.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <span>
#include <utility>

#include <Eigen/Core>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"

namespace spotwright::flight {

namespace {

constexpr std::size_t neighbours = 3;  // samples on each side of a crossing that its interpolation asks for
constexpr int pulse_bits = 20;         // of the index of draws, below the reading's

using Floats = Eigen::Map<Eigen::ArrayXf>;
using ConstFloats = Eigen::Map<const Eigen::ArrayXf>;

Eigen::Index index_of(std::size_t i) {
    return static_cast<Eigen::Index>(i);
}

// V at the comparator after the noise of one pulse, for samples [begin, end) of the plan.
struct Trace {
    std::span<const float> values;
    std::size_t begin = 0;
};

// A polynomial of degree five: coefficients from the constant on.
struct Quintic {
    std::array<double, 6> c{};

    [[nodiscard]] double value(double x) const {
        return ((((c[5] * x + c[4]) * x + c[3]) * x + c[2]) * x + c[1]) * x + c[0];
    }
    [[nodiscard]] double slope(double x) const {
        return (((5.0 * c[5] * x + 4.0 * c[4]) * x + 3.0 * c[3]) * x + 2.0 * c[2]) * x + c[1];
    }
};

// The polynomial through six values, at -2 to 3: Newton's form of the interpolation, multiplied out.
Quintic through(std::array<double, 6> y) {
    constexpr std::array<double, 6> share{1.0, 1.0, 1.0 / 2.0, 1.0 / 3.0, 1.0 / 4.0, 1.0 / 5.0};
    for (std::size_t order = 1; order < 6; ++order) {
        for (std::size_t i = 5; i >= order; --i) y[i] = (y[i] - y[i - 1]) * share[order];
    }
    Quintic p;
    p.c[0] = y[5];
    for (std::size_t degree = 0; degree < 5; ++degree) {
        // Times x - node, plus the next of the differences.
        const double node = 2.0 - static_cast<double>(degree);
        for (std::size_t i = degree + 1; i > 0; --i) p.c[i] = p.c[i - 1] - node * p.c[i];
        p.c[0] = y[4 - degree] - node * p.c[0];
    }
    return p;
}

// The zero of a polynomial that differs in sign at 0 and 1: false position in the form of Illinois.
double zero_by_false_position(const Quintic& p, double enough) {
    double low = 0.0;
    double high = 1.0;
    double at_low = p.value(low);
    double at_high = p.value(high);
    constexpr int most = 40;
    for (int i = 0; i < most && at_low != at_high && high - low > enough; ++i) {
        const double x = std::clamp(low - at_low * (high - low) / (at_high - at_low), low, high);
        const double at_x = p.value(x);
        if (std::min(x - low, high - x) < enough || at_x == 0.0) return x;
        if ((at_x > 0.0) == (at_high > 0.0)) {
            high = x;
            at_high = at_x;
            at_low *= 0.5;
        } else {
            low = x;
            at_low = at_x;
            at_high *= 0.5;
        }
    }
    return 0.5 * (low + high);
}

// Where the polynomial through six values, one step apart, is zero between the third and the fourth, which differ in
// sign; in steps from the third, within a ten-millionth. Newton's iteration doubles the digits of each step; where it
// leaves the interval or wanders, false position does not. Source: textbook, for example G. Dahlquist, A. Bjorck,
// Numerical Methods in Scientific Computing I (2008), 4.2, 6.2 and 6.3.
double zero_between(const std::array<double, 6>& y) {
    constexpr double enough = 1e-7;
    const Quintic p = through(y);
    double x = y[2] / (y[2] - y[3]);
    for (int i = 0; i < 4; ++i) {
        const double step = p.value(x) / p.slope(x);
        x -= step;
        if (!(x >= 0.0 && x <= 1.0)) break;
        // The next step would be about the square of this one.
        if (std::abs(step) < 1e-2 * std::sqrt(enough)) return x;
    }
    return zero_by_false_position(p, enough);
}

// Time from the crossing, between samples i - 1 and i, until the integral of `at` has reached Q, equation (pulse.20).
// None where `at` changes its sign, or the samples end, before that. Trapezoids between samples; the last is solved
// exactly.
template <class F>
std::optional<double> comparator_delay(const PulsePlan& plan, const F& at, std::size_t i, double crossing,
                                       std::size_t end) {
    const double charge = plan.receiver.comparator_charge;
    if (charge <= 0.0) return 0.0;
    const double sign = plan.receiver.timing == scenario::PulseTiming::leading_edge ? 1.0 : -1.0;
    double collected = 0.0;
    double before = 0.0;
    double time = 0.0;
    double width = plan.step * (static_cast<double>(i) - crossing);
    for (std::size_t k = i; k < end; ++k) {
        const double now = sign * at(k);
        if (now < 0.0) return {};
        const double more = 0.5 * (before + now) * width;
        if (collected + more >= charge) {
            // Solves before x + slope x^2 / 2 = missing, in a form that also holds for a slope of 0.
            const double missing = charge - collected;
            const double slope = (now - before) / width;
            return time + 2.0 * missing / (before + std::sqrt(std::max(before * before + 2.0 * slope * missing, 0.0)));
        }
        collected += more;
        before = now;
        time += width;
        width = plan.step;
    }
    return {};
}

// When the comparator fires by the zero between samples i - 1 and i of what `at` gives, for samples below `end`; none
// outside of the gate.
template <class F>
std::optional<double> refined(const PulsePlan& plan, const F& at, std::size_t i, std::size_t end) {
    std::array<double, 6> y{};
    for (std::size_t k = 0; k < y.size(); ++k) y[k] = at(i + k - neighbours);
    const double crossing = static_cast<double>(i - 1) + zero_between(y);
    const auto delay = comparator_delay(plan, at, i, crossing, end);
    if (!delay) return {};
    const double t = plan.first + plan.step * crossing + *delay;
    const PulseReceiver& r = plan.receiver;
    if (r.gate_end > r.gate_begin && (t < r.gate_begin || t > r.gate_end)) return {};
    return t;
}

std::optional<double> leading_edge(const PulsePlan& plan, const Trace& v) {
    const double level = plan.receiver.threshold - plan.receiver.comparator_offset;
    const auto limit = static_cast<float>(level);
    const auto at = [&](std::size_t i) { return static_cast<double>(v.values[i - v.begin]) - level; };
    for (std::size_t k = neighbours; k + neighbours <= v.values.size(); ++k) {
        if (v.values[k - 1] < limit && v.values[k] >= limit) {
            if (const auto t = refined(plan, at, v.begin + k, v.begin + v.values.size())) return t;
        }
    }
    return {};
}

std::size_t delay_samples(const PulsePlan& plan) {
    return static_cast<std::size_t>(std::lround(plan.receiver.fraction_delay / plan.step));
}

std::optional<double> constant_fraction(const PulsePlan& plan, const Trace& v) {
    const std::size_t delay = delay_samples(plan);
    const auto at = [&](std::size_t i) {
        const std::size_t k = i - v.begin;
        return plan.receiver.fraction * static_cast<double>(v.values[k]) - static_cast<double>(v.values[k - delay]) +
               plan.receiver.comparator_offset;
    };
    const auto threshold = static_cast<float>(plan.receiver.threshold);
    std::size_t armed_until = 0;
    double before = 0.0;
    for (std::size_t k = 0; k + neighbours <= v.values.size(); ++k) {
        if (v.values[k] > threshold) armed_until = k + delay;
        if (k < delay || k > armed_until) continue;
        const double now = at(v.begin + k);
        if (k >= delay + neighbours) before = at(v.begin + k - 1);
        if (k >= delay + neighbours && before > 0.0 && now <= 0.0) {
            if (const auto t = refined(plan, at, v.begin + k, v.begin + v.values.size())) return t;
        }
    }
    return {};
}

std::optional<double> firing_time(const PulsePlan& plan, const Trace& v) {
    return plan.receiver.timing == scenario::PulseTiming::leading_edge ? leading_edge(plan, v)
                                                                       : constant_fraction(plan, v);
}

base::RandomKey noise_key(std::uint64_t seed) {
    return {seed, base::Stream::pulse_noise};
}

std::int64_t draw_index(std::int64_t reading, std::int64_t pulse) {
    return static_cast<std::int64_t>((static_cast<std::uint64_t>(reading) << static_cast<unsigned>(pulse_bits)) +
                                     static_cast<std::uint64_t>(pulse));
}

// Room for the noise of one pulse, used again by the next.
struct Workspace {
    explicit Workspace(const PulsePlan& plan)
        : white(plan.end - plan.begin + plan.response.size() - 1),
          normals((white + 1 + base::block_pixels - 1) / base::block_pixels * base::block_pixels),
          values(plan.end - plan.begin) {}

    std::size_t white;  // samples of white noise; the normal number after them is the jitter's
    std::vector<float> normals;
    std::vector<float> values;
};

// V(t) = signal + white noise weighted by the response, which is symmetric.
void draw_trace(const PulsePlan& plan, Workspace& work) {
    Floats white(work.normals.data(), index_of(work.white));
    white *= ConstFloats(plan.white_deviation.data() + plan.begin, white.size());
    Floats values(work.values.data(), index_of(work.values.size()));
    values = ConstFloats(plan.signal.data() + plan.begin, values.size());
    const Eigen::Index half = index_of(plan.response.size() / 2);
    const Eigen::Index n = values.size();
    values += plan.response[plan.response.size() / 2] * white.segment(half, n);
    for (Eigen::Index k = 0; k < half; ++k) {
        values += plan.response[static_cast<std::size_t>(k)] * (white.segment(k, n) + white.segment(2 * half - k, n));
    }
}

// A uniform number of the pulse beyond those that became its normal ones.
double extra_uniform(std::uint64_t seed, std::int64_t index, const Workspace& work, std::int64_t number) {
    const auto pixel = static_cast<std::int64_t>(work.normals.size()) + number;
    return (static_cast<double>(base::random_word(noise_key(seed), index, pixel)) + 0.5) * 0x1p-32;
}

// Time of a false alarm, at a constant rate from `from` on; none before `to`.
std::optional<double> false_alarm(double rate, double from, double to, double uniform) {
    const double t = from - std::log1p(-uniform) / rate;
    return t < to ? std::optional(t) : std::nullopt;
}

// Time above the threshold, by straight lines between samples. [s]
double width_above(const PulsePlan& plan, std::span<const float> values) {
    const double level = plan.receiver.threshold;
    double samples = 0.0;
    for (std::size_t k = 1; k < values.size(); ++k) {
        const double before = static_cast<double>(values[k - 1]) - level;
        const double after = static_cast<double>(values[k]) - level;
        if (before > 0.0 && after > 0.0) {
            samples += 1.0;
        } else if (before > 0.0 || after > 0.0) {
            samples += std::max(before, after) / std::abs(after - before);
        }
    }
    return plan.step * samples;
}

std::optional<double> comparator_time(const PulsePlan& plan, std::uint64_t seed, std::int64_t index, Workspace& work) {
    const PulseReceiver& r = plan.receiver;
    constexpr double never = 1e-10;  // chance of a false alarm, below what a draw of 32 bits can tell
    const double rate = plan.false_alarm_rate;
    const bool alarms = rate * (r.gate_end - r.gate_begin) > never;
    const double begin = plan.first + plan.step * static_cast<double>(plan.begin);
    const double end = plan.end > plan.begin ? plan.first + plan.step * static_cast<double>(plan.end - 1) : begin;
    if (alarms && begin > r.gate_begin) {
        const double before = std::min(begin, r.gate_end);
        if (const auto t = false_alarm(rate, r.gate_begin, before, extra_uniform(seed, index, work, 0))) return t;
    }
    if (plan.end > plan.begin) {
        draw_trace(plan, work);
        if (const auto t = firing_time(plan, {work.values, plan.begin})) return t;
    }
    if (!alarms) return {};
    return false_alarm(rate, std::max(end, r.gate_begin), r.gate_end, extra_uniform(seed, index, work, 1));
}

std::optional<double> drawn_time(const PulsePlan& plan, std::uint64_t seed, std::int64_t index, Workspace& work) {
    base::fill_normals(noise_key(seed), index, 0, work.normals);
    const double shake = plan.receiver.jitter * static_cast<double>(work.normals[work.white]);
    auto t = comparator_time(plan, seed, index, work);
    if (!t) return {};
    *t += shake;
    const double q = plan.receiver.digitiser_step;
    return q > 0.0 ? q * std::floor(*t / q + 0.5) : *t;
}

}  // namespace

std::optional<double> noiseless_time(const PulsePlan& plan) {
    return firing_time(plan, {plan.signal, 0});
}

double noiseless_width(const PulsePlan& plan) {
    return width_above(plan, plan.signal);
}

namespace {

// Width of the pulse that was drawn last. Where an alarm came first, nothing was drawn.
double drawn_width(const PulsePlan& plan, double time, const Workspace& work) {
    if (plan.end <= plan.begin || time < plan.first + plan.step * static_cast<double>(plan.begin)) return 0.0;
    const double width = width_above(plan, work.values);
    const double q = plan.receiver.digitiser_step;
    return q > 0.0 ? q * std::floor(width / q + 0.5) : width;
}

void add_pulse(const PulsePlan& plan, std::uint64_t seed, std::int64_t index, Workspace& work, PulseReading& sums) {
    const auto t = drawn_time(plan, seed, index, work);
    if (!t) return;
    ++sums.fired;
    sums.time += *t;
    if (plan.receiver.measures_width) sums.width += drawn_width(plan, *t, work);
}

PulseReading mean_of(PulseReading sums) {
    if (sums.fired == 0) return {};
    sums.time /= static_cast<double>(sums.fired);
    sums.width /= static_cast<double>(sums.fired);
    return sums;
}

}  // namespace

PulseReading send_pulses(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading) {
    Workspace work(plan);
    PulseReading sums;
    for (std::int64_t pulse = 0; pulse < plan.receiver.pulses; ++pulse) {
        add_pulse(plan, seed, draw_index(reading, pulse), work, sums);
    }
    return mean_of(sums);
}

PulseReading send_pulses(std::int64_t pulses, std::uint64_t seed, std::int64_t reading,
                         const std::function<const PulsePlan&(std::int64_t pulse)>& plan_of) {
    PulseReading sums;
    for (std::int64_t pulse = 0; pulse < pulses; ++pulse) {
        const PulsePlan& plan = plan_of(pulse);
        Workspace work(plan);
        add_pulse(plan, seed, draw_index(reading, pulse), work, sums);
    }
    return mean_of(sums);
}

std::optional<double> pulse_time(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading, std::int64_t pulse) {
    Workspace work(plan);
    return drawn_time(plan, seed, draw_index(reading, pulse), work);
}

// Equation (pulse.5).
std::vector<float> comparator_trace(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading,
                                    std::int64_t pulse) {
    Workspace work(plan);
    base::fill_normals(noise_key(seed), draw_index(reading, pulse), 0, work.normals);
    if (plan.end > plan.begin) draw_trace(plan, work);
    return work.values;
}

// Equation (pulse.9).
std::optional<double> timing_deviation(const PulsePlan& plan) {
    // Noise moves the crossing. The comparator's delay after it depends on the slope, which noise hardly changes.
    PulsePlan swift = plan;
    swift.receiver.comparator_charge = 0.0;
    const auto t = noiseless_time(swift);
    if (!t) return {};
    const bool edge = plan.receiver.timing == scenario::PulseTiming::leading_edge;
    const double f = edge ? 1.0 : plan.receiver.fraction;
    const std::size_t delay = edge ? 0 : delay_samples(plan);
    const double place = (*t - plan.first) / plan.step;
    const auto i = static_cast<std::size_t>(place);
    const auto slope_at = [&](std::size_t k) {
        const auto v = [&](std::size_t n) { return static_cast<double>(plan.signal.at(n)); };
        return (8.0 * (v(k + 1) - v(k - 1)) - (v(k + 2) - v(k - 2))) / (12.0 * plan.step);
    };
    // The comparator sees f n(t) - n(t - D): one filter of the white noise, the two responses laid over each other.
    std::vector<double> filter(plan.response.size() + delay, 0.0);
    for (std::size_t k = 0; k < plan.response.size(); ++k) {
        filter[k + delay] += f * static_cast<double>(plan.response[k]);
        if (!edge) filter[k] -= static_cast<double>(plan.response[k]);
    }
    const auto variance_at = [&](std::size_t n) {
        double variance = 0.0;
        for (std::size_t k = 0; k < filter.size(); ++k) {
            variance += std::pow(filter[k] * static_cast<double>(plan.white_deviation[n - delay + k]), 2);
        }
        return variance;
    };
    // Between samples: the slope by Lagrange's cubic, the variance, which changes little, in a straight line.
    const double x = place - static_cast<double>(i);
    const std::array weights{-x * (x - 1.0) * (x - 2.0) / 6.0, (x + 1.0) * (x - 1.0) * (x - 2.0) / 2.0,
                             -(x + 1.0) * x * (x - 2.0) / 2.0, (x + 1.0) * x * (x - 1.0) / 6.0};
    double slope = 0.0;
    for (std::size_t k = 0; k < weights.size(); ++k) {
        const std::size_t n = i + k - 1;
        slope += weights[k] * (edge ? slope_at(n) : f * slope_at(n) - slope_at(n - delay));
    }
    return std::sqrt(std::lerp(variance_at(i), variance_at(i + 1), x)) / std::abs(slope);
}

}  // namespace spotwright::flight
