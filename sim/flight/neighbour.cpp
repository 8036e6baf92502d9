#include "sim/flight/neighbour.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/special_functions/sinc.hpp>

#include <algorithm>
#include <cmath>
#include <map>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/flight/receive.hpp"

namespace spotwright::flight {

namespace {

using base::pi;
using boost::math::sinc_pi;
using Phasor = std::complex<double>;

// exp(-2 pi i turns), whole turns left out.
Phasor turned_back(double turns) {
    return std::polar(1.0, -2.0 * pi * (turns - std::floor(turns)));
}

// Integral of exp(-2 pi i D t) dt from a to b.
Phasor turns_over(double a, double b, double difference) {
    if (!(b > a)) return 0.0;
    return (b - a) * sinc_pi(pi * difference * (b - a)) * turned_back(0.5 * difference * (a + b));
}

// Sum of exp(-2 pi i D P m) for m from 0 to count - 1.
Phasor sum_of_turns(double turns, double count) {
    const double r = turns - std::round(turns);
    const double step = std::sin(pi * r);
    const double size = std::abs(step) < 1e-12 ? count : std::sin(pi * r * count) / step;
    return size * turned_back(0.5 * r * (count - 1.0));
}

}  // namespace

// Equation (phase.19).
Phasor lit_turns(const NeighbourLight& light, double begin, double end, double difference) {
    const double period = light.period;
    const double first = std::floor(begin / period - light.lit_from);
    const double last = std::floor(end / period - light.lit_from);
    const auto lit = [&](double k) {
        const double from = (k + light.lit_from) * period;
        return turns_over(std::max(from, begin), std::min(from + light.exposure, end), difference);
    };
    Phasor sum = lit(first);
    if (last == first) return sum;
    sum += lit(last);
    const double whole = last - first - 1.0;
    if (whole > 0.0) {
        const double from = (first + 1.0 + light.lit_from) * period;
        sum += turns_over(from, from + light.exposure, difference) * sum_of_turns(difference * period, whole);
    }
    return sum;
}

double kept_share(const NeighbourLight& light, double begin, double measurement_time, double difference) {
    return std::abs(lit_turns(light, begin, begin + measurement_time, difference)) / measurement_time;
}

namespace {

// A harmonic of the light and the one of the gates that it beats with.
struct Beat {
    double amplitude = 0.0;   // of the beat, per mean signal; of one gate
    double lag = 0.0;         // by source and detector. [rad]
    double difference = 0.0;  // between both. [Hz]
    int of_light = 1;
    int of_gate = 1;
};

constexpr double negligible = 1e-3;  // beside what the fundamental may leave
constexpr int last_harmonic = 99;

std::vector<Beat> beats_of(const Modulation& m, const NeighbourLight& light, double duration) {
    // Light of the other's frequency in gates of no width: coefficients of the light alone.
    Modulation other = m;
    other.frequency = light.frequency;
    other.gate_share = 1e-9;
    std::vector<Beat> beats;
    double first = 0.0;
    const double stretch = std::min(light.exposure, duration);
    // At most what is left of a beat over one stretch of light.
    const auto bound = [stretch](double amplitude, double difference) {
        return std::abs(amplitude) * std::min(1.0, 1.0 / std::max(pi * std::abs(difference) * stretch, 1e-9));
    };
    for (int l = 1; l <= last_harmonic; l += 2) {
        const Phasor c = harmonic(other, l);
        const double frequency = l * light.frequency;
        const int n = std::max(1, static_cast<int>(std::lround(std::min(frequency / m.frequency, 1e6))));
        const double amplitude = std::abs(c) * sinc_pi(pi * n * m.gate_share);
        const double difference = frequency - n * m.frequency;
        if (l == 1) first = bound(amplitude, difference);
        if (amplitude == 0.0 || bound(amplitude, difference) < negligible * first) continue;
        beats.push_back({amplitude, std::arg(c), difference, l, n});
    }
    return beats;
}

}  // namespace

// Equation (phase.17).
void add_neighbour(const Modulation& m, const NeighbourLight& light, double begin, double measurement_time,
                   std::span<double> electrons) {
    const double duration = slot_time(measurement_time, m.buckets, m.taps);
    const std::vector<Beat> beats = beats_of(m, light, duration);
    double all = 0.0;
    for (const Arrival& arrival : light.arrivals) all += arrival.rate;
    std::vector<Phasor> sums;  // of rates turned by the phases of their ways
    for (const Beat& beat : beats) {
        Phasor sum = 0.0;
        for (const Arrival& arrival : light.arrivals) {
            sum += arrival.rate * turned_back(-beat.of_light * (light.frequency * arrival.delay - light.turn));
        }
        sums.push_back(sum * beat.amplitude * std::polar(1.0, beat.lag));
    }
    for (std::int64_t slot = 0; slot < m.buckets / m.taps; ++slot) {
        const double from = begin + static_cast<double>(slot) * duration;
        const double lit = lit_turns(light, from, from + duration, 0.0).real();
        if (lit <= 0.0) continue;
        std::vector<Phasor> beating;
        for (std::size_t h = 0; h < beats.size(); ++h) {
            beating.push_back(sums[h] * lit_turns(light, from, from + duration, beats[h].difference));
        }
        for (std::int64_t k = slot; k < m.buckets; k += m.buckets / m.taps) {
            double collected = lit * all;
            for (std::size_t h = 0; h < beats.size(); ++h) {
                const double gate =
                    static_cast<double>(beats[h].of_gate * k % m.buckets) / static_cast<double>(m.buckets);
                collected += std::real(beating[h] * turned_back(gate));
            }
            double& charge = electrons[static_cast<std::size_t>(k)];
            charge = std::max(0.0, charge + m.gate_share * collected);
        }
    }
}

std::vector<double> pulses_sent(const NeighbourLight& light, double from, double to) {
    std::vector<double> times;
    double number = std::ceil(from / light.pulse_interval - light.pulse_from);
    for (;; number += 1.0) {
        const double time = (number + light.pulse_from) * light.pulse_interval;
        if (!(time < to)) return times;
        const double turns = time / light.period - light.lit_from;
        if ((turns - std::floor(turns)) * light.period < light.exposure) times.push_back(time);
    }
}

namespace {

// Delays of the other's light, earliest and latest.
struct Span {
    double least = 0.0;
    double greatest = 0.0;
};

Span span_of(const NeighbourLight& light) {
    Span span{light.arrivals.front().delay, light.arrivals.front().delay};
    for (const Arrival& arrival : light.arrivals) {
        span.least = std::min(span.least, arrival.delay);
        span.greatest = std::max(span.greatest, arrival.delay);
    }
    return span;
}

// Pulses of the other that this sensor's pulse meets, by when they are sent after it.
std::vector<double> offsets_met(const NeighbourLight& other, const Span& delays, double sent, double gate_begin,
                                double gate_end) {
    std::vector<double> offsets =
        pulses_sent(other, sent + gate_begin - delays.greatest, sent + gate_end - delays.least);
    for (double& offset : offsets) offset -= sent;
    return offsets;
}

// Plans of pulses that meet others: the last one is kept, for pulse rates that are equal.
class MeetingPlans {
public:
    MeetingPlans(const PulsePlan& plan, const Light& own, const NeighbourLight& other) : plan_(plan), other_(other) {
        if (other.arrivals.empty()) return;
        // A plan is made of each pulse that is met: fewer delays make it faster. Their mean stays.
        constexpr std::size_t most_delays = 8;
        own_ = with_at_most(own, most_delays);
        delays_ = span_of(other);
        const PulseReceiver& r = plan.receiver;
        // What came before the gate may still hold the amplifier.
        const double held = r.saturation > r.threshold ? r.recovery * std::log(1e6 * r.saturation / r.threshold) : 0.0;
        before_gate_ = 9.0 * signal_deviation(r) + r.fraction_delay + held;
    }

