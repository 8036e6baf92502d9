#include <catch2/catch.hpp>

#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>
#include <complex>
#include <functional>
#include <limits>
#include <numeric>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/phase_shift.hpp"

using namespace spotwright;
using base::MHz, base::pi, base::us;
using scenario::Waveform;

namespace {

constexpr double measurement_time = 100.0 * us;

// Without the pole.
flight::Modulation plain(Waveform waveform, std::int64_t buckets, double gate_share = 0.5) {
    return {waveform, 20.0 * MHz, 1.0, 1e12 * MHz, buckets, gate_share};
}

// Rate that gives each bucket this many electrons.
double rate_of(const flight::Modulation& modulation, double electrons) {
    return electrons * static_cast<double>(modulation.buckets) / (modulation.gate_share * measurement_time);
}

flight::Arrival arrival(const flight::Modulation& modulation, double phase, double electrons) {
    return {phase / (2.0 * pi * modulation.frequency), rate_of(modulation, electrons)};
}

std::vector<double> buckets_at(const flight::Modulation& modulation, double phase, double electrons = 1000.0) {
    return flight::bucket_electrons(modulation, {{arrival(modulation, phase, electrons)}, 0.0}, measurement_time);
}

double wrapped(double phase) {
    return std::remainder(phase, 2.0 * pi);
}

double phase_error(const std::vector<double>& buckets, double phase) {
    return wrapped(flight::demodulate(buckets).phase - phase);
}

double phase_error(const flight::Modulation& modulation, double phase) {
    return phase_error(buckets_at(modulation, phase), phase);
}

double max_error(const flight::Modulation& modulation) {
    double greatest = 0.0;
    for (int i = 0; i < 400; ++i)
        greatest = std::max(greatest, std::abs(phase_error(modulation, 2.0 * pi * i / 400.0)));
    return greatest;
}

// Buckets of any periodic signal, sampled.
std::vector<double> sampled(int buckets, double phase, const std::function<double(double)>& signal) {
    std::vector<double> charges;
    for (int k = 0; k < buckets; ++k) charges.push_back(signal(phase - 2.0 * pi * k / buckets));
    return charges;
}

// Electrons of a bucket by adding up a square wave after a low-pass over the gate, moment by moment.
double timed_bucket(const flight::Modulation& m, double delay, std::int64_t k, double rate) {
    const double period = 1.0 / m.frequency;
    const double time_constant = 1.0 / (2.0 * pi * m.bandwidth);
    const double start = 2.0 / (1.0 + std::exp(-0.5 * period / time_constant));
    constexpr int steps = 20000;
    double sum = 0.0;
    for (int i = 0; i < steps; ++i) {
        const double share = static_cast<double>(k) / static_cast<double>(m.buckets);
        const double t = period * (share + m.gate_share * ((i + 0.5) / steps - 0.5)) - delay + 0.25 * period;
        const double since_edge = t - 0.5 * period * std::floor(t / (0.5 * period));
        const bool on = std::fmod(std::floor(t / (0.5 * period)), 2.0) == 0.0;
        const double light = 1.0 - start * std::exp(-since_edge / time_constant);
        sum += 1.0 + m.depth * (on ? light : -light);
    }
    return rate * m.gate_share * measurement_time / static_cast<double>(m.buckets) * sum / steps;
}

flight::BucketNoise deep_well(double read_noise, std::uint64_t seed = 1) {
    return {read_noise, 1e12, 0.0, seed};
}

std::vector<double> drawn(const std::vector<double>& electrons, const flight::BucketNoise& noise,
                          std::int64_t reading) {
    std::vector<double> charges(electrons.size());
    flight::draw_buckets(electrons, noise, reading, charges);
    return charges;
}

}  // namespace

