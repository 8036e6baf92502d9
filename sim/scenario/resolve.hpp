// What a scenario names, found: materials of the library, and files beside the scenario.
#pragma once

#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Fills in the materials, heights and paths that the keys name, and forgets those found before. Problems of names and
/// of the files behind them, and of parts that no model follows, are added.
void resolve_names(Scenario& scenario, std::vector<base::Problem>& problems);

}  // namespace spotwright::scenario
