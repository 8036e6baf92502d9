// Frames as distributions: every test runs on a fixed seed and states the smallest defect it would catch.
#include <catch2/catch.hpp>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/poisson.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/detector/array.hpp"
#include "sim/detector/frames.hpp"

using namespace spotwright;

namespace {

constexpr double false_alarm = 1e-6;

detector::ExpectedFrame even_light(double electrons, std::size_t pixels) {
    detector::ExpectedFrame frame;
    frame.electrons.assign(pixels, static_cast<float>(electrons));
    frame.offset.assign(pixels, 0.0F);
    return frame;
}

std::vector<double> counts_of(double electrons, std::int64_t frames, std::uint64_t seed) {
    constexpr std::size_t pixels = 1024;
    const detector::ExpectedFrame expected = even_light(electrons, pixels);
    std::vector<float> counts(pixels);
    std::vector<double> all;
    for (std::int64_t i = 0; i < frames; ++i) {
        detector::draw_counts(expected, {seed}, i, 0, counts);
        all.insert(all.end(), counts.begin(), counts.end());
    }
    return all;
}

// Chi-square over single counts, tails pooled until each bin expects at least ten.
double chi_square_probability(const std::vector<double>& counts, double mean) {
    const boost::math::poisson_distribution<double> poisson(mean);
    const auto n = static_cast<double>(counts.size());
    const auto low = static_cast<int>(quantile(poisson, std::min(0.49, 10.0 / n)));
    const auto high = static_cast<int>(quantile(complement(poisson, std::min(0.49, 10.0 / n))));
    std::vector<double> observed(static_cast<std::size_t>(high - low + 1), 0.0);
    for (const double count : counts) {
        const int bin = std::clamp(static_cast<int>(count), low, high) - low;
        observed[static_cast<std::size_t>(bin)] += 1.0;
    }
    double statistic = 0.0;
    for (int k = low; k <= high; ++k) {
        double probability = pdf(poisson, k);
        if (k == low) probability = cdf(poisson, k);
        if (k == high) probability = k == low ? 1.0 : cdf(complement(poisson, k - 1));
        const double difference = observed[static_cast<std::size_t>(k - low)] - n * probability;
        statistic += difference * difference / (n * probability);
    }
    if (high == low) return 1.0;
    return cdf(complement(boost::math::chi_squared(high - low), statistic));
}

}  // namespace

// A million counts per mean: a shift of the mean by 0.6 % of a standard deviation would be seen (six standard errors).
TEST_CASE("electron counts are Poisson distributed from far below one to thousands", "[statistical]") {
    const double mean = GENERATE(0.005, 0.3, 1.0, 4.0, 11.0, 23.9, 24.0, 40.0, 300.0, 6000.0);
    const std::vector<double> counts = counts_of(mean, 1000, 5);
    INFO("mean " << mean);
    CHECK(chi_square_probability(counts, mean) > false_alarm);
    const auto [sample_mean, variance] = boost::math::statistics::mean_and_sample_variance(counts);
    const auto n = static_cast<double>(counts.size());
    CHECK(std::abs(sample_mean - mean) < 5.0 * std::sqrt(mean / n));
    // The variance of a Poisson variance estimate is (2 m^2 + m) / n.
    CHECK(std::abs(variance - mean) < 5.0 * std::sqrt((2.0 * mean * mean + mean) / n));
    CHECK(std::all_of(counts.begin(), counts.end(), [](double c) { return c >= 0.0 && c == std::floor(c); }));
}

TEST_CASE("a clipped normal in place of Poisson counts would be noticed", "[statistical]") {
    std::vector<float> normals(1024 * 64);
    base::fill_normals({5, base::Stream::read_noise}, 0, 0, normals);
    std::vector<double> counts;
    for (const float z : normals) {
        counts.push_back(std::max(0.0, std::round(4.0 + 2.0 * static_cast<double>(z))));
    }
    CHECK(chi_square_probability(counts, 4.0) < false_alarm);
}

