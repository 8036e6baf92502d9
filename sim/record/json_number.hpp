// Numbers as JSON.
#pragma once

#include <cmath>
#include <optional>

#include <nlohmann/json.hpp>

namespace spotwright::record {

/// A number in a unit; null where it does not exist or is not finite.
[[nodiscard]] inline nlohmann::ordered_json json_number(std::optional<double> si, double unit = 1.0) {
    if (!si || !std::isfinite(*si)) return nullptr;
    return *si / unit;
}

/// The same for each of a list.
template <class Range>
[[nodiscard]] nlohmann::ordered_json json_numbers(const Range& values, double unit) {
    nlohmann::ordered_json list = nlohmann::ordered_json::array();
    for (const double value : values) list.push_back(json_number(value, unit));
    return list;
}

}  // namespace spotwright::record
