#include "sim/measure/series.hpp"

#include <algorithm>
#include <limits>

#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/series_gatherer.hpp"

namespace spotwright::measure {

namespace {

// Fixed sizes, never taken from the thread count, so that the blocks are the same on every machine.
constexpr std::int64_t block_readings = 4096;
constexpr std::int64_t blocks_at_once = 16;

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

using FillBlock = std::function<void(sensor::Scratch& scratch, SeriesBlock& block)>;

// Readings of a still part, some at a time: frames drawn together cost less, and few stay in the cache.
void fill_still(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, const Disturbance& disturbance,
                sensor::Scratch& scratch, SeriesBlock& block) {
    constexpr std::size_t together = 32;
    std::array<sensor::RawReading, together> readings;
    for (std::size_t i = 0; i < block.validity.size(); i += together) {
        const auto some = std::span(readings).first(std::min(together, block.validity.size() - i));
        take_readings(setup, pose, block.first + static_cast<std::int64_t>(i), scratch, some);
        for (std::size_t k = 0; k < some.size(); ++k) {
            const auto index = static_cast<double>(block.first + static_cast<std::int64_t>(i + k));
            disturbance.add_to(some[k], index * pose.timing.period, pose.timing.exposure);
            put_reading(some[k], i + k, block);
        }
    }
}

SeriesStatistics series_of(const scenario::Reading& reading, double period, const FillBlock& fill,
                           const SeriesOptions& options) {
    SeriesGatherer gatherer(reading);
    std::vector<SeriesBlock> blocks(blocks_at_once);
    std::vector<sensor::Scratch> scratch(blocks_at_once);
    const std::int64_t block_count = (options.readings + block_readings - 1) / block_readings;
    for (std::int64_t wave = 0; wave < block_count; wave += blocks_at_once) {
        const std::int64_t in_wave = std::min(blocks_at_once, block_count - wave);
        base::parallel_for(in_wave, options.threads, [&](std::int64_t i) {
            const std::int64_t first = (wave + i) * block_readings;
            SeriesBlock& block = blocks[static_cast<std::size_t>(i)];
            resize_block(block, first, std::min(block_readings, options.readings - first),
                         reading.thickness_index.has_value());
            block.period = period;
            fill(scratch[static_cast<std::size_t>(i)], block);
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

}  // namespace

void resize_block(SeriesBlock& block, std::int64_t first, std::int64_t count, bool with_thickness) {
    const auto n = static_cast<std::size_t>(count);
    block.first = first;
    block.position.resize(n);
    block.displacement.resize(n);
    block.output.resize(n);
    block.peak.resize(n);
    block.validity.resize(n);
    block.thickness.resize(with_thickness ? n : 0);
}

void put_reading(const sensor::RawReading& raw, std::size_t i, SeriesBlock& block) {
    const bool valid = raw.validity == reading::Validity::valid;
    block.position[i] = valid ? raw.position : missing;
    block.displacement[i] = valid ? raw.displacement : missing;
    block.peak[i] = raw.peak;
    block.validity[i] = raw.validity;
    if (!block.thickness.empty()) block.thickness[i] = raw.thickness.value_or(missing);
}

double valid_share(const SeriesStatistics& statistics) {
    if (statistics.readings <= 0) return 0.0;
    return static_cast<double>(statistics.validity[static_cast<std::size_t>(reading::Validity::valid)]) /
           static_cast<double>(statistics.readings);
}

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

SeriesStatistics take_series(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                             const SeriesOptions& options) {
    const Disturbance disturbance(setup);
    const auto fill = [&](sensor::Scratch& scratch, SeriesBlock& block) {
        fill_still(setup, pose, disturbance, scratch, block);
    };
    return series_of(setup.scenario.reading, pose.timing.period, fill, options);
}

SeriesStatistics take_series(const sensor::TriangulationSetup& setup, std::span<const sensor::Pose> poses,
                             const SeriesOptions& options) {
    if (poses.size() == 1) return take_series(setup, poses.front(), options);
    const Disturbance disturbance(setup);
    const auto take = [&](std::int64_t index, sensor::Scratch& scratch) {
        const sensor::Pose& pose = poses[patch_met(setup.scenario, index, poses.size())];
        sensor::RawReading raw = take_reading(setup, pose, index, scratch);
        disturbance.add_to(raw, static_cast<double>(index) * pose.timing.period, pose.timing.exposure);
        return raw;
    };
    return take_series(setup.scenario.reading, poses.front().timing.period, take, options);
}

SeriesStatistics take_series(const scenario::Reading& reading, double period, const TakeReading& take,
                             const SeriesOptions& options) {
    const auto fill = [&take](sensor::Scratch& scratch, SeriesBlock& block) {
        for (std::size_t i = 0; i < block.validity.size(); ++i) {
            put_reading(take(block.first + static_cast<std::int64_t>(i), scratch), i, block);
        }
    };
    return series_of(reading, period, fill, options);
}

}  // namespace spotwright::measure
