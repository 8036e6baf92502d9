#include "sim/record/quantities_json.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <string>

#include "sim/record/json_number.hpp"

namespace spotwright::record {

namespace {

using measure::Quantity;
using nlohmann::ordered_json;

bool has_group(measure::Group group, const measure::ReadResult& result, const scenario::Scenario& scenario) {
    const auto groups = measure::quantity_groups();
    return std::any_of(groups.begin(), groups.end(), [&](const measure::QuantityGroup& each) {
        return each.group == group && each.exists(result, scenario);
    });
}

}  // namespace

ordered_json quantity_json(const Quantity& quantity, const measure::ReadResult& result,
                           const scenario::Scenario& scenario) {
    const double value = quantity.value(result, scenario);
    const bool whole = quantity.rounding.rule == measure::Rounding::Rule::whole && std::isfinite(value);
    return whole ? ordered_json(static_cast<std::int64_t>(value)) : json_number(value);
}

void add_under(std::string_view pointer, Groups groups, const measure::ReadResult& result,
               const scenario::Scenario& scenario, ordered_json& object) {
    for (const Quantity& each : measure::quantities()) {
        const std::size_t last = each.place.rfind('/');
        if (each.place.substr(0, last) != pointer) continue;
        if (groups == Groups::existing && !has_group(each.group, result, scenario)) continue;
        object[std::string(each.place.substr(last + 1))] = quantity_json(each, result, scenario);
    }
}

void add_missing(const measure::ReadResult& result, const scenario::Scenario& scenario, ordered_json& json) {
    for (const Quantity& each : measure::quantities()) {
        const ordered_json::json_pointer place{std::string(each.place)};
        if (json.contains(place) || std::isnan(each.value(result, scenario))) continue;
        json[place] = quantity_json(each, result, scenario);
    }
}

}  // namespace spotwright::record
