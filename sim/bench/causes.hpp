// Why nothing could be fitted to a log: likely causes, as far as the log itself shows them.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/bench/fit.hpp"
#include "sim/bench/log.hpp"

namespace spotwright::bench {

/// In words, the likeliest first; empty where the log looks as a log should. The limits are rules of thumb of this
/// program: they only choose what is worth a look. @param compared  The log beside the prediction.
[[nodiscard]] std::vector<std::string> likely_causes(const BenchLog& log, const TimeStatistics& statistics,
                                                     const scenario::Scenario& scenario,
                                                     std::span<const Compared> compared);

[[nodiscard]] std::vector<std::string> likely_causes(const LinearityStatistics& statistics,
                                                     const scenario::Scenario& scenario);

}  // namespace spotwright::bench
