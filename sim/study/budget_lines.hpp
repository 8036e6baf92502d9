// The lines of a budget, each cause by itself.
#pragma once

#include <vector>

#include "sim/study/budget.hpp"
#include "sim/study/draw.hpp"
#include "sim/study/material_effect.hpp"

namespace spotwright::study {

/// Of the model's sensor, in a fixed order.
/// @throws ScenarioError  See `budget`.
[[nodiscard]] std::vector<BudgetLine> budget_lines(const ErrorModel& model, const std::vector<MaterialEffect>& material,
                                                   int threads);

}  // namespace spotwright::study
