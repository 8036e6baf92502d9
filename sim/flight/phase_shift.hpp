// Distance by the phase of modulated light: from the light to bucket charges, and from them back to phases.
//
// The source sends P(t) = P (1 + m w(2 pi f t)), w of mean 0 and peak 1 (sine, square or triangle, each like a cosine:
// largest at t = 0), m the modulation depth. Source and detector together act as one pole at the bandwidth f_c:
// harmonic n is weakened by 1 / sqrt(1 + (n f / f_c)^2) and comes atan(n f / f_c) late, which reads as a longer way.
// A detector with M taps collects M buckets at the same time, N / M of them apart, and the others in turn: each has M /
// N of the time of the measurement T. Bucket k of N is open during a share g of each period about the phase 2 pi k / N.
// A steady rate r so gives r g T M / N electrons in each.
#pragma once

#include <complex>
#include <cstdint>
#include <span>
#include <vector>

#include "sim/flight/arrivals.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::flight {

/// How one frequency is sent and gated, (phase.1).
struct Modulation {
    scenario::Waveform waveform = scenario::Waveform::sine;
    double frequency = 20e6;   ///< f. [Hz]
    double depth = 0.8;        ///< m. [1]
    double bandwidth = 200e6;  ///< f_c. [Hz]
    std::int64_t buckets = 4;  ///< N, >= 3
    double gate_share = 0.5;   ///< g. [1]
    std::int64_t taps = 1;     ///< M; divides N
};

/// Number of the slot of time, from 0 to N / M - 1, in which a bucket collects: k mod (N / M).
[[nodiscard]] std::int64_t slot_of_bucket(std::int64_t bucket, std::int64_t buckets, std::int64_t taps);

/// Time of one slot, T M / N. [s]
[[nodiscard]] double slot_time(double measurement_time, std::int64_t buckets, std::int64_t taps);

/// Complex amplitude c_n, n >= 1, of the signal in a bucket per mean signal collected by it:
/// C_k / B_sig = 1 + Re sum_n c_n exp(i n (phi - 2 pi k / N)) for light of the one phase phi = 2 pi f delay (the sign
/// of which makes a bucket that opens later see light that comes later), c_n = m w_n sinc(n g) H(n f), sinc(x) =
/// sin(pi x) / (pi x), H = 1 / (1 - i n f / f_c): what comes late adds to the phase. Source: derived.
/// @throws DomainError  n < 1; frequency or bandwidth not above 0, depth outside 0 to 1, fewer than three buckets, a
/// number of
///   taps that does not divide them, gate share not above 0 or above 1.
[[nodiscard]] std::complex<double> harmonic(const Modulation& modulation, int n);

/// Mean electrons of each bucket, all harmonics that matter included (those left out are below 1e-6 of the fundamental
/// taken together, or beyond the 1000th). No noise, no saturation; not below 0. Cost: 1.5 us for each arrival and 500
/// harmonics. [e]
/// @param measurement_time  T, of this frequency, all its buckets together. [s]
/// @throws DomainError  As for `harmonic`; time negative.
[[nodiscard]] std::vector<double> bucket_electrons(const Modulation& modulation, const Light& light,
                                                   double measurement_time);

/// What buckets say.
struct Demodulated {
    double phase = 0.0;      ///< in [0, 2 pi). [rad]
    double amplitude = 0.0;  ///< A, of the fundamental. [e per bucket]
    double offset = 0.0;     ///< B, mean of the buckets. [e per bucket]
};

/// phi = arg Z, A = 2 |Z| / N, B = mean, Z = sum_k C_k exp(i 2 pi k / N). Source: textbook discrete Fourier transform;
/// four buckets: R. Lange, P. Seitz, IEEE J. Quantum Electron. 37, 390 (2001), from memory.
/// @throws DomainError  Fewer than three buckets.
[[nodiscard]] Demodulated demodulate(std::span<const double> buckets);

/// Standard deviation of the phase that is no better than a guess: of a uniform one, pi / sqrt(3). [rad]
inline constexpr double guessed_phase_deviation = 1.8137993642342178;

/// Standard deviation of the phase from noise, sigma^2 = 2 (B + s^2) / (N A^2), for A >> sqrt(B) and N >= 4 (with three
/// buckets it is the mean over all phases); never above that of a guess, which is also what no amplitude gives. [rad]
/// Source: derived; shot noise of the bucket charges, of which each has the variance C_k + s^2.
/// @param noise_variance  s^2: read noise and digitising, of one bucket. [e^2]
/// @throws DomainError  Fewer than three buckets, a negative variance.
[[nodiscard]] double phase_deviation(const Demodulated& measured, std::int64_t buckets, double noise_variance);

/// Noise of the charges of one measurement.
struct BucketNoise {
    double read_noise = 0.0;  ///< rms, of each bucket. [e]
    double full_well = 0.0;   ///< charges are clipped here, > 0. [e]
    double digit = 1.0;       ///< electrons in a step of the digits; 0: not rounded. [e]
    std::uint64_t seed = 0;
};

/// One measurement of all frequencies: Poisson charges, read noise, rounded to digits, clipped at full well.
/// Draws belong to (seed, stream, reading, number of the bucket among all), so they depend on nothing else. Counts are
/// those of `detector::exact_count_limit`, in double precision.
/// @param electrons  Mean charges of all buckets of all frequencies. [e]
/// @param charges  Receives what is read, the same size, at most full well. Below 0 where read noise takes it there:
/// the
///   digits start at a black level, which is taken off, so that noise without light keeps its mean. [e]
/// @return whether any bucket is at full well.
/// @throws DomainError  A charge negative or not finite, sizes that differ, noise out of what is said above.
bool draw_buckets(std::span<const double> electrons, const BucketNoise& noise, std::int64_t reading,
                  std::span<double> charges);

}  // namespace spotwright::flight
