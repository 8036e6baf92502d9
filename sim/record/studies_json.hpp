// Drift, budget and advice as JSON. Names carry their units; what does not exist or has no end is null.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/study/advice.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"

namespace spotwright::record {

/// `path` and `resets` are empty without a path of temperatures; an `interval_s` of null is never.
[[nodiscard]] nlohmann::ordered_json to_json(const study::DriftStudy& study, const scenario::Scenario& scenario);

/// Contributions, what they combine to, the Monte Carlo beside it, and the verdict.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Budget& budget, const scenario::Scenario& scenario);

/// What was tried: as it is, reaching `stable`, and the rest.
[[nodiscard]] nlohmann::ordered_json to_json(const study::Advice& advice, const scenario::Scenario& scenario);

}  // namespace spotwright::record