TEST_CASE("buckets of the worked example have phase 1.2, amplitude 400 and offset 1000", "[unit]") {
    const std::vector<double> buckets{1144.9431, 1372.81563, 855.056898, 627.184366};
    const flight::Demodulated found = flight::demodulate(buckets);
    CHECK(found.phase == Approx(1.2).epsilon(1e-8));
    CHECK(found.amplitude == Approx(400.0).epsilon(1e-8));
    CHECK(found.offset == Approx(1000.0).epsilon(1e-8));
}

TEST_CASE("phase, amplitude and offset of sine light come back from any number of buckets", "[unit]") {
    for (const std::int64_t n : {3, 4, 5, 8, 17, 64}) {
        const flight::Modulation modulation = plain(Waveform::sine, n, 0.25);
        for (int i = 0; i < 20; ++i) {
            const double phase = 2.0 * pi * i / 20.0;
            const flight::Demodulated found = flight::demodulate(buckets_at(modulation, phase));
            CHECK(wrapped(found.phase - phase) == Approx(0.0).margin(1e-9));
            CHECK((found.phase >= 0.0 && found.phase < 2.0 * pi));
            CHECK(found.amplitude == Approx(1000.0 * std::sin(pi / 4.0) / (pi / 4.0)));
            CHECK(found.offset == Approx(1000.0));
        }
    }
}

TEST_CASE("a delay of any number of periods leaves the buckets as they are", "[unit]") {
    const flight::Modulation modulation = plain(Waveform::square, 4);
    const std::vector<double> near = buckets_at(modulation, 1.0);
    const std::vector<double> far = buckets_at(modulation, 1.0 + 2.0 * pi * 1000.0);
    for (std::size_t k = 0; k < 4; ++k) CHECK(far[k] == Approx(near[k]).epsilon(1e-8));
}

TEST_CASE("a wide gate lowers the contrast by sinc(pi g), and steady light goes into every bucket alike", "[unit]") {
    for (const double g : {0.5, 0.25, 1.0 / 3.0, 0.01}) {
        const flight::Modulation modulation = plain(Waveform::sine, 4, g);
        CHECK(std::abs(flight::harmonic(modulation, 1)) == Approx(std::sin(pi * g) / (pi * g)));
        const double steady = rate_of(modulation, 300.0);
        const auto lit =
            flight::bucket_electrons(modulation, {{arrival(modulation, 2.0, 1000.0)}, steady}, measurement_time);
        const std::vector<double> dark = buckets_at(modulation, 2.0);
        for (std::size_t k = 0; k < 4; ++k) CHECK(lit[k] == Approx(dark[k] + 300.0));
    }
}

TEST_CASE("a limited bandwidth weakens the light and makes it late", "[unit]") {
    flight::Modulation modulation = plain(Waveform::sine, 4);
    const double full = std::abs(flight::harmonic(modulation, 1));
    modulation.frequency = 100.0 * MHz;
    modulation.bandwidth = 150.0 * MHz;
    CHECK(std::abs(flight::harmonic(modulation, 1)) == Approx(full * 0.832050294));
    CHECK(phase_error(modulation, 1.0) == Approx(std::atan(100.0 / 150.0)));
    // A low-pass far below the modulation is a delay of a quarter of a period, not more.
    modulation.bandwidth = 0.01 * MHz;
    CHECK(phase_error(modulation, 1.0) == Approx(0.5 * pi).epsilon(1e-3));
}

TEST_CASE("buckets are those of a low-passed square wave, added up moment by moment", "[unit]") {
    for (const double bandwidth : {7.0 * MHz, 40.0 * MHz, 200.0 * MHz}) {
        const flight::Modulation m{Waveform::square, 20.0 * MHz, 0.9, bandwidth, 5, 0.37};
        const double delay = 13.1e-9;
        const double rate = rate_of(m, 1000.0);
        const std::vector<double> buckets = flight::bucket_electrons(m, {{{delay, rate}}, 0.0}, measurement_time);
        // Harmonics beyond the 1000th add up to less than 4e-6 of the signal at 200 MHz.
        for (std::int64_t k = 0; k < 5; ++k)
            CHECK(buckets[static_cast<std::size_t>(k)] == Approx(timed_bucket(m, delay, k, rate)).epsilon(5e-6));
    }
}

