// Drift, budget and advice as JSON. Names end in their units; a value that does not exist or is infinite is null.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/study/advice.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"

namespace spotwright::record {

/// `path` and `resets` are empty without a path of temperatures; an `interval_s` of null is never.
[[nodiscard]] nlohmann::ordered_json to_json(const study::DriftStudy& study, const scenario::Scenario& scenario);

/// Contributions, their combination, the Monte Carlo result, and the verdict.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Budget& budget, const scenario::Scenario& scenario);

/// Changes tried: none, those that reach `stable`, and the rest.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Advice& advice, const scenario::Scenario& scenario);

}  // namespace spotwright::record
