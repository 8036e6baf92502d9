// Results of readings over time, as JSON.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/measure/read.hpp"

namespace spotwright::record {

/// Adds `motion`, `exposure_control` and, of a scan, `scan`; nothing for a part that stands still.
void add_motion(const measure::ReadResult& result, const scenario::Scenario& scenario, nlohmann::ordered_json& json);

}  // namespace spotwright::record
