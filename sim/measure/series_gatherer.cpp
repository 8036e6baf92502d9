#include "sim/measure/series_gatherer.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <thread>

namespace spotwright::measure {

void Moments::add(const std::vector<double>& values) {
    if (values.empty()) return;
    const auto n = static_cast<double>(values.size());
    const auto [block_mean, block_variance] = boost::math::statistics::mean_and_sample_variance(values);
    const double block_squares = values.size() > 1 ? block_variance * (n - 1.0) : 0.0;
    const double step = block_mean - mean;
    const double both = count + n;
    squares += block_squares + step * step * count * n / both;
    mean += step * n / both;
    count = both;
}

std::optional<double> Moments::deviation() const {
    if (count < 2.0) return std::nullopt;
    return std::sqrt(squares / (count - 1.0));
}

void SeriesGatherer::add(SeriesBlock& block) {
    settled_.clear();
    settled_at_.clear();
    for (std::size_t i = 0; i < block.validity.size(); ++i) {
        ++statistics_.validity[static_cast<std::size_t>(block.validity[i])];
        std::optional<double> displacement;
        if (block.validity[i] == reading::Validity::valid) displacement = block.displacement[i];
        const std::optional<double> output = smoother_.push(displacement);
        block.output[i] = output.value_or(std::numeric_limits<double>::quiet_NaN());
        if (!output || smoother_.readings_to_settle() > 0) continue;
        settled_.push_back(*output);
        settled_at_.push_back(i);
    }
    statistics_.readings += static_cast<std::int64_t>(block.validity.size());
    moments_.add(settled_);
    std::vector<double> found;
    std::copy_if(block.thickness.begin(), block.thickness.end(), std::back_inserter(found),
                 [](double value) { return !std::isnan(value); });
    thickness_.add(found);
    for (const double output : settled_) {
        least_ = std::min(least_, output);
        greatest_ = std::max(greatest_, output);
    }
    if (!block.moment.empty()) add_errors(block);
}

void SeriesGatherer::add_errors(const SeriesBlock& block) {
    std::vector<double> errors;
    std::vector<double> truths;
    for (std::size_t k = 0; k < settled_.size(); ++k) {
        const double truth = block.moment[settled_at_[k]].truth;
        if (std::isnan(truth)) continue;
        errors.push_back(settled_[k] - truth);
        truths.push_back(truth);
        errors_.largest = std::max(errors_.largest, std::abs(errors.back()));
    }
    errors_.error.add(errors);
    errors_.truth.add(truths);
}

SeriesStatistics SeriesGatherer::statistics() const {
    SeriesStatistics result = statistics_;
    result.outputs = static_cast<std::int64_t>(moments_.count);
    result.independent_outputs = independent_windows(options_, result.outputs);
    result.thicknesses = static_cast<std::int64_t>(thickness_.count);
    if (result.thicknesses > 0) result.mean_thickness = thickness_.mean;
    result.thickness_deviation = thickness_.deviation();
    if (result.outputs == 0) return result;
    result.mean = moments_.mean;
    result.least = least_;
    result.greatest = greatest_;
    result.standard_deviation = moments_.deviation();
    return result;
}

}  // namespace spotwright::measure
