// What the error of a reading is made of: each cause switched on alone in the model, combined by the GUM, and held
// against everything at once.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/uncertainty.hpp"

namespace spotwright::study {

/// One line of the budget.
struct BudgetLine {
    measure::Cause cause = measure::Cause::noise;
    Component component;  ///< standard uncertainty about the mean; bears the cause's name. [m]
    double bias = 0.0;    ///< mean error that this cause brings, not corrected by the sensor. [m]
    std::string basis;    ///< how it was got, in a few words for people
};

struct Budget {
    std::vector<BudgetLine> lines;  ///< largest effect first
    double bias = 0.0;              ///< of all lines. [m]
    Combined combined;              ///< about that bias
    double error_bound = 0.0;       ///< |bias| + expanded uncertainty. [m]
    MonteCarlo together;            ///< of the whole model with everything switched on
    double disagreement = 0.0;      ///< largest difference between the ends of both 95 % intervals. [m]
    double tolerance = 0.0;         ///< of that difference: see `budget`. [m]
    bool agrees = false;
    bool conclusive = true;    ///< the tolerance is at most half of the expanded uncertainty, so that `agrees` tells
    double valid_share = 0.0;  ///< of the Monte Carlo's trials. [1]
    /// By valid share and error bound, or the farther end of the Monte Carlo's interval where they differ.
    measure::Verdict verdict;
};

struct BudgetOptions {
    int threads = 0;
    std::function<void(std::int64_t done, std::int64_t all)> progress;
};

/// Causes: see docs/theory/budget.md. The two intervals agree when their ends differ by no more than a tenth of the
/// expanded uncertainty and three standard errors of the Monte Carlo's ends. The Monte Carlo reads with the scenario's
/// own specimen: the line of the making is left out of the comparison.
/// @throws ScenarioError  The part cannot be read at all, or where it may stand, tilt or warm to: there is no error to
///   break down.
[[nodiscard]] Budget budget(const sensor::Setup& setup, const BudgetOptions& options);

}  // namespace spotwright::study