TEST_CASE("an even number of buckets is blind to even harmonics, an odd one is not", "[unit]") {
    const auto signal = [](double x) { return 1000.0 + 400.0 * std::cos(x) + 40.0 * std::cos(2.0 * x + 0.3); };
    const auto fourth = [](double x) { return 1000.0 + 400.0 * std::cos(x) + 40.0 * std::cos(4.0 * x + 0.3); };
    for (const double phase : {0.3, 1.7, 4.0}) {
        for (const int n : {4, 6, 8}) {
            CHECK(phase_error(sampled(n, phase, signal), phase) == Approx(0.0).margin(1e-12));
            CHECK(phase_error(sampled(n, phase, fourth), phase) == Approx(0.0).margin(1e-12));
        }
        CHECK(std::abs(phase_error(sampled(3, phase, signal), phase)) > 0.01);
        CHECK(std::abs(phase_error(sampled(5, phase, fourth), phase)) > 0.01);
    }
}

TEST_CASE("square light in four half-period gates has the cyclic error of a triangle", "[unit]") {
    const flight::Modulation modulation = plain(Waveform::square, 4);
    for (int i = 0; i <= 20; ++i) {
        const double x = i / 20.0;
        // Harmonics beyond the 1000th are missing: 5e-4 of the amplitude where the triangle is sharp.
        CHECK(phase_error(modulation, 0.5 * pi * x) == Approx(std::atan2(x, 1.0 - x) - 0.5 * pi * x).margin(1e-6));
    }
}

TEST_CASE("the cyclic error repeats N times in a period of the modulation, and less often not", "[unit]") {
    for (const Waveform waveform : {Waveform::square, Waveform::triangle}) {
        for (const std::int64_t n : {4, 8}) {
            const flight::Modulation modulation = plain(waveform, n, 0.4);
            const double period = 2.0 * pi / static_cast<double>(n);
            const double greatest = max_error(modulation);
            for (const double phase : {0.1, 0.45, 0.62}) {
                const double here = phase_error(modulation, phase);
                CHECK(phase_error(modulation, phase + period) == Approx(here).margin(1e-9));
                CHECK(std::abs(phase_error(modulation, phase + 0.5 * period) - here) > 0.1 * greatest);
            }
        }
    }
}

TEST_CASE("the cyclic error is as large as the harmonics next to N, and less with more buckets or softer light",
          "[unit]") {
    // To first order |a(N+1) - a(N-1)|. Square light in half-period gates has a_n = 1/n^2, triangle light +-1/n^3. What
    // lies beyond, near 2N and so on, is up to an eighth of it.
    const auto power = [](double n, int p) { return std::pow(n, -p); };
    const double square = max_error(plain(Waveform::square, 4));
    CHECK(square == Approx(power(3, 2) - power(5, 2)).epsilon(0.13));
    CHECK(max_error(plain(Waveform::square, 8)) == Approx(power(7, 2) - power(9, 2)).epsilon(0.13));
    CHECK(max_error(plain(Waveform::triangle, 4)) == Approx(power(3, 3) + power(5, 3)).epsilon(0.13));
    CHECK(max_error(plain(Waveform::triangle, 8)) == Approx(power(7, 3) + power(9, 3)).epsilon(0.13));
    CHECK(max_error(plain(Waveform::sine, 4)) < 1e-9);
    // A gate of a third of the period sees no third harmonic.
    CHECK(max_error(plain(Waveform::square, 4, 1.0 / 3.0)) < square);
}

