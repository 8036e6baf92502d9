// Frames as distributions: every test runs on a fixed seed and states the smallest defect it would catch.
#include <catch2/catch.hpp>

#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/poisson.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>
#include <vector>

#include "sim/detector/array.hpp"
#include "sim/detector/frames.hpp"

using namespace spotwright;

namespace {

constexpr double false_alarm = 1e-6;

detector::ExpectedFrame even_light(double electrons, std::size_t pixels) {
    detector::ExpectedFrame frame;
    frame.electrons.assign(pixels, static_cast<float>(electrons));
    frame.zero_probability.assign(
        pixels, electrons < detector::exact_count_limit ? static_cast<float>(std::exp(-electrons)) : 0.0F);
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
