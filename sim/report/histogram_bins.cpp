#include "sim/report/histogram_bins.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"

namespace spotwright::report {

namespace {

void set_moments(Histogram& histogram, const std::vector<double>& sorted) {
    const auto n = static_cast<double>(sorted.size());
    double sum = 0.0;
    for (const double value : sorted) sum += value - sorted.front();  // near the values: no digits are lost
    histogram.mean = sorted.front() + sum / n;
    double squares = 0.0;
    for (const double value : sorted) squares += (value - histogram.mean) * (value - histogram.mean);
    histogram.deviation = std::sqrt(squares / (n - 1.0));
}

// Interquartile range, by the nearest ranks.
double quartile_range(const std::vector<double>& sorted) {
    return sorted[(3 * (sorted.size() - 1) + 2) / 4] - sorted[(sorted.size() - 1) / 4];
}

}  // namespace

std::optional<Histogram> histogram_of(std::span<const double> values) {
    std::vector<double> sorted;
    sorted.reserve(values.size());
    std::copy_if(values.begin(), values.end(), std::back_inserter(sorted), [](double v) { return std::isfinite(v); });
    if (sorted.size() < 2) return std::nullopt;
    std::sort(sorted.begin(), sorted.end());
    const double range = sorted.back() - sorted.front();
    if (!(range > 0.0)) return std::nullopt;

    Histogram histogram;
    histogram.values = static_cast<std::int64_t>(sorted.size());
    set_moments(histogram, sorted);
    const auto n = static_cast<double>(sorted.size());
    double bins = 0.0;
    if (const double wanted = 2.0 * quartile_range(sorted) / std::cbrt(n); wanted > 0.0) {
        bins = std::ceil(range / wanted);
        histogram.rule = "bin width by Freedman and Diaconis";
    } else {
        bins = std::ceil(std::sqrt(n));
        histogram.rule = "as many bins as the square root of the number of values, for half of them are alike";
    }
    if (bins > static_cast<double>(most_bins)) {
        bins = static_cast<double>(most_bins);
        histogram.rule += ", widened so that all values fit into " + std::to_string(most_bins) + " bins";
    }
    const auto count = static_cast<std::size_t>(std::max(1.0, bins));
    histogram.low = sorted.front();
    histogram.width = range / static_cast<double>(count);
    histogram.counts.assign(count, 0);
    for (const double value : sorted) {
        const double place = (value - histogram.low) / range * static_cast<double>(count);
        ++histogram.counts[std::min(count - 1, static_cast<std::size_t>(place))];
    }
    return histogram;
}

double normal_count(const Histogram& histogram, double value) {
    const double t = (value - histogram.mean) / histogram.deviation;
    const double density = std::exp(-0.5 * t * t) / (histogram.deviation * std::sqrt(2.0 * base::pi));
    return density * histogram.width * static_cast<double>(histogram.values);
}

}  // namespace spotwright::report