TEST_CASE("a low bandwidth takes the harmonics, and the cyclic error with them", "[unit]") {
    flight::Modulation modulation = plain(Waveform::square, 4);
    const auto swing = [&modulation] {
        double least = 10.0;
        double most = -10.0;
        for (int i = 0; i < 100; ++i) {
            const double error = phase_error(modulation, 2.0 * pi * i / 100.0);
            least = std::min(least, error);
            most = std::max(most, error);
        }
        return most - least;
    };
    const double wide = swing();
    // To first order |a5 e^(i psi5) - a3 e^(i psi3)|; far above the bandwidth harmonic n keeps 1/n of its share and is
    // turned by a quarter, as the fundamental is: by a half and a whole turn against that of the fundamental.
    modulation.bandwidth = modulation.frequency;
    const std::complex<double> i(0.0, 1.0);
    const auto share = [i](double n) { return (1.0 - i) / ((1.0 - n * i) * n * n) * std::exp(-i * n * 0.25 * pi); };
    CHECK(swing() == Approx(2.0 * std::abs(share(5.0) - share(3.0))).epsilon(0.13));
    modulation.bandwidth = 0.001 * modulation.frequency;
    CHECK(swing() == Approx(2.0 * (std::pow(3.0, -3) + std::pow(5.0, -3))).epsilon(0.13));
    CHECK(swing() < 0.7 * wide);
}

TEST_CASE("a detector that bends as the square keeps the phase, one that bends as the cube does not", "[unit]") {
    flight::Modulation modulation = plain(Waveform::sine, 4);
    modulation.depth = 0.6 * pi / 2.0;
    for (const double phase : {0.4, 1.1, 3.3}) {
        std::vector<double> square = buckets_at(modulation, phase, 5000.0);
        std::vector<double> cube = square;
        for (double& v : square) v -= 3e-5 * v * v;
        for (double& v : cube) v -= 2e-9 * v * v * v;
        CHECK(phase_error(square, phase) == Approx(0.0).margin(1e-9));
        const double first_order =
            2e-9 * 3000.0 * 3000.0 / (4.0 * (1.0 - 6e-9 * 5000.0 * 5000.0)) * std::sin(4 * phase);
        CHECK(phase_error(cube, phase) == Approx(first_order).epsilon(0.03));
    }
}

TEST_CASE("returns of two depths add as phasors", "[unit]") {
    const flight::Modulation modulation = plain(Waveform::sine, 4);
    const double apart = 0.419169004;
    const auto both = flight::bucket_electrons(
        modulation, {{arrival(modulation, 1.0, 1000.0), arrival(modulation, 1.0 + apart, 100.0)}, 0.0},
        measurement_time);
    CHECK(phase_error(both, 1.0) == Approx(0.0372763744).epsilon(1e-7));
    const double alone = flight::demodulate(buckets_at(modulation, 1.0)).amplitude;
    CHECK(flight::demodulate(both).amplitude == Approx(1.09210141 * alone).epsilon(1e-7));
    // Opposite and as strong: nothing is left to have a phase.
    const auto lost = flight::bucket_electrons(
        modulation, {{arrival(modulation, 1.0, 1000.0), arrival(modulation, 1.0 + pi, 1000.0)}, 0.0}, measurement_time);
    CHECK(flight::demodulate(lost).amplitude == Approx(0.0).margin(1e-9));
    CHECK(flight::phase_deviation(flight::demodulate(lost), 4, 0.0) == flight::guessed_phase_deviation);
}

TEST_CASE("the phase of many returns does not depend on how they are split", "[unit]") {
    const flight::Modulation modulation{Waveform::square, 20.0 * MHz, 0.8, 200.0 * MHz, 4, 0.5};
    const std::vector<double> whole = buckets_at(modulation, 2.5);
    const flight::Light split{std::vector<flight::Arrival>(1000, arrival(modulation, 2.5, 1.0)), 0.0};
    const std::vector<double> parts = flight::bucket_electrons(modulation, split, measurement_time);
    for (std::size_t k = 0; k < 4; ++k) CHECK(parts[k] == Approx(whole[k]).epsilon(1e-9));
}

