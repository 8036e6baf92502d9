#include "sim/record/moving_json.hpp"

#include "sim/record/quantities_json.hpp"

namespace spotwright::record {

namespace {

using nlohmann::ordered_json;

const char* kind_of(const measure::Scan& scan) {
    if (scan.run_out) return "run-out";
    if (scan.roll) return "roll";
    return scan.step ? "step" : nullptr;
}

// Null if the scan has no result.
ordered_json scan_json(const measure::ReadResult& result, const scenario::Scenario& scenario) {
    const char* kind = kind_of(*result.scan);
    if (kind == nullptr) return nullptr;
    ordered_json json{{"kind", kind}};
    add_under("/scan", Groups::existing, result, scenario, json);
    return json;
}

}  // namespace

void add_motion(const measure::ReadResult& result, const scenario::Scenario& scenario, ordered_json& json) {
    const auto add = [&](const char* name, const char* pointer) {
        add_under(pointer, Groups::all, result, scenario, json[name]);
    };
    if (result.tracking) add("motion", "/motion");
    if (result.exposure_use) add("exposure_control", "/exposure_control");
    if (result.scan) json["scan"] = scan_json(result, scenario);
}

}  // namespace spotwright::record
