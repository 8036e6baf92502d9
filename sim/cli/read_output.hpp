// How a result of `read` is shown; `demo` shows it the same way.
#pragma once

#include <span>
#include <string>
#include <utility>
#include <vector>

#include "sim/study/averaging.hpp"
#include "sim/study/crossover.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::cli {

/// Several lines for people.
[[nodiscard]] std::string describe(const scenario::Scenario& scenario, const measure::ReadResult& result);

/// Heads and texts of what only a part that moves has; empty for one that stands still.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> moving_lines(const measure::ReadResult& result);

/// What averaging cures, as a table with a line that says what it is.
[[nodiscard]] std::string describe(std::span<const study::AveragedError> errors);

/// Both principles at every distance, as a table with the crossover below.
[[nodiscard]] std::string describe(const study::CrossoverStudy& study);

}  // namespace spotwright::cli
