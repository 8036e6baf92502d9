// The table of quantities as JSON.
#pragma once

#include <string_view>

#include <nlohmann/json.hpp>

#include "sim/measure/quantities.hpp"

namespace spotwright::record {

/// A quantity of a result; null where it does not exist. A number of things is a whole number.
[[nodiscard]] nlohmann::ordered_json quantity_json(const measure::Quantity& quantity, const measure::ReadResult& result,
                                                   const scenario::Scenario& scenario);

/// Quantities of every group, or only those of groups that the result has.
enum class Groups { all, existing };

/// Adds the quantities whose place is directly under a pointer, such as `/motion`, in the order of the table.
void add_under(std::string_view pointer, Groups groups, const measure::ReadResult& result,
               const scenario::Scenario& scenario, nlohmann::ordered_json& object);

/// Adds every quantity that exists and is not there yet, at its place.
void add_missing(const measure::ReadResult& result, const scenario::Scenario& scenario, nlohmann::ordered_json& json);

}  // namespace spotwright::record
