#include "sim/study/series.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <thread>

#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/reading/smoothing.hpp"

namespace spotwright::study {

namespace {

// Fixed sizes, never taken from the thread count, so that the blocks are the same on every machine.
constexpr std::int64_t block_readings = 4096;
constexpr std::int64_t blocks_at_once = 16;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

void resize(SeriesBlock& block, std::int64_t first, std::int64_t count) {
    const auto n = static_cast<std::size_t>(count);
    block.first = first;
    block.position.resize(n);
    block.displacement.resize(n);
    block.output.resize(n);
    block.peak.resize(n);
    block.validity.resize(n);
}

void take_block(const scenario::Reading& reading, const TakeReading& take, Scratch& scratch, SeriesBlock& block) {
    const bool thickness = reading.thickness_index.has_value();
    block.thickness.resize(thickness ? block.validity.size() : 0);
    for (std::size_t i = 0; i < block.validity.size(); ++i) {
        const std::int64_t index = block.first + static_cast<std::int64_t>(i);
        const RawReading raw = take(index, scratch);
        const bool valid = raw.validity == reading::Validity::valid;
        block.position[i] = valid ? raw.position : missing;
        block.displacement[i] = valid ? raw.displacement : missing;
        block.peak[i] = raw.peak;
        block.validity[i] = raw.validity;
        if (thickness) block.thickness[i] = raw.thickness.value_or(missing);
    }
}

// Mean and sum of squared deviations of a growing set.
// Source: T. F. Chan, G. H. Golub, R. J. LeVeque, "Updating formulae and a pairwise algorithm for computing sample
// variances", Stanford STAN-CS-79-773 (1979).
struct Moments {
    double count = 0.0;
    double mean = 0.0;
    double squares = 0.0;

    void add(const std::vector<double>& values) {
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
};

// Smooths blocks in order and gathers the statistics.
class Gatherer {
public:
    explicit Gatherer(const scenario::Reading& options) : options_(options), smoother_(options) {}

    void add(SeriesBlock& block) {
        settled_.clear();
        for (std::size_t i = 0; i < block.validity.size(); ++i) {
            ++statistics_.validity[static_cast<std::size_t>(block.validity[i])];
            std::optional<double> displacement;
            if (block.validity[i] == reading::Validity::valid) displacement = block.displacement[i];
            const std::optional<double> output = smoother_.push(displacement);
            block.output[i] = output.value_or(missing);
            if (output && smoother_.readings_to_settle() == 0) settled_.push_back(*output);
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
    }

    [[nodiscard]] SeriesStatistics statistics() const {
        SeriesStatistics result = statistics_;
        result.outputs = static_cast<std::int64_t>(moments_.count);
        result.independent_outputs = independent_windows(options_, result.outputs);
        result.thicknesses = static_cast<std::int64_t>(thickness_.count);
        if (result.thicknesses > 0) result.mean_thickness = thickness_.mean;
        if (result.thicknesses > 1) {
            result.thickness_deviation = std::sqrt(thickness_.squares / (thickness_.count - 1.0));
        }
        if (result.outputs == 0) return result;
        result.mean = moments_.mean;
        result.least = least_;
        result.greatest = greatest_;
        if (result.outputs > 1) result.standard_deviation = std::sqrt(moments_.squares / (moments_.count - 1.0));
        return result;
    }

private:
    scenario::Reading options_;
    reading::Smoother smoother_;
    SeriesStatistics statistics_;
    std::vector<double> settled_;
    Moments moments_;
    Moments thickness_;
    double least_ = std::numeric_limits<double>::infinity();
    double greatest_ = -std::numeric_limits<double>::infinity();
};

}  // namespace

std::int64_t independent_windows(const scenario::Reading& reading, std::int64_t outputs) {
    const std::int64_t window = reading.average + reading.median - 1;
    return outputs > 0 ? 1 + (outputs - 1) / window : 0;
}

std::size_t patch_met(const scenario::Scenario& scenario, std::int64_t reading, std::size_t patches) {
    if (patches == 1) return 0;
    const base::RandomKey key{static_cast<std::uint64_t>(scenario.seed), base::Stream::speckle_choice};
    const auto word = static_cast<std::uint64_t>(base::random_word(key, reading, 0));
    return static_cast<std::size_t>((word * patches) >> 32U);
}

SeriesStatistics take_series(const Instrument& instrument, const Pose& pose, const SeriesOptions& options) {
    return take_series(instrument, std::span(&pose, 1), options);
}

SeriesStatistics take_series(const Instrument& instrument, std::span<const Pose> poses, const SeriesOptions& options) {
    const auto take = [&](std::int64_t index, Scratch& scratch) {
        return take_reading(instrument, poses[patch_met(instrument.scenario, index, poses.size())], index, scratch);
    };
    return take_series(instrument.scenario.reading, poses.front().timing.period, take, options);
}

SeriesStatistics take_series(const scenario::Reading& reading, double period, const TakeReading& take,
                             const SeriesOptions& options) {
    Gatherer gatherer(reading);
    std::vector<SeriesBlock> blocks(blocks_at_once);
    std::vector<Scratch> scratch(blocks_at_once);
    const std::int64_t block_count = (options.readings + block_readings - 1) / block_readings;
    for (std::int64_t wave = 0; wave < block_count; wave += blocks_at_once) {
        const std::int64_t in_wave = std::min(blocks_at_once, block_count - wave);
        base::parallel_for(in_wave, options.threads, [&](std::int64_t i) {
            const std::int64_t first = (wave + i) * block_readings;
            SeriesBlock& block = blocks[static_cast<std::size_t>(i)];
            resize(block, first, std::min(block_readings, options.readings - first));
            block.period = period;
            take_block(reading, take, scratch[static_cast<std::size_t>(i)], block);
        });
        for (std::int64_t i = 0; i < in_wave; ++i) {
            SeriesBlock& block = blocks[static_cast<std::size_t>(i)];
            gatherer.add(block);
            if (options.sink) options.sink(block);
        }
        if (options.progress) {
            options.progress(std::min((wave + in_wave) * block_readings, options.readings), options.readings);
        }
    }
    return gatherer.statistics();
}

}  // namespace spotwright::study
