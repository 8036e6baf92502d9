// Reasons that only a sensor which times light has: a second sensor in view, the table of corrections.
#pragma once

#include <vector>

#include "sim/measure/read.hpp"
#include "sim/measure/reason.hpp"

namespace spotwright::measure {

/// None by another principle.
[[nodiscard]] std::vector<Reason> reasons_of_timing(const scenario::Scenario& scenario, const ReadResult& result);

}  // namespace spotwright::measure
