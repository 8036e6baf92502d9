// Text of a result of `read`, also used by `demo`.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::cli {

/// How much of a result is told.
enum class Detail {
    answer,  ///< verdict and why, what it covers, what was read, the largest causes, reasons
    all      ///< every number of the table of quantities by groups, the verdict and its reasons
};

/// @param ensemble  Of an inferred sensor: the headline has the level of most sensors that fit the sheet, too.
[[nodiscard]] std::string describe(const scenario::Scenario& scenario, const measure::ReadResult& result, Detail detail,
                                   const std::optional<study::EnsembleSpread>& ensemble = std::nullopt);

/// The level of a verdict, why it is that, and what it covers: lines for a result of any command.
[[nodiscard]] std::string describe(const measure::Verdict& verdict, const scenario::Requirement& requirement,
                                   const std::optional<study::EnsembleSpread>& ensemble = std::nullopt);

/// Errors by the number of readings averaged, as a table under a line that names it.
[[nodiscard]] std::string describe(std::span<const study::AveragedError> errors);

/// Both principles at each distance, as a table under the crossover distance.
[[nodiscard]] std::string describe(const study::CrossoverStudy& study);

}  // namespace spotwright::cli