namespace {

// Digits of pixels under even light.
std::vector<double> digits_of(const detector::ExpectedFrame& expected, std::int64_t frames, std::uint64_t seed) {
    const std::size_t pixels = expected.electrons.size();
    constexpr std::int64_t together = 50;
    std::vector<float> digits(pixels * together);
    std::vector<double> all;
    for (std::int64_t i = 0; i < frames; i += together) {
        detector::draw_frames(expected, {seed}, i, 0, static_cast<std::int64_t>(pixels) / base::unit_pixels, digits);
        all.insert(all.end(), digits.begin(), digits.end());
    }
    return all;
}

// P(digit <= d): Poisson counts, normal noise, rounding and both clips.
double digit_probability(const detector::ExpectedFrame& expected, double digit) {
    const detector::Digitiser& d = expected.digitiser;
    if (digit < 0.0) return 0.0;
    if (digit >= d.top_digit) return 1.0;
    const double mean = static_cast<double>(expected.electrons.front());
    const double edge = (digit + 0.5 - d.black_level) / d.gain - static_cast<double>(expected.offset.front());
    const auto below = [&](double count) {
        return 0.5 * std::erfc((count - edge) / (expected.read_noise * std::sqrt(2.0)));
    };
    if (mean == 0.0) return below(0.0);
    const boost::math::poisson_distribution<double> poisson(mean);
    const int first = std::max(0, static_cast<int>(mean - 9.0 * std::sqrt(mean) - 3.0));
    const int last = static_cast<int>(mean + 10.0 * std::sqrt(mean) + 12.0);
    double sum = 0.0;
    for (int k = first; k <= last; ++k) sum += pdf(poisson, k) * below(k);
    return sum;
}

// Chi-square over digits, neighbours pooled until each bin expects at least ten.
double digits_probability(const std::vector<double>& digits, const detector::ExpectedFrame& expected) {
    const auto n = static_cast<double>(digits.size());
    const auto [least, greatest] = std::minmax_element(digits.begin(), digits.end());
    std::vector<double> observed(static_cast<std::size_t>(*greatest - *least) + 1, 0.0);
    for (const double digit : digits) observed[static_cast<std::size_t>(digit - *least)] += 1.0;
    double statistic = 0.0;
    double degrees = -1.0;
    double counted = 0.0;
    double below = 0.0;
    for (std::size_t i = 0; i < observed.size(); ++i) {
        counted += observed[i];
        const bool is_last = i + 1 == observed.size();
        const double up_to = is_last ? 1.0 : digit_probability(expected, *least + static_cast<double>(i));
        const double wanted = n * (up_to - below);
        // What is left for later bins is left for the last one where it is too little for two.
        if (!is_last && (wanted < 10.0 || n * (1.0 - up_to) < 10.0)) continue;
        statistic += (counted - wanted) * (counted - wanted) / wanted;
        degrees += 1.0;
        counted = 0.0;
        below = up_to;
    }
    return degrees < 1.0 ? 1.0 : cdf(complement(boost::math::chi_squared(degrees), statistic));
}

}  // namespace

