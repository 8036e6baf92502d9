#include "sim/record/shortlist_json.hpp"

#include "sim/base/units.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

using base::degree, base::mm, base::ms, base::um;
using nlohmann::ordered_json;

ordered_json shortcomings_json(const std::vector<study::Shortcoming>& shortcomings) {
    ordered_json list = ordered_json::array();
    for (const study::Shortcoming& each : shortcomings) {
        list.push_back({{"kind", study::name_of(each.kind)},
                        {"factor", each.factor > 0.0 ? json_number(each.factor) : ordered_json()},
                        {"words", valid_utf8(each.words)}});
    }
    return list;
}

ordered_json setup_json(const study::SensorSetup& setup) {
    return {{"mount", setup.specular ? "specular" : "diffuse"},
            {"tilt_deg", json_number(setup.tilt, degree)},
            {"displacement_mm", json_number(setup.displacement, mm)},
            {"clearance_mm", json_number(setup.clearance, mm)},
            {"settings", setup.settings}};
}

ordered_json pose_json(const study::JobPose& pose, const scenario::Job& job) {
    ordered_json json{{"part", valid_utf8(job.parts[pose.part].title)},
                      {"pose", pose.words},
                      {"displacement_mm", json_number(pose.displacement, mm)},
                      {"tilt_deg", {json_number(pose.tilt[0], degree), json_number(pose.tilt[1], degree)}}};
    if (!pose.outcome) {
        json["computed"] = false;
        return json;
    }
    const study::Outcome& outcome = *pose.outcome;
    json["computed"] = true;
    json["level"] = measure::name_of(outcome.level);
    json["expanded_uncertainty_um"] = json_number(outcome.expanded_uncertainty, um);
    json["valid_share"] = json_number(outcome.valid_share);
    json["peak_share"] = json_number(outcome.peak_share);
    json["response_ms"] = json_number(outcome.response, ms);
    json["largest"] = valid_utf8(outcome.largest);
    return json;
}

}  // namespace

ordered_json to_json(const study::RankedSensor& ranked, const scenario::Job& job) {
    ordered_json poses = ordered_json::array();
    for (const study::JobPose& pose : ranked.poses) poses.push_back(pose_json(pose, job));
    return {{"sensor", valid_utf8(ranked.sensor.name)},
            {"title", valid_utf8(ranked.sensor.title)},
            {"level", ranked.computed ? ordered_json(measure::name_of(ranked.level)) : ordered_json("ruled_out")},
            {"margin", ranked.margin > 0.0 ? json_number(ranked.margin) : ordered_json()},
            {"expanded_uncertainty_um", json_number(ranked.error, um)},
            {"valid_share", ranked.computed ? json_number(ranked.valid_share) : ordered_json()},
            {"response_ms", ranked.computed ? json_number(ranked.response, ms) : ordered_json()},
            {"largest", ranked.largest.empty() ? ordered_json() : ordered_json(valid_utf8(ranked.largest))},
            {"setup", setup_json(ranked.setup)},
            {"shortcomings", shortcomings_json(ranked.shortcomings)},
            {"ensemble", ranked.ensemble ? to_json(*ranked.ensemble, ranked.level) : ordered_json()},
            {"poses", poses}};
}

ordered_json to_json(const study::Shortlist& list, const scenario::Job& job) {
    ordered_json parts = ordered_json::array();
    for (const scenario::JobPart& part : job.parts) {
        parts.push_back({{"title", valid_utf8(part.title)},
                         {"material", valid_utf8(part.scenario.target.material)},
                         {"tolerance_um", json_number(part.scenario.requirement.tolerance, um)},
                         {"allowed_um", json_number(study::allowed_error(part.scenario.requirement), um)}});
    }
    ordered_json sensors = ordered_json::array();
    for (const study::RankedSensor& ranked : list.sensors) sensors.push_back(to_json(ranked, job));
    return {{"title", valid_utf8(job.title)},
            {"clearance_mm", {json_number(job.clearance[0], mm), json_number(job.clearance[1], mm)}},
            {"span_mm", json_number(job.span, mm)},
            {"parts", parts},
            {"sensors", sensors}};
}

}  // namespace spotwright::record
