// Text of drift, budget and advice.
#pragma once

#include <string>

#include "sim/study/advice.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"

namespace spotwright::cli {

/// Drift per kelvin by cause, and the remaining drift by reset interval.
[[nodiscard]] std::string describe(const study::DriftStudy& study, const scenario::Scenario& scenario);

/// Lines with bars, their combination, and the Monte Carlo result.
[[nodiscard]] std::string describe(const study::Budget& budget, const scenario::Scenario& scenario,
                                   const std::optional<study::EnsembleSpread>& ensemble = std::nullopt);

/// Recommended changes, their cost, and the other changes tried.
[[nodiscard]] std::string describe(const study::Advice& advice, const scenario::Scenario& scenario);

}  // namespace spotwright::cli
