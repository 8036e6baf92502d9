// Distance by the time of pulses: the signal at the comparator, and when it fires.
//
// The emitter's pulse is Gaussian, of full width at half maximum `width`; the receiver answers like a Gaussian of 3 dB
// bandwidth f_c, standard deviation sqrt(ln 2) / (2 pi f_c). The signal V(t) is a current of photoelectrons; a pulse of
// the peak rate R that comes with delay d is R exp(-(t - d)^2 / (2 s_p^2)) on the detector, widened and lowered by the
// receiver. Noise: the amplifier's, white before the receiver's response and of the given rms after it, and the shot
// noise of all light, answered likewise.
#pragma once

#include <cstdint>
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
    double comparator_offset = 0.0;  ///< [e/s]
    double jitter = 30e-12;          ///< rms of each pulse's time, besides noise. [s]
    double digitiser_step = 50e-12;  ///< 0: times are not rounded. [s]
    std::int64_t pulses = 100;       ///< averaged into one reading
};

/// Standard deviation of the receiver's own response, and of the whole signal of one arrival. [s]
[[nodiscard]] double response_deviation(double bandwidth);
[[nodiscard]] double signal_deviation(const PulseReceiver& receiver);

/// All that shots of one pose have in common.
struct PulsePlan {
    PulseReceiver receiver;
    double first = 0.0;          ///< time of the first sample, from the emission of the pulse. [s]
    double step = 0.0;           ///< between samples, fine against the response. [s]
    std::vector<double> signal;  ///< without noise, samples of V(t) and of the constant light's mean taken off. [e/s]
    std::vector<double> shot_deviation;  ///< of white noise before the response, by sample. [e/s]
    std::vector<double> response;        ///< taps by which white noise becomes the comparator's; see the source file
    double greatest = 0.0;               ///< of `signal`. [e/s]
};

/// Arrivals that lie far apart each get a stretch of samples of their own only by way of the one run from the first to
/// the last; delays are bounded by the scenario's range.
/// @throws DomainError  No samples would be left, or more than a million.
[[nodiscard]] PulsePlan make_pulse_plan(const PulseReceiver& receiver, const Light& light);

/// When the comparator fires without noise, jitter and rounding; none where the threshold is not reached. The leading
/// edge: the first crossing upwards of the threshold; the constant fraction: the zero of f V(t) - V(t - D) + offset
/// downwards, once f V has crossed the threshold's armed level (V itself above the threshold). [s]
/// For one Gaussian of standard deviation s: -s sqrt(2 ln(V0 / VT)) and D / 2 + s^2 ln f / D from its middle.
[[nodiscard]] std::optional<double> noiseless_time(const PulsePlan& plan);

/// A reading of many pulses.
struct PulseReading {
    std::int64_t fired = 0;  ///< pulses that gave a time
    double time = 0.0;       ///< mean of them. [s]
};

/// Sends the pulses of one reading, each with noise of its own on all its samples.
/// Draws belong to (seed, stream, reading, pulse).
[[nodiscard]] PulseReading send_pulses(const PulsePlan& plan, std::uint64_t seed, std::int64_t reading);

/// Standard deviation of one crossing by noise sigma_n over slope, at the noiseless time. [s]  Source: derived.
[[nodiscard]] std::optional<double> timing_deviation(const PulsePlan& plan);

}  // namespace spotwright::flight
