#include "sim/record/infer_json.hpp"

#include <fmt/format.h>

#include "sim/base/units.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/text.hpp"

namespace spotwright::record {

namespace {

using base::um;
using nlohmann::ordered_json;

ordered_json spread_json(const std::optional<study::Spread>& spread, double unit) {
    if (!spread) return nullptr;
    return ordered_json::array(
        {json_number(spread->least, unit), json_number(spread->median, unit), json_number(spread->greatest, unit)});
}

ordered_json row_json(const study::SheetRow& row) {
    ordered_json json{{"name", row.name}, {"outcome", study::name_of(row.outcome)}};
    json["stated"] = row.stated ? ordered_json{(*row.stated)[0], (*row.stated)[1]} : ordered_json();
    json["stated_words"] = row.stated_words;
    json["best"] = json_number(row.best);
    json["best_words"] = row.best_words;
    json["sensors"] = spread_json(row.ensemble, 1.0);
    json["remark"] = row.remark;
    return json;
}

ordered_json unknown_json(const study::SheetUnknown& unknown) {
    return {{"name", unknown.name},
            {"best", json_number(unknown.best)},
            {"sensors", spread_json(unknown.ensemble, 1.0)},
            {"determined", unknown.determined},
            {"narrowed_to", json_number(unknown.narrowed)},
            {"basis", unknown.from}};
}

double unit_of(const study::BenchWorth& worth) {
    return worth.statistic == "scatter" ? um : 1.0;
}

ordered_json worth_json(const study::BenchWorth& worth) {
    const std::string name = worth.statistic == "scatter" ? "scatter_um" : "signal_share";
    return {{"measurement", study::name_of(worth.task)},
            {"what", study::in_words(worth.task)},
            {"statistic", name},
            {"predicted", spread_json(worth.predicted, unit_of(worth))},
            {"spread_over_error", json_number(worth.ratio)}};
}

ordered_json statistics_json(const study::BenchStatistics& statistics) {
    return {{"scatter_um", json_number(statistics.scatter, um)}, {"signal_share", json_number(statistics.signal)}};
}

}  // namespace

ordered_json to_json(const study::EnsembleSpread& spread, measure::Level level) {
    ordered_json levels;
    for (std::size_t i = 0; i < spread.levels.size(); ++i) {
        levels[std::string(measure::name_of(static_cast<measure::Level>(i)))] = spread.levels.at(i);
    }
    return {{"members", spread.members},
            {"same_level", spread.at(level)},
            {"levels", levels},
            {"most_common_level", measure::name_of(study::most_common_level(spread))},
            {"bias_um", spread_json(spread.bias, um)},
            {"still_sd_um", spread_json(spread.scatter, um)},
            {"replaced_sd_um", spread_json(spread.replaced, um)},
            {"expanded_uncertainty_um", spread_json(spread.expanded_uncertainty, um)},
            {"hindered", spread.hindered},
            {"first_obstacle", spread.first_obstacle}};
}

ordered_json to_json(const study::Specimens& specimens, measure::Level level) {
    ordered_json json = to_json(specimens.spread, level);
    json["bias_sd_um"] = json_number(specimens.bias_deviation, um);
    return json;
}

ordered_json to_json(const study::Inference& inference) {
    ordered_json rows = ordered_json::array();
    for (const study::SheetRow& row : inference.rows) rows.push_back(row_json(row));
    ordered_json unknowns = ordered_json::array();
    for (const study::SheetUnknown& unknown : inference.unknowns) unknowns.push_back(unknown_json(unknown));
    ordered_json bench = ordered_json::array();
    for (const study::BenchWorth& worth : inference.bench) bench.push_back(worth_json(worth));
    ordered_json logs = ordered_json::array();
    for (const study::BenchVerdict& log : inference.logs) {
        logs.push_back({{"file", valid_utf8(log.measured.file)},
                        {"measurement", study::name_of(log.measured.task)},
                        {"measured", statistics_json(log.measured.statistics)},
                        {"best", statistics_json(log.best)},
                        {"contradicted", log.contradicted}});
    }
    return {{"title", valid_utf8(inference.sheet.title)},
            {"sensors", inference.members.size()},
            {"candidates", inference.candidates},
            {"sheet", rows},
            {"parameters", unknowns},
            {"measure_next", bench},
            {"logs", logs},
            {"before_logs", inference.before_logs}};
}

}  // namespace spotwright::record
