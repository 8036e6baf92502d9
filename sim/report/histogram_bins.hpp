// Histogram: counts of values in bins, for a chart.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

namespace spotwright::report {

/// Bins of one width, side by side, that hold every value: none is cut off.
struct Histogram {
    double low = 0.0;    ///< lower edge of the first bin, in the unit of the values
    double width = 0.0;  ///< of each bin, > 0
    std::vector<std::int64_t> counts;
    std::int64_t values = 0;
    double mean = 0.0;
    double deviation = 0.0;  ///< standard deviation, n - 1
    std::string rule;        ///< how the width was chosen, in words
};

/// Bins no narrower than a chart can show.
inline constexpr std::size_t most_bins = 160;

/// Width 2 IQR / n^(1/3). Source: D. Freedman, P. Diaconis, "On the histogram as a density estimator: L2 theory",
/// Z. Wahrscheinlichkeitstheorie verw. Gebiete 57, 453 (1981). If half of all values are equal, sqrt(n) bins (common
/// practice); never more than `most_bins`.
/// @param values  In any order; those that are not finite are left out.
/// @return none for fewer than two values, or when all are the same.
[[nodiscard]] std::optional<Histogram> histogram_of(std::span<const double> values);

/// Expected count of a bin at a value, by a normal distribution of the same mean and standard deviation.
[[nodiscard]] double normal_count(const Histogram& histogram, double value);

}  // namespace spotwright::report
