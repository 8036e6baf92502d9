// How drift, budget and advice are shown to people.
#pragma once

#include <string>

#include "sim/study/advice.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"

namespace spotwright::cli {

/// Per kelvin by cause, and what resets leave of a path.
[[nodiscard]] std::string describe(const study::DriftStudy& study, const scenario::Scenario& scenario);

/// Lines with bars, what they combine to, and the Monte Carlo beside it.
[[nodiscard]] std::string describe(const study::Budget& budget, const scenario::Scenario& scenario);

/// What to do, what it costs, and what else was tried.
[[nodiscard]] std::string describe(const study::Advice& advice, const scenario::Scenario& scenario);

}  // namespace spotwright::cli
