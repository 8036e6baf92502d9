// Light of a second sensor with a clock of its own: beats of modulation, pulses in the gate, photons in the histogram.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <complex>
#include <numeric>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/neighbour.hpp"

using namespace spotwright;
using base::MHz, base::ms, base::ns, base::pi, base::us;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;

namespace {

using Phasor = std::complex<double>;

flight::NeighbourLight always_on(double frequency) {
    flight::NeighbourLight light;
    light.arrivals = {{13.0 * ns, 1e9}};
    light.period = light.exposure = 1.0;
    light.frequency = frequency;
    return light;
}

flight::Modulation sine(std::int64_t taps, std::int64_t buckets = 4) {
    flight::Modulation m;
    m.buckets = buckets;
    m.taps = taps;
    return m;
}

double sinc(double x) {
    return x == 0.0 ? 1.0 : std::sin(pi * x) / (pi * x);
}

constexpr double own_delay = 31.0 * ns;
constexpr double own_rate = 4e9;
constexpr double time_of_all = 1.0 * ms;

// Phase of one measurement that begins then, less that without the other's light. [rad]
double error_at(const flight::Modulation& m, const flight::NeighbourLight& other, double begin) {
    std::vector<double> charges = flight::bucket_electrons(m, {{{own_delay, own_rate}}, 0.0}, time_of_all);
    const double alone = flight::demodulate(charges).phase;
    flight::add_neighbour(m, other, begin, time_of_all, charges);
    return std::remainder(flight::demodulate(charges).phase - alone, 2.0 * pi);
}

// Largest error over the phases between the clocks; 360 of them miss the largest of a sine by 4e-5 of it.
double largest_error(const flight::Modulation& m, flight::NeighbourLight other) {
    double largest = 0.0;
    for (int k = 0; k < 360; ++k) {
        other.turn = k / 360.0;
        largest = std::max(largest, std::abs(error_at(m, other, 0.0)));
    }
    return largest;
}

}  // namespace

// By adding up the stretches one after the other, each by its antiderivative.
TEST_CASE("turns over the time in which a second sensor lights are those of its stretches", "[flight][unit]") {
    flight::NeighbourLight light = always_on(20.0 * MHz);
    base::RandomSequence random({5, base::Stream::hot_air}, 0);
    for (int i = 0; i < 200; ++i) {
        light.period = 10.0 * us * (0.2 + random.uniform());
        light.exposure = light.period * random.uniform();
        light.lit_from = random.uniform();
        const double begin = 300.0 * us * random.uniform();
        const double end = begin + 100.0 * us * random.uniform();
        // Now and then a whole number of turns in a period: all stretches in phase.
        const double difference = i % 5 == 0 ? 3.0 / light.period : 2e5 * (random.uniform() - 0.5);
        Phasor sum;
        double lit = 0.0;
        for (int k = -2; k < 250; ++k) {
            const double from = std::max((k + light.lit_from) * light.period, begin);
            const double to = std::min((k + light.lit_from) * light.period + light.exposure, end);
            if (to <= from) continue;
            const Phasor turn(0.0, -2.0 * pi * difference);
            sum += (std::exp(turn * to) - std::exp(turn * from)) / turn;
            lit += to - from;
        }
        const Phasor found = flight::lit_turns(light, begin, end, difference);
        // Rounding of some tens of stretches of microseconds.
        CHECK_THAT(std::abs(found - sum), WithinAbs(0.0, 1e-15));
        CHECK_THAT(flight::lit_turns(light, begin, end, 0.0).real(), WithinAbs(lit, 1e-16));
    }
}

// Derived: all buckets collect at once, so Z = N/2 (A e^{i phi} + A' sinc(D T) e^{i psi}), psi the phase of the other
// in the middle of the measurement. Rounding of phases of 1e5 turns: 1e-10 rad.
TEST_CASE("buckets at the same time err by the phasor of the other's light, weakened by the sinc of the beat",
          "[flight][unit]") {
    const flight::Modulation m = sine(4);
    for (const double beat : {0.0, 130.0, 499.0, 1000.0, 1430.0, 2600.0}) {
        flight::NeighbourLight other = always_on(m.frequency + beat);
        for (const double begin : {0.0, 0.0123, 3.4567}) {
            // Source and detector weaken and delay the other's frequency as its own.
            const Phasor own = std::polar(own_rate, 2.0 * pi * m.frequency * own_delay) * flight::harmonic(m, 1);
            flight::Modulation at_other = m;
            at_other.frequency = other.frequency;
            const double middle = begin + 0.5 * time_of_all;
            const double psi = 2.0 * pi * (other.frequency * other.arrivals[0].delay - other.turn - beat * middle);
            const Phasor added = other.arrivals[0].rate * sinc(beat * time_of_all) * std::polar(1.0, psi) *
                                 flight::harmonic(at_other, 1);
            CHECK_THAT(error_at(m, other, begin), WithinAbs(std::arg(1.0 + added / own), 1e-9));
        }
    }
}

