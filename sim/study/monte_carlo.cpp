// Propagation of distributions. Source: JCGM 101:2008, Supplement 1 to the GUM.
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::study {

namespace {

// Places in the sorted values that are as far apart as the interval is to reach. Source: JCGM 101:2008, 7.7.1.
std::size_t reach_of(std::span<const double> sorted, double coverage) {
    if (!(coverage > 0.0 && coverage < 1.0)) {
        throw base::DomainError("coverage", coverage, "a probability above 0 and below 1");
    }
    if (sorted.size() < 2) {
        throw base::DomainError("number of values", static_cast<double>(sorted.size()), "at least 2");
    }
    const auto wanted = static_cast<std::size_t>(std::floor(coverage * static_cast<double>(sorted.size()) + 0.5));
    return std::clamp<std::size_t>(wanted, 1, sorted.size() - 1);
}

// What is watched from block to block: mean, deviation, and both ends of the shortest interval.
using Watched = std::array<double, 4>;

Watched watched_of(std::vector<double> values, double coverage) {
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(values);
    std::sort(values.begin(), values.end());
    const Interval shortest = shortest_interval(values, coverage);
    return {mean, std::sqrt(variance), shortest.low, shortest.high};
}

// Of the mean over the blocks, each figure by itself.
Watched standard_errors_of(const std::vector<Watched>& blocks) {
    Watched errors{};
    std::vector<double> column(blocks.size());
    for (std::size_t k = 0; k < errors.size(); ++k) {
        for (std::size_t i = 0; i < blocks.size(); ++i) column[i] = blocks[i][k];
        const double variance = boost::math::statistics::sample_variance(column);
        errors[k] = std::sqrt(variance / static_cast<double>(blocks.size()));
    }
    return errors;
}

double mean_deviation(const std::vector<Watched>& blocks) {
    double sum = 0.0;
    for (const Watched& block : blocks) sum += block[1];
    return sum / static_cast<double>(blocks.size());
}

// Results of trials [first, first + count), in their order; those without one are left out.
std::vector<double> run_trials(const Trial& trial, std::int64_t first, std::int64_t count, int threads) {
    constexpr std::int64_t stretch = 16;  // trials handed out at once: a light trial costs less than handing it out
    std::vector<std::optional<double>> results(static_cast<std::size_t>(count));
    base::parallel_for((count + stretch - 1) / stretch, threads, [&](std::int64_t s) {
        for (std::int64_t i = s * stretch; i < std::min((s + 1) * stretch, count); ++i) {
            results[static_cast<std::size_t>(i)] = trial(first + i);
        }
    });
    std::vector<double> values;
    values.reserve(results.size());
    for (const std::optional<double>& result : results) {
        if (result && std::isfinite(*result)) values.push_back(*result);
    }
    return values;
}

void require(const MonteCarloOptions& options) {
    if (options.block < 2) throw base::DomainError("block", static_cast<double>(options.block), "at least 2");
    if (options.digits < 1) throw base::DomainError("digits", options.digits, "at least 1");
}

bool all_within(const Watched& errors, double tolerance) {
    return std::all_of(errors.begin(), errors.end(), [&](double error) { return 2.0 * error <= tolerance; });
}

}  // namespace

Interval shortest_interval(std::span<const double> sorted, double coverage) {
    const std::size_t reach = reach_of(sorted, coverage);
    std::size_t best = 0;
    for (std::size_t r = 1; r + reach < sorted.size(); ++r) {
        if (sorted[r + reach] - sorted[r] < sorted[best + reach] - sorted[best]) best = r;
    }
    return {sorted[best], sorted[best + reach]};
}

Interval symmetric_interval(std::span<const double> sorted, double coverage) {
    const std::size_t reach = reach_of(sorted, coverage);
    const std::size_t rank = std::max<std::size_t>(1, (sorted.size() - reach + 1) / 2);  // counted from 1
    return {sorted[rank - 1], sorted[rank - 1 + reach]};
}

std::int64_t monte_carlo_block(double coverage) {
    if (!(coverage > 0.0 && coverage < 1.0)) {
        throw base::DomainError("coverage", coverage, "a probability above 0 and below 1");
    }
    constexpr double rounding = 1e-9;  // 100 / (1 - 0.99) is not quite 10000
    return std::max<std::int64_t>(10000, std::llround(std::ceil(100.0 / (1.0 - coverage) * (1.0 - rounding))));
}

double numerical_tolerance(double standard_uncertainty, int digits) {
    if (!(standard_uncertainty > 0.0)) return 0.0;
    double unit = std::pow(10.0, std::floor(std::log10(standard_uncertainty)) - digits + 1);
    if (std::round(standard_uncertainty / unit) >= std::pow(10.0, digits)) unit *= 10.0;
    return 0.5 * unit;
}

MonteCarlo monte_carlo(const Trial& trial, const MonteCarloOptions& options) {
    require(options);
    MonteCarlo result;
    std::vector<double> values;
    std::vector<Watched> blocks;
    std::int64_t made = 0;
    for (std::int64_t block = 0; !result.settled && (block < 2 || made + options.block <= options.most); ++block) {
        const std::vector<double> fresh = run_trials(trial, made, options.block, options.threads);
        made += options.block;
        values.insert(values.end(), fresh.begin(), fresh.end());
        if (options.progress) options.progress(made, std::max(made, options.most));
        if (fresh.size() < 2) continue;
        blocks.push_back(watched_of(fresh, options.coverage));
        if (blocks.size() < 2) continue;
        const Watched errors = standard_errors_of(blocks);
        result.mean_error = errors[0];
        result.uncertainty_error = errors[1];
        result.end_error = std::max(errors[2], errors[3]) * std::pow(static_cast<double>(blocks.size()), 1.0 / 6.0);
        result.settled = all_within(errors, numerical_tolerance(mean_deviation(blocks), options.digits));
    }
    result.trials = made;
    result.without_result = made - static_cast<std::int64_t>(values.size());
    if (values.size() < 2) {
        throw base::DomainError("number of trials with a result", static_cast<double>(values.size()), "at least 2");
    }
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(values);
    result.mean = mean;
    result.standard_uncertainty = std::sqrt(variance);
    std::sort(values.begin(), values.end());
    result.shortest = shortest_interval(values, options.coverage);
    result.symmetric = symmetric_interval(values, options.coverage);
    return result;
}

}  // namespace spotwright::study
