// How the mean of a reading scatters with the time it is taken over.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "sim/study/uncertainty.hpp"

namespace spotwright::study {

// Readings are taken evenly, each the mean over the time to the next. Source of all: W. J. Riley, Handbook of Frequency
// Stability Analysis, NIST SP 1065 (2008), 5.2. @param count  Readings averaged, > 0.
// @throws DomainError  Fewer readings than one difference needs.

[[nodiscard]] double allan_deviation(std::span<const double> readings, std::int64_t count);
[[nodiscard]] double overlapping_allan_deviation(std::span<const double> readings, std::int64_t count);
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

/// At averages of 1, 2, 4, ... readings, as long as three differences without overlap are left.
[[nodiscard]] std::vector<AllanPoint> allan_curve(std::span<const double> readings, double period);

}  // namespace spotwright::study
