// Distance by the times of single photons: a histogram of the first photon of each pulse, and what it leaves out.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "sim/flight/arrivals.hpp"

namespace spotwright::flight {

/// A detector that tells the time of the first photon after each pulse and is blind until the next.
struct PhotonCounter {
    double deviation = 1e-9;   ///< of arrival times about their delay: pulse and jitter together. [s]
    double bin = 50e-12;       ///< of the time digitiser. [s]
    double gate_begin = 0.0;   ///< photons are looked for from here [s]
    double gate_end = 100e-9;  ///< to here, at least ten bins. [s]
    std::int64_t pulses = 1000;
    bool pile_up_corrected = true;
};

/// Mean numbers of photons by bin, if none were missed, and chances of the first. All of one size.
struct CountingPlan {
    PhotonCounter counter;
    std::vector<double> mean;          ///< lambda_i of each bin, signal and constant light, (pulse.11)
    std::vector<double> cumulative;    ///< chance that the first photon comes in this bin or before it, (pulse.12)
    double background = 0.0;           ///< mean of a bin from constant light
    std::vector<std::uint32_t> guide;  ///< entry g: the bin in which the search for chances g / size and above begins
};

/// @param pulse_duration  By which rates become photons of a pulse: energy over peak power of the pulse. [s]
/// @throws DomainError  A gate of fewer than ten or more than a million bins; a deviation, bin or duration that is not
/// above 0; negative rates; fewer than one pulse.
[[nodiscard]] CountingPlan make_counting_plan(const PhotonCounter& counter, const Light& light, double pulse_duration);

/// Counts of first photons after the pulses of one reading. Draws belong to (seed, stream, reading, pulse).
[[nodiscard]] std::vector<std::int64_t> count_photons(const CountingPlan& plan, std::uint64_t seed,
                                                      std::int64_t reading);

/// The bin of the first photon after one of those pulses; none where none comes.
[[nodiscard]] std::optional<std::size_t> bin_of_pulse(const CountingPlan& plan, std::uint64_t seed,
                                                      std::int64_t reading, std::int64_t pulse);

/// A plan with the mean photons of more light, spread over all pulses.
[[nodiscard]] CountingPlan with_more_light(CountingPlan plan, const Light& light, double pulse_duration);

/// Mean numbers of photons by bin from counts of first photons: lambda_i = -ln(1 - h_i / (M - sum_{j<i} h_j)); where
/// no pulse is left over, as if half of one were. Source: P. B. Coates, J. Phys. E 1, 878 (1968), from memory.
/// @throws DomainError  A negative count, or more counts than pulses.
[[nodiscard]] std::vector<double> corrected_counts(std::span<const std::int64_t> counts, std::int64_t pulses);

struct CountReading {
    double detected_share = 0.0;  ///< pulses with a photon. [1]
    std::optional<double> time;   ///< of the pulse's middle; none where no peak stands out of the background. [s]
    double photons = 0.0;         ///< of the peak, by pulse, without the background; as they were counted
};

/// Where the pulse lies: the strongest place by a running sum of 2.8 deviations, then the most likely middle of a
/// Gaussian of the known deviation over an even background, from the numbers of photons with the correction for
/// pile-up or without; the centroid where there is no background. The background is the mean of the bins where no sum
/// stands out. A peak counts where its sum exceeds the background's by six of its standard deviations and six photons:
/// the second because counts of few are skew.
[[nodiscard]] CountReading time_of(const CountingPlan& plan, std::span<const std::int64_t> counts);

/// The same for mean counts without noise: what many readings agree on. Pile-up is in it where it is not corrected.
[[nodiscard]] CountReading noiseless_count(const CountingPlan& plan);
[[nodiscard]] std::optional<double> noiseless_time(const CountingPlan& plan);

}  // namespace spotwright::flight
