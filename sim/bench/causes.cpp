#include "sim/bench/causes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"

namespace spotwright::bench {

namespace {

using base::length_text, base::mm;

std::vector<double> valid_readings(const BenchLog& log) {
    std::vector<double> readings;
    std::copy_if(log.reading.begin(), log.reading.end(), std::back_inserter(readings),
                 [](double reading) { return !std::isnan(reading); });
    return readings;
}

// Readings that are the same, or nearly all of a few values.
void add_coarse_readings(const std::vector<double>& readings, std::vector<std::string>& causes) {
    std::vector<double> values = readings;
    std::sort(values.begin(), values.end());
    values.erase(std::unique(values.begin(), values.end()), values.end());
    constexpr std::size_t few = 5;
    if (values.size() == 1 && readings.size() > 1) {
        causes.push_back(fmt::format(
            "every reading is {}: another column (--reading NAME), a held output, or too few decimals in the log",
            length_text(values[0], 6)));
    } else if (values.size() > 1 && values.size() <= few && readings.size() > 4 * few) {
        causes.push_back(
            fmt::format("the readings have only {} different values, {} apart: too few decimals in the log",
                        values.size(), length_text(values[1] - values[0], 3)));
    }
}

void add_motion(const std::vector<double>& readings, std::vector<std::string>& causes) {
    constexpr std::size_t enough = 5;
    const bool rises = std::is_sorted(readings.begin(), readings.end());
    const bool falls = std::is_sorted(readings.rbegin(), readings.rend());
    if (readings.size() < enough || rises == falls) return;
    causes.push_back(
        fmt::format("the readings {} from row to row: a counter or a time in that column (--reading NAME), "
                    "or a part that moves; a log over time is of a part at rest",
                    rises ? "only rise" : "only fall"));
}

void add_signal(const TimeStatistics& s, std::vector<std::string>& causes) {
    if (!s.signal) return;
    if (*s.signal > 1.0) {
        causes.push_back(fmt::format(
            "signal_share is {:.4g}: per cent or digits in place of a share of full scale, 0 to 1", *s.signal));
    } else if (*s.signal <= 0.0) {
        causes.emplace_back("signal_share is 0: an empty column");
    }
}

void add_scatter(std::span<const Compared> compared, std::vector<std::string>& causes) {
    constexpr double far_off = 100.0;
    for (const Compared& c : compared) {
        if (c.name != "still_sd_um" || !(c.measured > 0.0) || !(c.predicted > 0.0)) continue;
        const double ratio = c.measured / c.predicted;
        if (ratio < far_off && ratio > 1.0 / far_off) continue;
        causes.push_back(
            fmt::format("the readings scatter {:.2g} times as much as predicted: another unit "
                        "(--reading-unit), {}",
                        ratio,
                        ratio > 1.0 ? "vibration, or a part that moves"
                                    : "or an average of the sensor (reading.average of the scenario)"));
    }
}

}  // namespace

std::vector<std::string> likely_causes(const BenchLog& log, const TimeStatistics& statistics,
                                       const scenario::Scenario& s, std::span<const Compared> compared) {
    std::vector<std::string> causes;
    constexpr std::int64_t few_rows = 30;
    if (statistics.valid < few_rows) {
        causes.push_back(fmt::format("too few rows: {} valid readings; a thousand are usual, some hundred the least",
                                     statistics.valid));
    }
    const std::vector<double> readings = valid_readings(log);
    add_coarse_readings(readings, causes);
    add_motion(readings, causes);
    if (s.exposure.mode == scenario::ExposureMode::automatic) {
        causes.emplace_back(
            "the scenario has automatic exposure: with exposure.mode = \"fixed\" the signal tells the light");
    }
    add_signal(statistics, causes);
    add_scatter(compared, causes);
    constexpr double least_independent = 0.1;
    if (statistics.valid >= few_rows &&
        static_cast<double>(statistics.independent) < least_independent * static_cast<double>(statistics.valid)) {
        causes.push_back(fmt::format("only {} of {} readings are independent: an average of the sensor, or a drift",
                                     statistics.independent, statistics.valid));
    }
    const auto [near, far] = s.mount.range;
    if (statistics.mean && (*statistics.mean < near || *statistics.mean > far)) {
        causes.push_back(
            fmt::format("the mean reading of {} lies outside the range of {:g} to {:g} mm: another unit "
                        "(--reading-unit), or a distance in place of the displacement",
                        length_text(*statistics.mean, 4), near / mm, far / mm));
    }
    return causes;
}

std::vector<std::string> likely_causes(const LinearityStatistics& statistics, const scenario::Scenario& s) {
    std::vector<std::string> causes;
    constexpr std::size_t few_places = 5;
    if (statistics.places.size() < few_places) {
        causes.push_back(fmt::format("too few places: {}; ten up and down are usual", statistics.places.size()));
    }
    const bool exact = std::all_of(statistics.places.begin(), statistics.places.end(),
                                   [](const PlaceErrors& place) { return place.error == 0.0; });
    if (exact) causes.emplace_back("every reading equals its reference: the same column twice (--reading NAME)");
    const double span = statistics.places.back().reference - statistics.places.front().reference;
    const double range = s.mount.range[1] - s.mount.range[0];
    constexpr double hardly = 0.1;
    if (span < hardly * range) {
        causes.push_back(fmt::format("hardly any motion in the log: the reference covers {} of the range of {}",
                                     length_text(span, 3), length_text(range, 3)));
    }
    return causes;
}

}  // namespace spotwright::bench