// A million digits each, on either side of the read noise from which shot and read noise are drawn together. The worst
// mean for that is about 4 electrons at the limit. The mean would be seen to shift by 0.5 % of a standard deviation,
// the variance by 0.7 %, the skewness by 0.0125: that of the counts alone is 0.1 and more for means of 24 to 100 at 2.5
// e.
TEST_CASE("digits are Poisson counts with normal noise, rounded", "[statistical]") {
    detector::ExpectedFrame expected = even_light(GENERATE(0.0, 0.02, 1.0, 4.0, 10.0, 23.9, 24.1, 100.0, 5000.0), 1024);
    expected.read_noise = GENERATE(2.4999, 2.5, 5.0, 20.0);
    expected.digitiser = {GENERATE(0.25, 1.0), 200.0, 1e5};
    std::fill(expected.offset.begin(), expected.offset.end(), 0.375F);
    const std::vector<double> digits = digits_of(expected, 1000, 31);
    const double mean = static_cast<double>(expected.electrons.front());
    const double gain = expected.digitiser.gain;
    INFO("mean " << mean << ", read noise " << expected.read_noise << ", gain " << gain);
    CHECK(digits_probability(digits, expected) > false_alarm);

    const auto n = static_cast<double>(digits.size());
    const double variance = gain * gain * (mean + expected.read_noise * expected.read_noise) + 1.0 / 12.0;
    const auto [sample_mean, sample_variance] = boost::math::statistics::mean_and_sample_variance(digits);
    // Rounding of noise below a digit moves the mean by up to 1.4e-4 at 0.62 digits (Fourier's first term).
    const double rounding = std::exp(-2.0 * base::pi * base::pi * (variance - 1.0 / 12.0)) / base::pi;
    CHECK(std::abs(sample_mean - (200.0 + gain * (mean + 0.375))) < 5.0 * std::sqrt(variance / n) + rounding);
    // Kurtosis of the sum is at most that of the counts, 1/mean times their share of the variance squared: below 0.04.
    const double rounding_of_variance = rounding * 2.0 * base::pi * variance * 2.0;
    CHECK(std::abs(sample_variance - variance) < 5.0 * variance * std::sqrt(2.05 / n) + rounding_of_variance);
    double third = 0.0;
    for (const double digit : digits) third += std::pow(digit - sample_mean, 3.0) / n;
    // The third moment of n normal numbers scatters by sqrt(6/n); rounding leaves it, but for what it does above.
    const double skewness = gain * gain * gain * mean / std::pow(variance, 1.5);
    CHECK(std::abs(third / std::pow(variance, 1.5) - skewness) < 5.0 * std::sqrt(6.2 / n) + 10.0 * rounding);
}

// 1024 digits of top level at most: half of all are clipped, and those below follow the law.
TEST_CASE("digits clip at full well after both noises are drawn", "[statistical]") {
    detector::ExpectedFrame expected = even_light(3000.0, 1024);
    expected.read_noise = GENERATE(1.0, 20.0);
    expected.digitiser = {0.5, 10.0, 10.0 + 0.5 * 3000.0};
    const std::vector<double> digits = digits_of(expected, 300, 37);
    CHECK(digits_probability(digits, expected) > false_alarm);
    const auto clipped = static_cast<double>(std::count(digits.begin(), digits.end(), 1510.0));
    CHECK(clipped / static_cast<double>(digits.size()) == Approx(0.5).margin(0.02));
}

// What the law above would show: noise of the same mean and variance without its skewness.
TEST_CASE("a normal number in place of counts and noise would be noticed", "[statistical]") {
    detector::ExpectedFrame expected = even_light(24.1, 1024);
    expected.read_noise = 2.5;
    expected.digitiser = {1.0, 200.0, 1e5};
    std::vector<float> normals(1024 * 64);
    base::fill_normals({5, base::Stream::read_noise}, 0, 0, normals);
    std::vector<double> digits;
    for (const float z : normals) {
        digits.push_back(std::floor(200.5 + 24.1 + std::sqrt(24.1 + 6.25) * static_cast<double>(z)));
    }
    CHECK(digits_probability(digits, expected) < false_alarm);
}

// Readings share counters, four at a time, and pixels do not.
TEST_CASE("joined noise of neighbouring pixels and successive readings is uncorrelated", "[statistical]") {
    detector::ExpectedFrame expected = even_light(3000.0, 1024);
    expected.read_noise = 20.0;
    expected.digitiser = {1.0, 0.0, 1e5};
    std::vector<double> digits = digits_of(expected, 400, 9);
    for (double& digit : digits) digit -= 3000.0;
    const auto n = static_cast<double>(digits.size());
    for (const std::size_t lag : {1U, 16U, 1024U, 2U * 1024U, 3U * 1024U, 4U * 1024U}) {
        double sum = 0.0;
        double squares = 0.0;
        for (std::size_t i = lag; i < digits.size(); ++i) {
            sum += digits[i] * digits[i - lag];
            squares += (digits[i] * digits[i] - 3400.0) * (digits[i - lag] * digits[i - lag] - 3400.0);
        }
        INFO("lag " << lag);
        // Standard errors of sums of independent products: variance, and twice its square, times sqrt(n).
        CHECK(std::abs(sum / (n * 3400.0)) < 5.0 / std::sqrt(n));
        CHECK(std::abs(squares / (n * 2.0 * 3400.0 * 3400.0)) < 5.5 / std::sqrt(n));
    }
}

