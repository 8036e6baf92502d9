// Measurements at the bench that tell sensors apart which fit the same sheet.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/study/ensemble.hpp"
#include "sim/study/sheet_candidate.hpp"

namespace spotwright::study {

/// A measurement on a matt white tile at the reference distance.
struct BenchTask {
    enum class Kind {
        still,    ///< the tile at rest, automatic exposure
        moved,    ///< the tile moved sideways between readings, automatic exposure
        exposure  ///< the tile at rest at a fixed exposure
    };
    Kind kind = Kind::still;
    double exposure = 0.0;  ///< fixed. [s]
    bool operator==(const BenchTask&) const = default;
};

/// `tile-still`, `tile-moved`, `tile-at-2.5us`.
[[nodiscard]] std::string name_of(const BenchTask& task);

/// The task of a name. @throws ScenarioError  No such task: with the names there are.
[[nodiscard]] BenchTask bench_task(const std::string& name);

/// What to do, in words.
[[nodiscard]] std::string in_words(const BenchTask& task);

/// What a log of a task holds; none: not recorded, or not predicted.
struct BenchStatistics {
    std::optional<double> scatter;  ///< standard deviation of single readings. [m]
    std::optional<double> signal;   ///< peak as a share of full scale. [1]
};

/// Of a sensor before a white tile.
[[nodiscard]] BenchStatistics predict(const Candidate& sensor, const BenchTask& task);

/// Relative standard uncertainty with which a bench gets a statistic and the model predicts it. [1]
struct BenchError {
    double scatter = 0.1;
    double signal = 0.05;
};
[[nodiscard]] BenchError bench_error(const BenchTask& task);

/// A log, reduced to its statistics.
struct BenchMeasured {
    BenchTask task;
    BenchStatistics statistics;
    std::string file;
};

/// How much a measurement would tell: the spread of a statistic's logarithm over the sensors, over its relative error.
struct BenchWorth {
    BenchTask task;
    std::string_view statistic;  ///< `scatter` or `signal`
    Spread predicted;            ///< SI
    double ratio = 0.0;
};

/// The most telling first. @param threads  0: all cores.
[[nodiscard]] std::vector<BenchWorth> bench_worths(const std::vector<Candidate>& members, int threads);

/// What a log says of the sensors.
struct BenchVerdict {
    BenchMeasured measured;
    BenchStatistics best;           ///< prediction of the best sensor left
    std::int64_t contradicted = 0;  ///< sensors that miss it by more than three standard uncertainties
};

/// Rejects sensors that miss a statistic by more than three standard uncertainties. The others count alike, which is on
/// the wide side.
/// @throws ScenarioError  No sensor is left: with what was measured and what the nearest predict.
[[nodiscard]] std::vector<BenchVerdict> narrow(std::vector<Candidate>& members, const std::vector<BenchMeasured>& logs,
                                               int threads);

}  // namespace spotwright::study
