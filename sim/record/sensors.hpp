// Sensors of a shelf as JSON.
#pragma once

#include <span>

#include <nlohmann/json.hpp>

#include "sim/sensor/summary.hpp"

namespace spotwright::record {

/// One entry for each sensor, with what it offers.
[[nodiscard]] nlohmann::ordered_json to_json(std::span<const sensor::Summary> sensors);

}  // namespace spotwright::record
