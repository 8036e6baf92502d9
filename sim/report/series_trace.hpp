// A series of any length, thinned for a chart without losing outliers.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/measure/series.hpp"

namespace spotwright::report {

struct TracePoint {
    std::int64_t reading = 0;
    double value = 0.0;  ///< NaN: the stretch has no value
};

/// Thins a series: the least and the greatest value of every stretch of equal length, in the order in which they came.
/// A series with no more values than points is kept whole.
class Thinning {
public:
    static constexpr std::int64_t most_points = 2000;

    /// @param values  That will be added, >= 0.
    explicit Thinning(std::int64_t values, std::int64_t most = most_points);

    /// @param value  NaN where there is none.
    void add(double value);

    /// Of all values added so far.
    [[nodiscard]] std::vector<TracePoint> points() const;

    /// First values of the stretches in which one is missing.
    [[nodiscard]] const std::vector<std::int64_t>& with_missing() const { return with_missing_; }

    /// Values that share a pair of points; 1: all are there.
    [[nodiscard]] std::int64_t stretch() const { return stretch_; }
    [[nodiscard]] std::int64_t missing() const { return missing_; }

private:
    void end_stretch(std::vector<TracePoint>& points) const;

    std::int64_t stretch_ = 1;
    std::int64_t next_ = 0;
    std::int64_t missing_ = 0;
    std::vector<TracePoint> points_;
    std::vector<std::int64_t> with_missing_;
    TracePoint least_;
    TracePoint greatest_;
    bool any_ = false;
};

/// Content of the chart of a series.
struct SeriesTrace {
    std::int64_t readings = 0;
    double period = 0.0;                     ///< between readings. [s]
    std::int64_t stretch = 1;                ///< readings that a pair of points represents; 1: every reading is there
    std::int64_t missing = 0;                ///< outputs that do not exist
    std::vector<TracePoint> output;          ///< after median and average. [m]
    std::vector<std::int64_t> with_missing;  ///< first readings of the stretches in which an output is missing
    std::vector<TracePoint> truth;           ///< where it is known. [m]
};

/// Collects the blocks of a series; memory does not grow with its length.
class SeriesCollector {
public:
    /// Readings from the start that are kept one by one, for histogram and Allan deviation.
    static constexpr std::size_t most_kept = std::size_t{1} << 20U;

    explicit SeriesCollector(const scenario::Scenario& scenario);

    /// In order and without a gap.
    void add(const measure::SeriesBlock& block);

    [[nodiscard]] SeriesTrace trace() const;

    /// Outputs of full windows, NaN where the reading is not valid; of a part that moves, less the truth. [m]
    [[nodiscard]] std::span<const double> outputs() const { return outputs_; }

    [[nodiscard]] bool part_moves() const { return truth_.has_value(); }

    /// Whether all readings were kept.
    [[nodiscard]] bool whole() const;

private:
    std::int64_t readings_ = 0;
    std::int64_t to_settle_ = 0;
    double period_ = 0.0;
    Thinning output_;
    std::optional<Thinning> truth_;  ///< of a part that moves
    std::vector<double> outputs_;
};

}  // namespace spotwright::report