TEST_CASE("four buckets have the same noise at every phase", "[unit]") {
    const flight::Modulation modulation = plain(Waveform::sine, 4);
    const double read_noise = 30.0;
    constexpr std::int64_t readings = 4000;
    for (const double phase : {0.5, 0.5 + 0.25 * pi, 2.0, 4.4}) {
        const std::vector<double> mean = buckets_at(modulation, phase, 5000.0);
        std::vector<double> errors;
        for (std::int64_t i = 0; i < readings; ++i) {
            errors.push_back(phase_error(drawn(mean, deep_well(read_noise), i), phase));
        }
        const double predicted = flight::phase_deviation(flight::demodulate(mean), 4, read_noise * read_noise);
        const double found = std::sqrt(boost::math::statistics::sample_variance(errors));
        CHECK(found == Approx(predicted).epsilon(5.0 / std::sqrt(2.0 * readings)));
    }
}

TEST_CASE("drawn charges have the mean and the variance of Poisson numbers", "[unit]") {
    constexpr std::size_t count = 4096;
    for (const double mean : {0.02, 1.0, 23.9, 24.1, 3000.0, 4e7, 3e12}) {
        const std::vector<double> charges = drawn(std::vector<double>(count, mean), {0.0, 1e15, 0.0, 5}, 3);
        const auto [found, variance] = boost::math::statistics::mean_and_sample_variance(charges);
        CHECK(found == Approx(mean).epsilon(0.0).margin(5.0 * std::sqrt(mean / count)));
        // The variance of a sample variance: (mu4 - sigma^4) / n, mu4 = mean + 3 mean^2.
        CHECK(variance == Approx(mean).epsilon(0.0).margin(5.0 * std::sqrt((mean + 2.0 * mean * mean) / count)));
        for (const double c : charges) CHECK((c >= 0.0 && c == std::floor(c)));
    }
}

TEST_CASE("a draw belongs to its seed, reading and bucket alone", "[unit]") {
    const std::vector<double> mean{10.0, 1000.0, 50.0, 1e6, 3.0, 700.0};
    const std::vector<double> first = drawn(mean, deep_well(20.0), 7);
    CHECK(drawn(mean, deep_well(20.0), 8) != first);
    CHECK(drawn(mean, deep_well(20.0, 2), 7) != first);
    CHECK(drawn(mean, deep_well(20.0), 7) == first);
    // Fewer buckets, and other light in those before: the rest stays as it was.
    const std::vector<double> start(mean.begin(), mean.begin() + 3);
    CHECK(drawn(start, deep_well(20.0), 7) == std::vector<double>(first.begin(), first.begin() + 3));
    std::vector<double> other = mean;
    other[0] = 2e5;
    const std::vector<double> changed = drawn(other, deep_well(20.0), 7);
    CHECK(changed[0] != first[0]);
    CHECK(std::equal(changed.begin() + 1, changed.end(), first.begin() + 1));
}

TEST_CASE("read noise leaves the electrons as they were", "[unit]") {
    const std::vector<double> mean(16, 500.0);
    const std::vector<double> quiet = drawn(mean, deep_well(0.0), 1);
    const std::vector<double> once = drawn(mean, deep_well(10.0), 1);
    const std::vector<double> twice = drawn(mean, deep_well(20.0), 1);
    for (std::size_t k = 0; k < mean.size(); ++k)
        CHECK(twice[k] - quiet[k] == Approx(2.0 * (once[k] - quiet[k])).margin(1e-9));
}

TEST_CASE("charges come in digits, and a full well clips them and says so", "[unit]") {
    std::vector<double> charges(4);
    CHECK_FALSE(flight::draw_buckets(std::vector{0.0, 100.0, 1000.0, 5000.0}, {7.0, 20000.0, 4.0, 1}, 0, charges));
    for (const double c : charges) CHECK(std::remainder(c, 4.0) == 0.0);
    CHECK(flight::draw_buckets(std::vector{0.0, 100.0, 1000.0, 50000.0}, {7.0, 20000.0, 4.0, 1}, 0, charges));
    CHECK(charges[3] == 20000.0);
    CHECK(charges[2] < 2000.0);
    // A share of the readings of a bucket whose mean is at the limit.
    int clipped = 0;
    std::vector<double> one(1);
    for (std::int64_t i = 0; i < 100; ++i) {
        const bool full = flight::draw_buckets(std::vector{20000.0}, {0.0, 20000.0, 0.0, 1}, i, one);
        CHECK(full == (one[0] == 20000.0));
        if (full) ++clipped;
    }
    CHECK((clipped > 25 && clipped < 75));
}