    // The plan of a pulse sent at this time. [s]
    const PulsePlan& at(double sent) {
        if (other_.arrivals.empty()) return plan_;
        const PulseReceiver& r = plan_.receiver;
        const std::vector<double> offsets = offsets_met(other_, delays_, sent, r.gate_begin - before_gate_, r.gate_end);
        if (offsets.empty()) return plan_;
        if (!is_last(offsets)) {
            Light both = own_;
            for (const double offset : offsets) {
                for (const Arrival& arrival : other_.arrivals) {
                    both.arrivals.push_back({arrival.delay + offset, arrival.rate});
                }
            }
            std::sort(both.arrivals.begin(), both.arrivals.end(),
                      [](const Arrival& a, const Arrival& b) { return a.delay < b.delay; });
            met_ = make_pulse_plan(r, both);
            last_ = offsets;
        }
        return met_;
    }

private:
    [[nodiscard]] bool is_last(const std::vector<double>& offsets) const {
        constexpr double same = 1e-13;  // s: rounding of times of hours, far below any jitter
        return offsets.size() == last_.size() && std::equal(offsets.begin(), offsets.end(), last_.begin(),
                                                            [](double a, double b) { return std::abs(a - b) < same; });
    }

    const PulsePlan& plan_;
    Light own_;
    const NeighbourLight& other_;
    Span delays_;
    double before_gate_ = 0.0;
    PulsePlan met_;
    std::vector<double> last_;
};

}  // namespace

PulseReading send_pulses(const PulsePlan& plan, const Light& own, const NeighbourLight& other, double interval,
                         double begin, std::uint64_t seed, std::int64_t reading) {
    MeetingPlans plans(plan, own, other);
    return send_pulses(plan.receiver.pulses, seed, reading, [&](std::int64_t pulse) -> const PulsePlan& {
        return plans.at(begin + static_cast<double>(pulse) * interval);
    });
}

std::optional<double> noiseless_time(const PulsePlan& plan, const Light& own, const NeighbourLight& other,
                                     double interval, double begin) {
    MeetingPlans plans(plan, own, other);
    const std::optional<double> alone = noiseless_time(plan);
    std::int64_t fired = 0;
    double sum = 0.0;
    for (std::int64_t pulse = 0; pulse < plan.receiver.pulses; ++pulse) {
        const PulsePlan& met = plans.at(begin + static_cast<double>(pulse) * interval);
        const std::optional<double> time = &met == &plan ? alone : noiseless_time(met);
        if (!time) continue;
        ++fired;
        sum += *time;
    }
    if (2 * fired < plan.receiver.pulses) return std::nullopt;
    return sum / static_cast<double>(fired);
}

namespace {

// The bin of a first photon among so many of a Poisson mean about a Gaussian middle, from the gate's begin on; none
// where there is none within the gate.
std::optional<std::size_t> first_photon(const PhotonCounter& counter, double middle, double mean, double uniform) {
    if (!(mean > 0.0)) return std::nullopt;
    const double before = 0.5 * std::erfc((middle - counter.gate_begin) / (std::sqrt(2.0) * counter.deviation)) * mean;
    const double share = (before - std::log(uniform)) / mean;
    if (!(share > 0.0 && share < 1.0)) return std::nullopt;
    const double time =
        middle + counter.deviation * boost::math::quantile(boost::math::normal_distribution<double>(), share);
    if (time < counter.gate_begin || time >= counter.gate_end) return std::nullopt;
    return static_cast<std::size_t>((time - counter.gate_begin) / counter.bin);
}

constexpr double reach_of_photons = 6.0;  // deviations

std::vector<double> offsets_met(const CountingPlan& plan, const NeighbourLight& other, const Span& delays,
                                double sent) {
    const PhotonCounter& c = plan.counter;
    const double more = reach_of_photons * c.deviation;
    return offsets_met(other, delays, sent, c.gate_begin - more, c.gate_end + more);
}

}  // namespace

std::vector<std::int64_t> count_photons(const CountingPlan& plan, const NeighbourLight& other, double duration,
                                        double interval, double begin, std::uint64_t seed, std::int64_t reading) {
    std::vector<std::int64_t> counts = count_photons(plan, seed, reading);
    if (other.arrivals.empty()) return counts;
    const Span delays = span_of(other);
    constexpr unsigned pulse_bits = 20;
    for (std::int64_t pulse = 0; pulse < plan.counter.pulses; ++pulse) {
        const double sent = begin + static_cast<double>(pulse) * interval;
        const std::vector<double> offsets = offsets_met(plan, other, delays, sent);
        if (offsets.empty()) continue;
        base::RandomSequence random({seed, base::Stream::neighbour_photon},
                                    static_cast<std::int64_t>((static_cast<std::uint64_t>(reading) << pulse_bits) +
                                                              static_cast<std::uint64_t>(pulse)));
        std::optional<std::size_t> first;
        for (const double offset : offsets) {
            for (const Arrival& arrival : other.arrivals) {
                const auto bin =
                    first_photon(plan.counter, arrival.delay + offset, arrival.rate * duration, random.uniform());
                if (bin && *bin < counts.size() && (!first || *bin < *first)) first = bin;
            }
        }
        if (!first) continue;
        const std::optional<std::size_t> own = bin_of_pulse(plan, seed, reading, pulse);
        if (own && *own <= *first) continue;
        if (own) --counts[*own];
        ++counts[*first];
    }
    return counts;
}

std::optional<double> noiseless_time(const CountingPlan& plan, const NeighbourLight& other, double duration,
                                     double interval, double begin) {
    if (other.arrivals.empty()) return noiseless_time(plan);
    // Offsets of nearly the same time are taken together, so that equal pulse rates cost no more.
    const double step = 0.125 * plan.counter.bin;
    const Span delays = span_of(other);
    std::map<std::int64_t, std::int64_t> met;
    for (std::int64_t pulse = 0; pulse < plan.counter.pulses; ++pulse) {
        const double sent = begin + static_cast<double>(pulse) * interval;
        for (const double offset : offsets_met(plan, other, delays, sent)) ++met[std::llround(offset / step)];
    }
    Light light;
    for (const auto& [steps, count] : met) {
        const double share = static_cast<double>(count) / static_cast<double>(plan.counter.pulses);
        for (const Arrival& arrival : other.arrivals) {
            light.arrivals.push_back({arrival.delay + step * static_cast<double>(steps), arrival.rate * share});
        }
    }
    return noiseless_time(with_more_light(plan, light, duration));
}

// Equation (pulse.22).
double gate_share_met(const NeighbourLight& light, double gate) {
    return std::min(1.0, gate / light.pulse_interval) * std::min(1.0, light.exposure / light.period);
}

}  // namespace spotwright::flight
