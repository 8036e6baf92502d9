// Logs recorded from a sensor on the bench: what they hold, and what they say of themselves.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/study/allan.hpp"
#include "sim/study/linearity.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::bench {

/// Columns with other names than the default: names as in the first line, units as in `um`. Empty: found
/// by the names `time_s|ms|us`, `reading_mm|um|nm`, `reference_mm|um|nm`; the unit by the end of a name.
struct LogNames {
    std::string time, time_unit;
    std::string reading, reading_unit;
    std::string reference, reference_unit;
    std::string decimal;  ///< `point` or `comma`; empty: found, see `scenario::DecimalMark`
};

/// Readings over time, or over the displacements of a reference (then without a time).
struct BenchLog {
    std::string file;
    std::vector<double> time;       ///< rising. [s]
    std::vector<double> reference;  ///< [m]
    std::vector<double> reading;    ///< NaN where invalid. [m]
    std::vector<double> signal;  ///< peak as a share of full scale; empty where it is not recorded, NaN where missing
    std::vector<int> lines;      ///< of the file
    std::vector<std::string> ignored;  ///< columns
};

/// A step of time above this many median ones is a gap.
inline constexpr double gap_steps = 1.5;

/// An empty cell or `nan` is an invalid reading.
/// @throws ScenarioError  With the line: no or several columns that may hold the reading, a name without a unit, what
///   is no number, time that does not rise, fewer than two readings (linearity: three places).
[[nodiscard]] BenchLog parse_log(std::string_view text, const std::string& file, const LogNames& names = {});

/// The same from a file of at most 64 MiB. @throws IoError  It cannot be read.
[[nodiscard]] BenchLog load_log(const std::string& path, const LogNames& names = {});

/// @throws ScenarioError  Readings or references spread wider than the scenario's range can be: most likely another
///   unit.
void require_within_range(const BenchLog& log, const scenario::Scenario& scenario);

/// Of a log over time.
struct TimeStatistics {
    std::int64_t readings = 0;
    std::int64_t valid = 0;
    double period = 0.0;    ///< median step. [s]
    double duration = 0.0;  ///< first to last. [s]
    std::int64_t gaps = 0;
    std::optional<double> mean;               ///< [m]
    std::optional<double> deviation;          ///< of the readings about their mean. [m]
    std::int64_t independent = 0;             ///< readings, by their autocorrelation about the drift
    std::optional<study::Interval> interval;  ///< of the deviation, 95 %
    std::optional<double> peak_to_peak;       ///< grows with the number of readings. [m]
    std::optional<double> drift;              ///< slope of the line by least squares. [m/s]
    double drift_uncertainty = 0.0;           ///< standard, with the autocorrelation. [m/s]
    std::optional<double> signal;             ///< mean share of full scale. [1]
    double signal_deviation = 0.0;            ///< of single readings. [1]
    study::AllanStudy allan;                  ///< of the longest stretch without a gap of time
};

[[nodiscard]] TimeStatistics time_statistics(const BenchLog& log);

/// Readings at one place of the reference.
struct PlaceErrors {
    double reference = 0.0;         ///< [m]
    std::optional<double> rising;   ///< mean error of readings reached from below. [m]
    std::optional<double> falling;  ///< from above. [m]
    double error = 0.0;             ///< mean of both, or the one there is. [m]
};

/// Of a linearity log.
struct LinearityStatistics {
    std::int64_t readings = 0;
    std::int64_t valid = 0;
    std::vector<PlaceErrors> places;
    study::LinearityFigures figures;
    double largest_error = 0.0;           ///< with its sign. [m]
    std::optional<double> hysteresis;     ///< none where no place was reached from both sides. [m]
    std::optional<double> repeatability;  ///< pooled over places and directions; none without repeats. [m]
    std::int64_t repeats = 0;             ///< degrees of freedom of it
    std::optional<study::Interval> repeatability_interval;  ///< 95 %
};

/// References within 1/2000 of their span are one place.
/// @throws ScenarioError  Fewer than three places have a valid reading; readings fall as the reference rises, or not in
///   its unit.
[[nodiscard]] LinearityStatistics linearity_statistics(const BenchLog& log);

}  // namespace spotwright::bench