TEST_CASE("the error is at most the arc sine of the ratio of amplitudes, and the ratio over sqrt(2) rms",
          "[flight][unit]") {
    for (const std::int64_t taps : {1, 2, 4}) {
        const flight::Modulation m = sine(taps);
        const flight::NeighbourLight other = always_on(m.frequency);
        CHECK_THAT(largest_error(m, other), WithinRel(std::asin(0.25), 1e-4));
        double squares = 0.0;
        flight::NeighbourLight turned = other;
        turned.arrivals[0].rate = 0.01 * own_rate;
        for (int k = 0; k < 100; ++k) {
            turned.turn = k / 100.0;
            squares += std::pow(error_at(m, turned, 0.0), 2) / 100.0;
        }
        // Second order: a ten-thousandth.
        CHECK_THAT(std::sqrt(squares), WithinRel(0.01 / std::sqrt(2.0), 1e-4));
    }
}

// Buckets in turn sample the beat: their sum is sinc(D T) as before, and a mirror image that is largest where the beat
// turns by half a turn from one bucket to the next; of four buckets at D T = 2, each weakened by sinc(1/2).
TEST_CASE("four buckets in turn let a beat of two turns in a measurement through, others of whole turns not",
          "[flight][unit]") {
    const flight::Modulation in_turn = sine(1);
    for (const double turns : {1.0, 3.0, 4.0, 5.0}) {
        CHECK(largest_error(in_turn, always_on(in_turn.frequency + turns / time_of_all)) < 1e-8);
    }
    for (const double turns : {-2.0, 2.0}) {
        CHECK_THAT(largest_error(in_turn, always_on(in_turn.frequency + turns / time_of_all)),
                   WithinRel(std::asin(0.25 * 2.0 / pi), 1e-4));
        CHECK(largest_error(sine(4), always_on(in_turn.frequency + turns / time_of_all)) < 1e-8);
    }
}

// Gates of half a period have harmonics sin(3 pi / 2) / (3 pi / 2), a third of the fundamental's.
TEST_CASE("light at three times the frequency beats with the third harmonic of the gates", "[flight][unit]") {
    flight::Modulation m = sine(1);
    m.bandwidth = 1e15;
    CHECK_THAT(largest_error(m, always_on(3.0 * m.frequency)), WithinRel(std::asin(0.25 / 3.0), 1e-3));
    CHECK(largest_error(m, always_on(2.0 * m.frequency)) < 1e-8);
    // Beside all harmonics only the sinc's far lobes are left, at most 1 / (pi D T).
    const double beside = 1.07 * m.frequency;
    CHECK(largest_error(m, always_on(beside)) < 0.25 * 4.0 / (pi * 0.07 * m.frequency * time_of_all));
}

TEST_CASE("the other's mean light fills all buckets alike, by the share of time in which it lights", "[flight][unit]") {
    const flight::Modulation m = sine(1, 8);
    flight::NeighbourLight other = always_on(1.07 * m.frequency);
    other.period = 1.0 * us;  // a thousand in a measurement
    other.exposure = 0.3 * us;
    std::vector<double> charges(8, 0.0);
    flight::add_neighbour(m, other, 0.5, time_of_all, charges);
    const double expected = m.gate_share * time_of_all * 0.3 * other.arrivals[0].rate;
    // A slot begins and ends within a period: one stretch of 125 more or less, and what is left of the beat.
    CHECK_THAT(std::accumulate(charges.begin(), charges.end(), 0.0), WithinRel(expected, 1.0 / 125.0 + 0.001));
}

namespace {

constexpr double gate = 80.0 * ns;
constexpr double echo = 60.0 * ns;
constexpr double interval = 10.0 * us;

// A clean comparator: strong light, little noise, a gate.
flight::PulseReceiver clean() {
    flight::PulseReceiver r;
    r.timing = scenario::PulseTiming::leading_edge;
    r.width = 1.0 * ns;
    r.bandwidth = 500e6;
    r.amplifier_noise = 1e12;
    r.threshold = 1e14;
    r.jitter = 0.0;
    r.digitiser_step = 0.0;
    r.pulses = 50000;
    r.gate_end = gate;
    return r;
}

flight::NeighbourLight pulses_every(double own_interval) {
    flight::NeighbourLight light;
    light.arrivals = {{0.0, 1e16}};
    light.pulse_interval = own_interval;
    return light;
}

const flight::Light own_pulse{{{echo, 1e16}}, 0.0};

}  // namespace

