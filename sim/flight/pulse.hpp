// Distance by the time of pulses: the signal at the comparator, and when it fires.
//
// The emitter's pulse is Gaussian, of full width at half maximum `width`; the receiver answers like a Gaussian of 3 dB
// bandwidth f_c, standard deviation sqrt(ln 2) / (2 pi f_c). The signal V(t) is a current of photoelectrons; a pulse of
// the peak rate R that comes with delay d is R exp(-(t - d)^2 / (2 s_p^2)) on the detector, widened and lowered by the
// receiver. Noise: the amplifier's, white before the receiver's response and of the given rms after it, and the shot
// noise of all light, answered likewise and taken as normal.
#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "sim/flight/arrivals.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::flight {

struct PulseReceiver {
    scenario::PulseTiming timing = scenario::PulseTiming::constant_fraction;  ///< leading edge or constant fraction
    double width = 5e-9;             ///< of the emitter's pulse, full width at half maximum. [s]
    double bandwidth = 200e6;        ///< [Hz]
    double amplifier_noise = 1e9;    ///< rms at the comparator. [e/s]
    double threshold = 6e9;          ///< at which the comparator fires, or is armed. [e/s]
    double fraction = 0.5;           ///< f of the constant fraction
    double fraction_delay = 3e-9;    ///< D. [s]
    double comparator_offset = 0.0;  ///< added to what the timing comparator sees. [e/s]
    double comparator_charge = 0.0;  ///< Q: overdrive times time that the comparator needs to fire. [e]
    double saturation = 0.0;         ///< V at which the amplifier saturates; 0: never. [e/s]
    double recovery = 0.0;           ///< time constant with which a saturated amplifier comes down. [s]
    double excess_noise = 1.0;       ///< F, by which an avalanche multiplies the variance of shot noise. [1]
    double jitter = 30e-12;          ///< rms of each pulse's time, besides noise. [s]
    double digitiser_step = 50e-12;  ///< 0: times are not rounded. [s]
    std::int64_t pulses = 100;       ///< averaged into one reading, at most 2^20
    bool measures_width = false;     ///< for how long the signal is above the threshold
    double gate_begin = 0.0;         ///< the comparator is listened to from here [s]
    double gate_end = 0.0;           ///< to here; not after the beginning: only while a pulse may come. [s]
};

/// Standard deviation of the receiver's own response, and of the whole signal of one arrival. [s]
[[nodiscard]] double response_deviation(double bandwidth);
[[nodiscard]] double signal_deviation(const PulseReceiver& receiver);

/// F = k M + (1 - k) (2 - 1 / M), excess noise of an avalanche diode of gain M and ratio k of its ionisation
/// coefficients; 1 at M = 1. Source: R. J. McIntyre, IEEE Trans. Electron Devices 13, 164 (1966), for injected
/// electrons, from memory.
/// @throws DomainError  M below 1, k outside 0 to 1.
[[nodiscard]] double avalanche_excess_noise(double gain, double ionisation_ratio);

/// All that shots of one pose have in common. Sample i is taken at first + i step.
struct PulsePlan {
    PulseReceiver receiver;
    double first = 0.0;         ///< time of the first sample, from the emission of the pulse. [s]
    double step = 0.0;          ///< at most a third of the response's deviation; D is a whole number of them. [s]
    std::vector<float> signal;  ///< V of (pulse.3); the mean of constant light is taken off. [e/s]
    std::vector<float> white_deviation;  ///< (pulse.4), before the response; half the taps more at each end. [e/s]
    std::vector<float> response;         ///< taps by which white noise becomes the comparator's; their sum is 1
    double constant_deviation = 0.0;     ///< rms noise at the comparator where no pulse is. [e/s]
    double false_alarm_rate = 0.0;       ///< upward crossings of the threshold where no pulse is, (pulse.10). [1/s]
    std::size_t begin = 0;               ///< samples outside [begin, end) decide nothing: the signal is eight
    std::size_t end = 0;                 ///< standard deviations from firing, or past the point where it has fired
};

/// Arrivals that lie far apart share the one run of samples from the first to the last.
/// @throws DomainError  A width, bandwidth, threshold, delay or number of pulses that is not above 0, a fraction not
/// within (0, 1), negative noise, rates, jitter, steps,
/// charge, saturation or recovery; no arrivals and no gate; more than 100000 samples;
/// timing by photon counting.
[[nodiscard]] PulsePlan make_pulse_plan(const PulseReceiver& receiver, const Light& light);

/// When the comparator fires without noise, jitter and rounding; none where it does not. The leading edge: the first
/// crossing upwards of the threshold by V + offset. The constant fraction: the first crossing downwards of 0 by
/// f V(t) - V(t - D) + offset while V has been above the threshold at some time within the last D. [s]
/// A comparator of limited gain and bandwidth fires later: when the integral of what it sees since the crossing has
/// reached Q, (pulse.20), and not at all where that turns back before. For one Gaussian of standard deviation s:
/// (pulse.7), -s sqrt(2 ln(V0 / VT)), and (pulse.8), D / 2 + s^2 ln f / D, from its middle.
[[nodiscard]] std::optional<double> noiseless_time(const PulsePlan& plan);

/// A reading of many pulses.
struct PulseReading {
    std::int64_t fired = 0;  ///< pulses that gave a time
    double time = 0.0;       ///< mean of them; 0 where none fired. [s]
    double width = 0.0;      ///< mean time above the threshold of those, where it is measured. [s]
};

/// Sends the pulses of one reading, each with noise of its own. False alarms in the rest of the gate come at their
/// expected rate. Draws belong to (seed, stream, reading, pulse).
/// @param reading  At least 0, below 2^43.
[[nodiscard]] PulseReading send_pulses(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading);

/// The same where each pulse has a plan of its own, such as when light of another sensor comes at times of its own.
/// @param plan_of  Of the pulse of this number; what it returns holds until the next call.
[[nodiscard]] PulseReading send_pulses(std::int64_t pulses, std::uint64_t seed, std::int64_t reading,
                                       const std::function<const PulsePlan&(std::int64_t pulse)>& plan_of);

/// Time for which the signal without noise is above the threshold: how strong a pulse is, saturated or not. For one
/// Gaussian 2 s sqrt(2 ln(V0 / VT)). [s]
[[nodiscard]] double noiseless_width(const PulsePlan& plan);

/// The time of one pulse of that reading; none where nothing fires. [s]
[[nodiscard]] std::optional<double> pulse_time(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading,
                                               std::int64_t pulse);

/// V at the comparator with the noise of that pulse: samples [begin, end) of the plan. [e/s]
[[nodiscard]] std::vector<float> comparator_trace(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading,
                                                  std::int64_t pulse);

/// Noise at the comparator over the signal's slope, at the noiseless time: the standard deviation of one time before
/// jitter and rounding, while it is small against the signal's. [s]  Source: derived.
[[nodiscard]] std::optional<double> timing_deviation(const PulsePlan& plan);

}  // namespace spotwright::flight
