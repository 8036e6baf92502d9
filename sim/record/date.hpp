// The date that files carry.
#pragma once

#include <string>

namespace spotwright::record {

/// Now in UTC, ISO 8601; the environment's SOURCE_DATE_EPOCH where it is set, so that files can be reproduced.
/// @throws ScenarioError  The variable does not hold a time.
[[nodiscard]] std::string current_date();

}  // namespace spotwright::record