// Pulses that come before the echo fire: a share of echo over interval, and then anywhere before it, 60 ns / 2 early in
// the mean. Clocks in no simple ratio fill their phases evenly: 50000 pulses are off by less than a count of chance
// would be, five standard deviations of which are allowed.
TEST_CASE("pulses of a second sensor fire before the echo as often as its delay over their interval says",
          "[flight][statistical]") {
    const flight::PulsePlan plan = flight::make_pulse_plan(clean(), own_pulse);
    const double alone = flight::noiseless_time(plan).value();
    const flight::NeighbourLight other = pulses_every(1.0 * us * (1.0 + std::sqrt(5.0)) / 2.0);
    const flight::PulseReading met = flight::send_pulses(plan, own_pulse, other, interval, 0.0, 1, 0);
    CHECK(met.fired == plan.receiver.pulses);
    // A pulse crosses the threshold as long before its middle as the echo does.
    const double share = alone / other.pulse_interval;
    const double early = 0.5 * share * alone;
    const double scatter = std::sqrt(share * alone * alone / 3.0 / static_cast<double>(met.fired));
    CHECK_THAT(met.time - alone, WithinAbs(-early, 5.0 * scatter));
    CHECK_THAT(flight::noiseless_time(plan, own_pulse, other, interval, 0.0).value() - alone,
               WithinAbs(-early, 5.0 * scatter));
    CHECK_THAT(flight::gate_share_met(other, gate), WithinRel(gate / other.pulse_interval, 1e-12));
    // Those that come after the echo change nothing.
    flight::NeighbourLight late = pulses_every(interval);
    late.pulse_from = 70.0 * ns / interval;
    // But where the samples lie: 2e-4 of the signal's deviation, and noise of its own.
    CHECK_THAT(flight::send_pulses(plan, own_pulse, late, interval, 0.0, 1, 0).time,
               WithinAbs(flight::send_pulses(plan, 1, 0).time, 0.2 * base::ps));
}

TEST_CASE("equal pulse rates meet every pulse at the same time: two pulses as of one light", "[flight][unit]") {
    flight::PulseReceiver r = clean();
    r.pulses = 20;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, own_pulse);
    flight::NeighbourLight other = pulses_every(interval);
    for (const double offset : {20.0 * ns, 59.0 * ns, 59.9 * ns}) {
        other.pulse_from = offset / interval;
        const flight::Light both{{{offset, 1e16}, {echo, 1e16}}, 0.0};
        const double expected = flight::noiseless_time(flight::make_pulse_plan(r, both)).value();
        // The first pulse is sent at a time of hours: rounding, and plans that are kept for 0.1 ps.
        CHECK_THAT(flight::noiseless_time(plan, own_pulse, other, interval, 1.0).value(), WithinAbs(expected, 2e-13));
    }
    // It lights in the second half of its period only, and this sensor sends in the first.
    other.pulse_from = 20.0 * ns / interval;
    other.period = 1.0 * ms;
    other.exposure = 0.5 * ms;
    other.lit_from = 0.5;
    CHECK_THAT(flight::noiseless_time(plan, own_pulse, other, interval, 0.0).value(),
               WithinRel(flight::noiseless_time(plan).value(), 1e-14));  // a sum of twenty, rounded
    CHECK(flight::noiseless_time(plan, own_pulse, other, interval, 0.6 * ms).value() < 25.0 * ns);
}

TEST_CASE("the time above the threshold is 2 s sqrt(2 ln(V0 / VT)), saturated or not", "[flight][unit]") {
    flight::PulseReceiver r = clean();
    r.amplifier_noise = 0.0;
    const double s = flight::signal_deviation(r);
    const double own = std::sqrt(s * s - std::pow(flight::response_deviation(r.bandwidth), 2));
    const auto width = [&](double height) {
        return flight::noiseless_width(flight::make_pulse_plan(r, {{{echo, height * r.threshold * s / own}}, 0.0}));
    };
    // Straight lines between samples: at either edge too wide by V'' h^2 / (8 V'), V'' / V' = (u - 1 / u) / s where
    // u = sqrt(2 ln(V0 / VT)). That is the largest error; nothing beyond it but third order.
    const double h = flight::response_deviation(r.bandwidth) / 3.0;
    for (const double height : {3.0, 100.0, 40000.0}) {
        const double u = std::sqrt(2.0 * std::log(height));
        const double largest = 1.1 * h * h / 4.0 * (u - 1.0 / u) / s;
        r.saturation = 0.0;
        CHECK_THAT(width(height), WithinAbs(2.0 * s * u, largest));
        r.saturation = 20.0 * r.threshold;
        CHECK_THAT(width(height), WithinAbs(2.0 * s * u, largest));
    }
    r.measures_width = true;
    r.amplifier_noise = 1e12;
    r.pulses = 400;
    const flight::PulsePlan plan = flight::make_pulse_plan(r, own_pulse);
    const flight::PulseReading reading = flight::send_pulses(plan, 3, 0);
    // Noise of a hundredth of the threshold moves either edge by some picoseconds, over the root of 400.
    CHECK_THAT(reading.width, WithinAbs(flight::noiseless_width(plan), 1e-12));
}

