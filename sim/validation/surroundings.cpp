#include <cmath>

#include "sim/base/units.hpp"
#include "sim/flight/neighbour.hpp"
#include "sim/receiver/hot_air.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

// Kolmogorov's air: neither inner nor outer scale.
constexpr receiver::HotAir free_air{1e-14, 100.0, 0.0, 0.0};

// Variance over C_n^2 L^3 D^(-1/3), D the 1/e^2 diameter of the beam.
double beam_constant(double radius) {
    const double law =
        free_air.structure_constant * std::pow(free_air.height, 3.0) * std::pow(2.0 * radius, -1.0 / 3.0);
    return receiver::beam_wander_variance(free_air, radius) / law;
}

// Variance over C_n^2 L D^(-1/3), D the diameter of the lens.
double arrival_constant(double radius) {
    const double law = free_air.structure_constant * free_air.height * std::pow(2.0 * radius, -1.0 / 3.0);
    return receiver::arrival_variance(free_air, radius) / law;
}

// Exposures of 2.5 us every 125 us that meet a clock of 131.7 us and 10 us.
double met_exposures() {
    scenario::Neighbour n;
    n.power = 1.0 * mW;
    n.period = 131.7 * us;
    n.exposure = 10.0 * us;
    constexpr int count = 26340;  // of which every 1317th meets the same phase
    int met = 0;
    for (int i = 0; i < count; ++i) met += sensor::met_light(n, i * 125.0 * us, 2.5 * us) > 0.0 ? 1 : 0;
    return static_cast<double>(met) / count;
}

// Share of a second sensor's modulation that buckets at the same time keep, its beat turning so often in a measurement.
double kept_beat(double turns) {
    flight::Modulation m;
    m.taps = m.buckets;
    constexpr double measurement = 1.0 * ms;
    flight::NeighbourLight other;
    other.arrivals = {{0.0, 1e9}};
    const auto amplitude = [&](double frequency) {
        other.frequency = frequency;
        std::vector<double> charges(static_cast<std::size_t>(m.buckets), 0.0);
        flight::add_neighbour(m, other, 0.0, measurement, charges);
        return flight::demodulate(charges).amplitude;
    };
    return amplitude(m.frequency + turns / measurement) / amplitude(m.frequency);
}

// Mean distance by which pulses of a second sensor pull readings nearer, over G^2 rate c / 4: an echo at the end of a
// gate G that pulses of that rate fall into.
double pulled_by_pulses() {
    flight::PulseReceiver r;
    r.timing = scenario::PulseTiming::leading_edge;
    r.width = 1.0 * ns;
    r.bandwidth = 500.0 * MHz;
    r.amplifier_noise = 1e10;
    r.threshold = 1e14;
    r.pulses = 20000;
    r.gate_end = 100.0 * ns;
    const flight::Light echo{{{90.0 * ns, 1e16}}, 0.0};
    const flight::PulsePlan plan = flight::make_pulse_plan(r, echo);
    flight::NeighbourLight other;
    other.arrivals = {{0.0, 1e16}};
    other.pulse_interval = 1.618034 * us;
    const double alone = flight::noiseless_time(plan).value();
    const double met = flight::noiseless_time(plan, echo, other, 10.0 * us, 0.0).value();
    return (alone - met) / (0.5 * alone * alone / other.pulse_interval);
}

}  // namespace

std::vector<Check> surroundings_checks() {
    return {
        {"air.beam", "wander of a beam along one axis: 0.97 C_n^2 L^3 D^(-1/3)",
         "J. H. Churnside, R. J. Lataitis, Appl. Opt. 29, 926 (1990), from memory", "1", 0.97, beam_constant(5.0 * mm),
         0.012, "half of the last digit, and the sum over the spectrum"},
        {"air.beam.both", "wander of a beam, both axes: 1.90 C_n^2 L^3 (2 w)^(-1/3)",
         "T. Chiba, Appl. Opt. 10, 2456 (1971), from memory", "1", 1.90, 2.0 * beam_constant(5.0 * mm), 0.03,
         "his constant is rounded in steps: 1 %, and half of the last digit"},
        {"air.arrival", "angle of arrival from a point over a round lens: 1.09 C_n^2 L D^(-1/3)",
         "L. C. Andrews, R. L. Phillips, Laser Beam Propagation through Random Media, ch. 6, from memory", "1", 1.09,
         arrival_constant(10.0 * mm), 0.035,
         "his is the phase difference at the rim, ours the mean gradient: 2.91 against 2.84 for a plane wave, 2.5 %"},
        {"neighbour.met", "share of exposures that meet a second sensor's light: (2.5 + 10) / 131.7",
         "derived: clocks that meet at all phases alike; worked value", "1", 0.09491268, met_exposures(), 0.001,
         "1317 phases of the beat: one more or less is 8e-4"},
        {"neighbour.beat.half", "share of a second sensor's modulation that is kept at 0.603 turns in a measurement",
         "R. Lange, thesis, University of Siegen (2000), fig. 2.11: a lock-in detector selects frequencies by a sinc; "
         "worked value",
         "1", 0.5, kept_beat(0.6033545), 1e-4, "source and detector weaken the other's frequency by 1e-5 more"},
        {"neighbour.beat.lobe", "the same at 1.430 turns, the largest beyond the first zero", "as before; worked value",
         "1", 0.2172336, kept_beat(1.4302967), 1e-4, "as before"},
        {"neighbour.pulses", "mean time by which a second sensor's pulses fire early, over rate t^2 / 2",
         "derived: pulses come at all times alike; worked value", "1", 1.0, pulled_by_pulses(), 0.02,
         "20000 pulses, of which 1100 are met, evenly"},
    };
}

}  // namespace spotwright::validation