TEST_CASE("neighbouring pixels and successive readings are uncorrelated", "[statistical]") {
    const std::vector<double> counts = counts_of(3000.0, 400, 9);
    const auto n = static_cast<double>(counts.size());
    for (const std::size_t lag :
         {std::size_t{1}, std::size_t{16}, std::size_t{32}, std::size_t{64}, std::size_t{1024}}) {
        double sum = 0.0;
        for (std::size_t i = lag; i < counts.size(); ++i) sum += (counts[i] - 3000.0) * (counts[i - lag] - 3000.0);
        INFO("lag " << lag);
        // Standard error of a correlation of independent values: 1 / sqrt(n).
        CHECK(std::abs(sum / (n * 3000.0)) < 5.0 / std::sqrt(n));
    }
}

TEST_CASE("the fixed pattern has the asked spread and belongs to the specimen, not to the run", "[statistical]") {
    scenario::Detector d;
    d.pixels = 65536;
    const detector::FixedPattern pattern = detector::make_fixed_pattern(d);
    const std::vector<double> response(pattern.response.begin(), pattern.response.end());
    const std::vector<double> offset(pattern.offset.begin(), pattern.offset.end());
    // Five standard errors of a standard deviation from 65536 values: 5 / sqrt(2 n) = 1.4 %.
    CHECK(std::sqrt(boost::math::statistics::sample_variance(response)) ==
          Approx(d.response_nonuniformity).epsilon(0.014));
    CHECK(std::sqrt(boost::math::statistics::sample_variance(offset)) == Approx(d.offset_nonuniformity).epsilon(0.014));
    CHECK(detector::make_fixed_pattern(d).response == pattern.response);
    d.device_seed = 2;
    CHECK(detector::make_fixed_pattern(d).response != pattern.response);
}

// From each expected mean to each changed one: both ways of counting, and from either to the other. Digits are
// electrons here. The same resolution as above, of 300 000 counts.
TEST_CASE("counts of light that changes are Poisson distributed about their own mean", "[statistical]") {
    const double expected_mean = GENERATE(0.5, 10.0, 23.9, 30.0, 2000.0);
    const double mean = GENERATE(0.0, 0.02, 2.0, 11.9, 12.1, 20.0, 40.0, 900.0);
    constexpr std::size_t pixels = 1024;
    detector::ExpectedFrame expected = even_light(expected_mean, pixels);
    expected.digitiser = {1.0, 0.0, 1e6};
    const std::vector<float> light(pixels, static_cast<float>(expected_mean));
    const std::vector<float> relative(pixels, static_cast<float>(mean / expected_mean));
    std::vector<float> digits(pixels);
    std::vector<double> counts;
    for (std::int64_t i = 0; i < 300; ++i) {
        detector::draw_frame(expected, {light, relative}, {17}, i, 0, digits);
        counts.insert(counts.end(), digits.begin(), digits.end());
    }
    INFO("expected " << expected_mean << ", changed to " << mean);
    if (mean == 0.0) {
        CHECK(std::all_of(counts.begin(), counts.end(), [](double c) { return c == 0.0; }));
        return;
    }
    CHECK(chi_square_probability(counts, mean) > false_alarm);
    const double sample_mean = boost::math::statistics::mean(counts);
    CHECK(std::abs(sample_mean - mean) < 5.0 * std::sqrt(mean / static_cast<double>(counts.size())));
}
