// Light of a second sensor with a clock of its own, as the detector of this one times it.
#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/flight/arrivals.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/flight/photon_counting.hpp"
#include "sim/flight/pulse.hpp"

namespace spotwright::flight {

/// What of it reaches the detector, and when. It lights from (k + lit_from) periods on, for every whole number k. All
/// three beginnings are arbitrary: nobody knows the phases between two clocks that run freely.
struct NeighbourLight {
    std::vector<Arrival> arrivals;  ///< rates while it lights, or at the peak of a pulse; delays from its emitter
    double period = 1.0;            ///< [s]
    double exposure = 1.0;          ///< for which it lights in each period, at most the period. [s]
    double frequency = 20e6;        ///< of its modulation. [Hz]
    double pulse_interval = 1e-5;   ///< from one of its pulses to the next. [s]
    double lit_from = 0.382;        ///< of a period
    double turn = 0.382;            ///< of its modulation at time 0, in turns
    double pulse_from = 0.382;      ///< of a pulse interval: when pulses are sent
};

/// Integral of exp(-2 pi i D t) dt over the time from begin to end during which it lights: at D = 0 that time. Equation
/// (phase.19). [s]
/// @param difference  D. [Hz]
[[nodiscard]] std::complex<double> lit_turns(const NeighbourLight& light, double begin, double end, double difference);

/// What of its modulation one measurement keeps: |integral of exp(-2 pi i D t) dt| over the time in which it lights, by
/// the whole time; the sinc of (phase.18) where it always lights. [1]
[[nodiscard]] double kept_share(const NeighbourLight& light, double begin, double measurement_time, double difference);

/// Adds to the mean charges of the buckets of one frequency, which are filled from `begin` on, what they collect of it:
/// its mean light, and what its modulation beats with theirs. Waveform, depth and bandwidth are those of this sensor.
/// Harmonics are followed down to a thousandth of what the fundamental may leave. Equation (phase.17).
/// @param electrons  Of all N buckets. [e]
void add_neighbour(const Modulation& modulation, const NeighbourLight& light, double begin, double measurement_time,
                   std::span<double> electrons);

/// When a second sensor sends a pulse, within [from, to). [s]
[[nodiscard]] std::vector<double> pulses_sent(const NeighbourLight& light, double from, double to);

/// One reading of a comparator that pulses of a second sensor reach too, each when its clock sends it: signals add up
/// before the amplifier, the comparator fires at the first crossing.
/// @param own  Light of this sensor's pulse, of which `plan` is.
/// @param interval  Between this sensor's pulses. [s]  @param begin  When the first is sent. [s]
[[nodiscard]] PulseReading send_pulses(const PulsePlan& plan, const Light& own, const NeighbourLight& other,
                                       double interval, double begin, std::uint64_t seed, std::int64_t reading);

/// Mean time of those pulses without noise; none where fewer than half of them give one. [s]
[[nodiscard]] std::optional<double> noiseless_time(const PulsePlan& plan, const Light& own, const NeighbourLight& other,
                                                   double interval, double begin);

/// Counts of first photons where the photons of a second sensor's pulses come too: of both kinds, the first of a pulse
/// is what is told, which is exact for light that is Poisson.
/// @param plan  Without its light.  @param duration  Energy of a pulse over its peak power. [s]
[[nodiscard]] std::vector<std::int64_t> count_photons(const CountingPlan& plan, const NeighbourLight& other,
                                                      double duration, double interval, double begin,
                                                      std::uint64_t seed, std::int64_t reading);

/// Time that mean counts give there. The second sensor's photons are spread over all pulses of the reading. [s]
[[nodiscard]] std::optional<double> noiseless_time(const CountingPlan& plan, const NeighbourLight& other,
                                                   double duration, double interval, double begin);

/// Share of this sensor's pulses in whose gate a pulse of the second one comes: gate over its interval, as long as the
/// clocks have nothing to do with each other, (pulse.22). [1]
[[nodiscard]] double gate_share_met(const NeighbourLight& light, double gate);

}  // namespace spotwright::flight
