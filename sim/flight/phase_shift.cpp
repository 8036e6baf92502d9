#include "sim/flight/phase_shift.hpp"

#include <boost/math/special_functions/sinc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/detector/frames.hpp"
#include "sim/flight/require.hpp"

namespace spotwright::flight {

namespace {

using base::pi;
using Complex = std::complex<double>;

constexpr std::int64_t min_buckets = 3;
constexpr double negligible = 1e-6;  // of the fundamental, all harmonics left out together
constexpr int last_harmonic = 1000;
constexpr double full_turn = 2.0 * pi;

void require_valid(const Modulation& m) {
    require(m.frequency > 0.0 && std::isfinite(m.frequency), "modulation frequency", m.frequency, "> 0");
    require(m.depth >= 0.0 && m.depth <= 1.0, "modulation depth", m.depth, "0 to 1");
    require(m.bandwidth > 0.0, "bandwidth", m.bandwidth, "> 0");
    require(m.buckets >= min_buckets, "buckets", static_cast<double>(m.buckets), ">= 3");
    const bool even = m.taps >= 1 && m.buckets % m.taps == 0;
    require(even, "taps", static_cast<double>(m.taps), "a divisor of the number of buckets");
    require(m.gate_share > 0.0 && m.gate_share <= 1.0, "gate share", m.gate_share, "> 0, at most 1");
}

// Fourier coefficient of the waveform, mean 0, peak 1, largest at t = 0. Textbook.
double waveform_coefficient(scenario::Waveform waveform, int n) {
    if (n % 2 == 0) return 0.0;
    switch (waveform) {
        case scenario::Waveform::sine:
            return n == 1 ? 1.0 : 0.0;
        case scenario::Waveform::square:
            return (n % 4 == 1 ? 4.0 : -4.0) / (pi * n);
        case scenario::Waveform::triangle:
            return 8.0 / (pi * pi * n * n);
    }
    return 0.0;
}

// c_1, c_3, c_5, ...: no waveform has even ones.
std::vector<Complex> odd_harmonics(const Modulation& modulation) {
    std::vector<Complex> c{harmonic(modulation, 1)};
    if (modulation.waveform == scenario::Waveform::sine) return c;
    for (int n = 3; n <= last_harmonic; n += 2) c.push_back(harmonic(modulation, n));
    const double limit = negligible * std::abs(c.front());
    double left_out = 0.0;
    while (c.size() > 1) {
        left_out += std::abs(c.back());
        if (left_out > limit) break;
        c.pop_back();
    }
    return c;
}

// Adds rate exp(i n phi) for n = 1, 3, 5, ...; one turn leads to the next.
void add_arrival(const Arrival& arrival, double frequency, std::vector<Complex>& sums) {
    const double cycles = frequency * arrival.delay;
    const double phase = full_turn * (cycles - std::floor(cycles));
    double re = arrival.rate * std::cos(phase);
    double im = arrival.rate * std::sin(phase);
    const double step_re = std::cos(2.0 * phase);
    const double step_im = std::sin(2.0 * phase);
    for (Complex& sum : sums) {
        sum += Complex(re, im);
        const double turned = re * step_re - im * step_im;
        im = re * step_im + im * step_re;
        re = turned;
    }
}

std::vector<Complex> unit_roots(std::size_t count) {
    std::vector<Complex> roots(count);
    for (std::size_t k = 0; k < count; ++k) {
        roots[k] = std::polar(1.0, full_turn * static_cast<double>(k) / static_cast<double>(count));
    }
    return roots;
}

// One uniform number in (0, 1) of two, to the resolution of a double.
double joined_uniform(double coarse, double fine) {
    return std::min(coarse + (fine - 0.5) * 0x1p-32, 1.0 - 0x1p-53);
}

// G. E. P. Box, M. E. Muller, Ann. Math. Statist. 29, 610 (1958).
double standard_normal(double radius_uniform, double angle_uniform) {
    return std::sqrt(-2.0 * std::log(radius_uniform)) * std::cos(full_turn * angle_uniform);
}

// Smallest k with P(N <= k) >= u.
double inverted_poisson(double mean, double u) {
    // With a mean of at most `exact_count_limit` more than this has a probability below the resolution of u.
    constexpr double largest_count = 200.0;
    double count = 0.0;
    double probability = std::exp(-mean);
    double cumulative = probability;
    while (cumulative < u && count < largest_count) {
        count += 1.0;
        probability *= mean / count;
        cumulative += probability;
    }
    return count;
}

// The quantile in powers of 1/sqrt(mean). Source: M. B. Giles, "Algorithm 955", ACM TOMS 42(1) (2016), asymptotic form;
// see `exact_count_limit`.
double expanded_poisson(double mean, double w) {
    const double root = std::sqrt(mean);
    const double w2 = w * w;
    const double correction = 1.0 / 3.0 + w2 / 6.0 - w * (1.0 / 36.0 + w2 / 72.0) / root +
                              (-8.0 / 405.0 + w2 * (7.0 / 810.0 + w2 / 270.0)) / mean;
    return std::max(std::floor(mean + root * w + correction), 0.0);
}

double poisson_count(double mean, double first, double second) {
    if (mean < detector::exact_count_limit) return inverted_poisson(mean, joined_uniform(first, second));
    return expanded_poisson(mean, standard_normal(first, second));
}

}  // namespace

std::int64_t slot_of_bucket(std::int64_t bucket, std::int64_t buckets, std::int64_t taps) {
    return bucket % (buckets / taps);
}

double slot_time(double measurement_time, std::int64_t buckets, std::int64_t taps) {
    return measurement_time * static_cast<double>(taps) / static_cast<double>(buckets);
}

// Equation (phase.2).
std::complex<double> harmonic(const Modulation& modulation, int n) {
    require_valid(modulation);
    require(n >= 1, "harmonic", n, ">= 1");
    const double real = modulation.depth * waveform_coefficient(modulation.waveform, n) *
                        boost::math::sinc_pi(pi * n * modulation.gate_share);
    return real / Complex(1.0, -n * modulation.frequency / modulation.bandwidth);
}

// Equation (phase.3).
std::vector<double> bucket_electrons(const Modulation& modulation, const Light& light, double measurement_time) {
    require_valid(modulation);
    require(measurement_time >= 0.0 && std::isfinite(measurement_time), "measurement time", measurement_time, ">= 0");
    const std::vector<Complex> c = odd_harmonics(modulation);
    std::vector<Complex> sums(c.size());
    double mean_rate = light.constant_rate;
    for (const Arrival& arrival : light.arrivals) {
        mean_rate += arrival.rate;
        add_arrival(arrival, modulation.frequency, sums);
    }

    // Harmonics that are N apart look alike to N buckets.
    const auto buckets = static_cast<std::size_t>(modulation.buckets);
    std::vector<Complex> alike(buckets);
    for (std::size_t i = 0; i < c.size(); ++i) alike[(2 * i + 1) % buckets] += c[i] * sums[i];

    const std::vector<Complex> roots = unit_roots(buckets);
    const double open_time = modulation.gate_share * slot_time(measurement_time, modulation.buckets, modulation.taps);
    std::vector<double> electrons(buckets);
    for (std::size_t k = 0; k < buckets; ++k) {
        double rate = mean_rate;
        for (std::size_t n = 0; n < buckets; ++n) rate += std::real(alike[n] * std::conj(roots[n * k % buckets]));
        electrons[k] = std::max(open_time * rate, 0.0);
    }
    return electrons;
}

// Equation (phase.4).
Demodulated demodulate(std::span<const double> buckets) {
    const std::size_t count = buckets.size();
    require(count >= min_buckets, "buckets", static_cast<double>(count), ">= 3");
    const auto n = static_cast<double>(count);
    Complex z;
    for (std::size_t k = 0; k < count; ++k) z += buckets[k] * std::polar(1.0, full_turn * static_cast<double>(k) / n);
    double phase = std::arg(z);
    if (phase < 0.0) phase += full_turn;
    if (phase >= full_turn) phase = 0.0;
    return {phase, 2.0 * std::abs(z) / n, std::accumulate(buckets.begin(), buckets.end(), 0.0) / n};
}

// Equation (phase.5).
double phase_deviation(const Demodulated& measured, std::int64_t buckets, double noise_variance) {
    require(buckets >= min_buckets, "buckets", static_cast<double>(buckets), ">= 3");
    require(noise_variance >= 0.0, "noise variance", noise_variance, ">= 0");
    const double variance = std::max(measured.offset, 0.0) + noise_variance;
    if (!(measured.amplitude > 0.0 && variance > 0.0)) return guessed_phase_deviation;
    const double deviation = std::sqrt(2.0 * variance / static_cast<double>(buckets)) / measured.amplitude;
    return std::min(deviation, guessed_phase_deviation);
}

bool draw_buckets(std::span<const double> electrons, const BucketNoise& noise, std::int64_t reading,
                  std::span<double> charges) {
    require(charges.size() == electrons.size(), "charges", static_cast<double>(charges.size()), "one for each bucket");
    require(noise.read_noise >= 0.0, "read noise", noise.read_noise, ">= 0");
    require(noise.full_well > 0.0, "full well", noise.full_well, "> 0");
    require(noise.digit >= 0.0, "digit", noise.digit, ">= 0");
    // Every bucket takes two numbers of each sequence, so its draws are those of its place.
    base::RandomSequence shot({noise.seed, base::Stream::bucket_shot}, reading);
    base::RandomSequence read({noise.seed, base::Stream::bucket_read}, reading);
    bool saturated = false;
    for (std::size_t k = 0; k < electrons.size(); ++k) {
        require(electrons[k] >= 0.0 && std::isfinite(electrons[k]), "electrons", electrons[k], ">= 0");
        const double first = shot.uniform();
        const double second = shot.uniform();
        const double read_radius = read.uniform();
        const double read_angle = read.uniform();
        double charge = poisson_count(electrons[k], first, second);
        if (noise.read_noise > 0.0) charge += noise.read_noise * standard_normal(read_radius, read_angle);
        if (noise.digit > 0.0) charge = noise.digit * std::round(charge / noise.digit);
        saturated = saturated || charge >= noise.full_well;
        charges[k] = std::min(charge, noise.full_well);
    }
    return saturated;
}

}  // namespace spotwright::flight
