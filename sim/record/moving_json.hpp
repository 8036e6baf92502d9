// What readings over time say, as JSON.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/study/read.hpp"

namespace spotwright::record {

/// Adds `motion`, `exposure_control` and, of a scan, `scan`; nothing for a part that stands still.
void add_motion(const study::ReadResult& result, nlohmann::ordered_json& json);

}  // namespace spotwright::record