TEST_CASE("noise without light has the mean zero", "[unit]") {
    const std::vector<double> charges = drawn(std::vector<double>(4096, 0.0), {10.0, 1e4, 1.0, 1}, 0);
    CHECK(boost::math::statistics::mean(charges) == Approx(0.0).margin(5.0 * 10.0 / 64.0));
    // Read noise and digitising: a step of one electron has the variance 1/12.
    CHECK(boost::math::statistics::sample_variance(charges) ==
          Approx(10.0 * 10.0 + 1.0 / 12.0).epsilon(5.0 * std::sqrt(2.0 / 4096.0)));
}

TEST_CASE("a phase is never stated worse than a guess", "[unit]") {
    CHECK(flight::guessed_phase_deviation == Approx(pi / std::sqrt(3.0)));
    CHECK(flight::phase_deviation({0.0, 0.0, 0.0}, 4, 0.0) == flight::guessed_phase_deviation);
    CHECK(flight::phase_deviation({0.0, 1.0, -5.0}, 4, 0.0) == flight::guessed_phase_deviation);
    CHECK(flight::phase_deviation({0.0, 1e-300, 10.0}, 4, 9.0) == flight::guessed_phase_deviation);
    CHECK(flight::phase_deviation({0.0, 2500.0, 10000.0}, 4, 900.0) == Approx(0.0295296461));
}

TEST_CASE("phase measurement refuses what cannot be", "[unit]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    const auto with = [](const std::function<void(flight::Modulation&)>& change) {
        flight::Modulation m;
        change(m);
        return flight::bucket_electrons(m, {}, 1.0);
    };
    CHECK(with([](flight::Modulation&) {}) == std::vector<double>(4, 0.0));
    CHECK_THROWS_AS(with([](flight::Modulation& m) { m.buckets = 2; }), base::DomainError);
    CHECK_THROWS_AS(with([](flight::Modulation& m) { m.frequency = 0.0; }), base::DomainError);
    CHECK_THROWS_AS(with([](flight::Modulation& m) { m.bandwidth = -1.0; }), base::DomainError);
    CHECK_THROWS_AS(with([](flight::Modulation& m) { m.depth = 1.1; }), base::DomainError);
    CHECK_THROWS_AS(with([](flight::Modulation& m) { m.gate_share = 0.0; }), base::DomainError);
    CHECK_THROWS_AS(flight::bucket_electrons({}, {}, nan), base::DomainError);
    CHECK_THROWS_AS(flight::harmonic({}, 0), base::DomainError);
    CHECK_THROWS_AS(flight::demodulate(std::vector{1.0, 2.0}), base::DomainError);
    CHECK_THROWS_AS(flight::phase_deviation({}, 2, 0.0), base::DomainError);
    CHECK_THROWS_AS(flight::phase_deviation({}, 4, -1.0), base::DomainError);
    std::vector<double> charges(1);
    CHECK_THROWS_AS(flight::draw_buckets(std::vector{-1.0}, deep_well(0.0), 0, charges), base::DomainError);
    CHECK_THROWS_AS(flight::draw_buckets(std::vector{nan}, deep_well(0.0), 0, charges), base::DomainError);
    CHECK_THROWS_AS(flight::draw_buckets(std::vector{1.0, 2.0}, deep_well(0.0), 0, charges), base::DomainError);
    CHECK_THROWS_AS(flight::draw_buckets(std::vector{1.0}, flight::BucketNoise{}, 0, charges), base::DomainError);
    CHECK_THROWS_AS(flight::draw_buckets(std::vector{1.0}, deep_well(-1.0), 0, charges), base::DomainError);
}
