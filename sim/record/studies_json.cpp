#include "sim/record/studies_json.hpp"

#include "sim/base/units.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/json.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/text.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::um;
using nlohmann::ordered_json;

double percent_per(const scenario::Scenario& s, double length) {
    return 100.0 * length / (s.mount.range[1] - s.mount.range[0]);
}

ordered_json cause_json(const study::DriftCause& cause, const scenario::Scenario& s) {
    return {{"name", cause.name},
            {"near_um_per_K", json_number(cause.near, um)},
            {"here_um_per_K", json_number(cause.here, um)},
            {"far_um_per_K", json_number(cause.far, um)},
            {"here_percent_of_span_per_K", json_number(percent_per(s, cause.here))}};
}

ordered_json line_of(const study::BudgetLine& line) {
    return {{"name", line.component.name},
            {"kind", line.component.evaluation == study::Evaluation::a ? "A" : "B"},
            {"standard_uncertainty_um", json_number(line.component.standard_uncertainty, um)},
            {"degrees_of_freedom", json_number(line.component.degrees_of_freedom)},
            {"bias_um", json_number(line.bias, um)},
            {"basis", line.basis}};
}

ordered_json monte_carlo_json(const study::MonteCarlo& together) {
    return {{"trials", together.trials},
            {"without_result", together.without_result},
            {"mean_um", json_number(together.mean, um)},
            {"standard_uncertainty_um", json_number(together.standard_uncertainty, um)},
            {"shortest_interval_um", json_numbers(std::array{together.shortest.low, together.shortest.high}, um)},
            {"end_error_um", json_number(together.end_error, um)}};
}

ordered_json trial_json(const study::Trialled& trial) {
    ordered_json changes = ordered_json::array();
    for (const std::string& change : trial.changes) changes.push_back(valid_utf8(change));
    return {{"changes", changes},
            {"settings", trial.settings},
            {"cost", json_number(trial.total_cost)},
            {"speed_lost", json_number(trial.cost.speed)},
            {"range_lost", json_number(trial.cost.range)},
            {"parts_changed", trial.cost.parts},
            {"level", measure::name_of(trial.level)},
            {"expanded_uncertainty_um", json_number(trial.expanded_uncertainty, um)},
            {"valid_share", json_number(trial.valid_share)},
            {"obstacle", trial.obstacle.empty() ? ordered_json() : ordered_json(valid_utf8(trial.obstacle))}};
}

ordered_json trials_json(const std::vector<study::Trialled>& trials) {
    ordered_json list = ordered_json::array();
    for (const study::Trialled& trial : trials) list.push_back(trial_json(trial));
    return list;
}

}  // namespace

ordered_json to_json(const study::DriftStudy& study, const scenario::Scenario& s) {
    ordered_json causes = ordered_json::array();
    for (const study::DriftCause& cause : study.causes) causes.push_back(cause_json(cause, s));
    ordered_json path = ordered_json::array();
    for (const study::DriftPoint& point : study.path) {
        path.push_back({{"time_s", json_number(point.time)},
                        {"temperature_C", json_number(point.temperature - base::zero_celsius)},
                        {"error_um", json_number(point.error, um)},
                        {"after_reset_um", json_number(point.after_reset, um)}});
    }
    ordered_json resets = ordered_json::array();
    for (const study::ResetInterval& reset : study.resets) {
        resets.push_back({{"interval_s", json_number(reset.interval)},
                          {"rms_um", json_number(reset.rms, um)},
                          {"largest_um", json_number(reset.largest, um)}});
    }
    return {{"causes", causes}, {"path", path}, {"resets", resets}};
}

ordered_json to_json(const study::Budget& budget, const scenario::Scenario& s) {
    ordered_json lines = ordered_json::array();
    for (const study::BudgetLine& line : budget.lines) lines.push_back(line_of(line));
    return {{"title", valid_utf8(s.title)},
            {"contributions", lines},
            {"bias_um", json_number(budget.bias, um)},
            {"combined_um", json_number(budget.combined.standard_uncertainty, um)},
            {"degrees_of_freedom", json_number(budget.combined.degrees_of_freedom)},
            {"coverage_factor", json_number(budget.combined.coverage_factor)},
            {"expanded_um", json_number(budget.combined.expanded, um)},
            {"percent_of_span", json_number(percent_per(s, budget.combined.expanded))},
            {"error_bound_um", json_number(budget.error_bound, um)},
            {"monte_carlo", monte_carlo_json(budget.together)},
            {"disagreement_um", json_number(budget.disagreement, um)},
            {"agreement_tolerance_um", json_number(budget.tolerance, um)},
            {"agrees", budget.agrees},
            {"conclusive", budget.conclusive},
            {"valid_share", json_number(budget.valid_share)},
            {"verdict", to_json(budget.verdict, s)}};
}

ordered_json to_json(const study::Advice& advice, const scenario::Scenario& s) {
    ordered_json json{{"title", valid_utf8(s.title)},
                      {"summary", valid_utf8(advice.summary)},
                      {"as_it_is", trial_json(advice.as_it_is)},
                      {"reaching_stable", trials_json(advice.reaching)},
                      {"others", trials_json(advice.others)}};
    if (advice.ensemble) {
        const study::Trialled& judged = advice.reaching.empty() ? advice.as_it_is : advice.reaching.front();
        json["ensemble"] = to_json(*advice.ensemble, judged.level);
    }
    return json;
}

}  // namespace spotwright::record