namespace {

flight::PhotonCounter counter() {
    flight::PhotonCounter c;
    c.deviation = 1.0 * ns;
    c.bin = 0.5 * ns;
    c.gate_end = gate;
    c.pulses = 100000;
    return c;
}

constexpr double duration = 2.0 * ns;

flight::Light photons(double delay, double number) {
    return {{{delay, number / duration}}, 1e5};
}

}  // namespace

// Another way to the same: both lights in one plan. Each count within five standard deviations of its mean, Poisson or
// binomial, and half a count.
TEST_CASE("first photons of two pulses are those of both lights together", "[flight][statistical]") {
    const flight::CountingPlan plan = flight::make_counting_plan(counter(), photons(echo, 0.8), duration);
    flight::NeighbourLight other = pulses_every(interval);
    other.pulse_from = 58.0 * ns / interval;
    other.arrivals = {{0.0, 0.3 / duration}, {1.0 * ns, 0.4 / duration}};
    const std::vector<std::int64_t> counts = flight::count_photons(plan, other, duration, interval, 0.0, 9, 0);
    flight::Light all = photons(echo, 0.8);
    all.arrivals.push_back({58.0 * ns, 0.3 / duration});
    all.arrivals.push_back({59.0 * ns, 0.4 / duration});
    const flight::CountingPlan both = flight::make_counting_plan(counter(), all, duration);
    double before = 0.0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        const double expected = (both.cumulative[i] - before) * static_cast<double>(counter().pulses);
        before = both.cumulative[i];
        CHECK_THAT(static_cast<double>(counts[i]), WithinAbs(expected, 5.0 * std::sqrt(expected) + 3.0));
    }
    const auto mean = flight::noiseless_time(plan, other, duration, interval, 0.0);
    // Offsets are taken together within an eighth of a bin.
    CHECK_THAT(mean.value(), WithinAbs(flight::noiseless_time(both).value(), counter().bin / 8.0));
}

TEST_CASE("photons of another pulse rate are spread over the gate as a background", "[flight][statistical]") {
    const flight::CountingPlan plan = flight::make_counting_plan(counter(), photons(echo, 0.05), duration);
    flight::NeighbourLight other = pulses_every(1.0 * us * (1.0 + std::sqrt(5.0)) / 2.0);
    other.arrivals = {{0.0, 0.5 / duration}};
    const std::vector<std::int64_t> alone = flight::count_photons(plan, 9, 0);
    const std::vector<std::int64_t> counts = flight::count_photons(plan, other, duration, interval, 0.0, 9, 0);
    // Before the echo: gate over interval, times the chance of a photon, 1 - exp(-1/2).
    const auto sum_before = [](const std::vector<std::int64_t>& list) {
        return std::accumulate(list.begin(), list.begin() + 100, 0.0);
    };
    const double more = sum_before(counts) - sum_before(alone);
    const double expected = 100000.0 * 50.0 * ns / other.pulse_interval * (1.0 - std::exp(-0.5));
    CHECK_THAT(more, WithinAbs(expected, 5.0 * std::sqrt(expected)));
    CHECK_THAT(flight::time_of(plan, counts).time.value(), WithinAbs(echo, 0.1 * ns));
}

TEST_CASE("without light of a second sensor nothing changes", "[flight][unit]") {
    const flight::CountingPlan plan = flight::make_counting_plan(counter(), photons(echo, 0.5), duration);
    flight::NeighbourLight dark = pulses_every(interval);
    dark.arrivals.clear();
    CHECK(flight::count_photons(plan, dark, duration, interval, 0.0, 9, 4) == flight::count_photons(plan, 9, 4));
    flight::PulseReceiver r = clean();
    r.pulses = 10;
    const flight::PulsePlan pulses = flight::make_pulse_plan(r, own_pulse);
    CHECK(flight::send_pulses(pulses, own_pulse, dark, interval, 0.0, 9, 4).time ==
          flight::send_pulses(pulses, 9, 4).time);
    std::vector<double> charges{1.0, 2.0, 3.0, 4.0};
    flight::NeighbourLight off = always_on(20.0 * MHz);
    off.exposure = 0.0;
    flight::add_neighbour(sine(1), off, 0.0, time_of_all, charges);
    CHECK(charges == std::vector<double>{1.0, 2.0, 3.0, 4.0});
}
