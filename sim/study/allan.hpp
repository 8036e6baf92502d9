// Allan deviation: scatter of mean readings against the averaging time.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "sim/measure/series.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::study {

// Readings are taken evenly, each the mean over the time to the next. Source of all: W. J. Riley, Handbook of Frequency
// Stability Analysis, NIST SP 1065 (2008), 5.2. @param count  Readings averaged, > 0.
// @throws DomainError  Fewer readings than one difference needs, or readings that are not finite.

[[nodiscard]] double allan_deviation(std::span<const double> readings, std::int64_t count);
/// Equation (statistics.1).
[[nodiscard]] double overlapping_allan_deviation(std::span<const double> readings, std::int64_t count);
/// Equation (statistics.2).
[[nodiscard]] double modified_allan_deviation(std::span<const double> readings, std::int64_t count);
/// Of the sum over time. @param period  Between readings. [s]
[[nodiscard]] double time_deviation(std::span<const double> readings, std::int64_t count, double period);
[[nodiscard]] double hadamard_deviation(std::span<const double> readings, std::int64_t count);

struct AllanPoint {
    std::int64_t count = 1;  ///< readings averaged
    double time = 0.0;       ///< they take. [s]
    double deviation = 0.0;  ///< overlapping, in the unit of the readings
    Interval interval;       ///< 95 %, by chi-squared with the degrees of freedom of white noise
};

/// At averages of 1, 2, 4, ... readings, as long as three differences without overlap are left; empty below four
/// readings.
[[nodiscard]] std::vector<AllanPoint> allan_curve(std::span<const double> readings, double period);

/// Treatment of missing readings: the differences need all of them.
enum class Gaps {
    none,
    closed,      ///< fewer than `share_closed` were missing: they are left out, and the rest is joined
    longest_run  ///< more were: the longest stretch without a gap is used
};

/// `none`, `closed` or `longest run`.
[[nodiscard]] std::string_view name_of(Gaps gaps);

/// Share of missing readings from which gaps matter: differences across a closed gap span one more period.
inline constexpr double share_closed = 0.01;

struct AllanStudy {
    Gaps gaps = Gaps::none;
    std::int64_t readings = 0;        ///< of the series
    std::int64_t missing = 0;         ///< of them
    std::int64_t used = 0;            ///< behind the curve
    std::vector<AllanPoint> curve;    ///< may be empty
    std::optional<AllanPoint> least;  ///< where the curve is lowest: the best averaging time. None for an empty curve
    bool min_inside = false;  ///< the minimum is not at an end of the curve: more averaging increases the deviation
};

/// The outputs of a series from its blocks: those of full windows, NaN where the reading is not valid.
class OutputSeries {
public:
    explicit OutputSeries(const scenario::Reading& reading);
    void append(const measure::SeriesBlock& block);
    [[nodiscard]] const std::vector<double>& outputs() const { return outputs_; }

private:
    std::int64_t to_settle_;
    std::vector<double> outputs_;
};

/// @param readings  At even times; what is not finite is missing.
[[nodiscard]] AllanStudy allan_study(std::span<const double> readings, double period);

}  // namespace spotwright::study
