// Results of studies as tables for people: heads, units and digits are the same on the terminal and in the report.
// A number is rounded to the second digit of its standard uncertainty where that is known (GUM 7.2.6). A number from a
// calculation without noise has three significant digits.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/study/allan.hpp"
#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/study/drift.hpp"
#include "sim/study/linearity.hpp"

namespace spotwright::record {

struct TextTable {
    std::vector<std::string> head;
    std::vector<std::vector<std::string>> rows;
};

/// Significant digits of a number without a known uncertainty.
inline constexpr int digits_without_uncertainty = 3;

/// The number of a length in um, to three significant digits; 0 below the size of an atom. "none" if not finite. [m]
[[nodiscard]] std::string um_text(double length);

/// Deviation and the ends of its interval, to the second digit of a quarter of the interval's width: 95 % span about
/// four standard uncertainties.
[[nodiscard]] TextTable allan_table(std::span<const study::AllanPoint> curve);

/// Largest distances from the four straight lines of each material. @param span  Of the range. [m]
[[nodiscard]] TextTable linearity_table(std::span<const study::LinearityCurve> curves, double span);

/// Rms errors, each to the second digit of its standard uncertainty.
[[nodiscard]] TextTable averaging_table(std::span<const study::AveragedError> errors);

/// Expanded uncertainties to two significant digits.
[[nodiscard]] TextTable crossover_table(const study::CrossoverStudy& study);

/// Change of a reading per kelvin by cause. @param span  Of the range. [m]
[[nodiscard]] TextTable drift_table(std::span<const study::DriftCause> causes, double span);

/// Remaining drift by the interval between settings of the zero.
[[nodiscard]] TextTable resets_table(std::span<const study::ResetInterval> resets);

}  // namespace spotwright::record
