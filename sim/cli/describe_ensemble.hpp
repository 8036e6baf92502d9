// Text on how far a verdict hangs on what the data sheet of a sensor leaves open.
#pragma once

#include <optional>
#include <string>

#include "sim/cli/options.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/study/specimens.hpp"

namespace spotwright::cli {

/// Lines under a result: how many sensors share the verdict, and the ranges of bias, scatter and uncertainty.
[[nodiscard]] std::string describe(const study::EnsembleSpread& spread, measure::Level level);

/// The part before all sensors that fit the sheet; none without an ensemble.
[[nodiscard]] std::optional<study::EnsembleSpread> ensemble_beside(const scenario::Scenario& scenario,
                                                                   study::EnsembleJudgement judgement,
                                                                   const Options& options);

[[nodiscard]] std::string describe(const study::Specimens& specimens, measure::Level level);

/// The part before `run.specimens` specimens of the sensor; none where one alone is wanted.
[[nodiscard]] std::optional<study::Specimens> specimens_beside(const scenario::Scenario& scenario,
                                                               const Options& options);

/// With `--strict`, whether the level is stable, and that of most sensors that fit the sheet, too.
[[nodiscard]] int code_of(const Options& options, measure::Level level,
                          const std::optional<study::EnsembleSpread>& ensemble = std::nullopt);

}  // namespace spotwright::cli
