#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/record/pages.hpp"
#include "sim/validation/experiments.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::cli {

namespace {

nlohmann::ordered_json to_json(const validation::Check& check) {
    return {{"id", check.id},
            {"claim", check.claim},
            {"source", check.source},
            {"unit", check.unit},
            {"relation", std::string(validation::symbol_of(check.relation))},
            {"expected", check.expected},
            {"got", check.got},
            {"tolerance", check.tolerance},
            {"why", check.why},
            {"pass", validation::passes(check)}};
}

std::string checks_table(const std::vector<validation::Check>& checks) {
    std::vector<std::vector<std::string>> rows{{"id", "expected", "got", "tolerance", "unit", "pass", "claim"}};
    for (const validation::Check& check : checks) {
        rows.push_back({check.id, fmt::format("{}{:.9g}", validation::symbol_of(check.relation), check.expected),
                        fmt::format("{:.9g}", check.got), fmt::format("{:.2g}", check.tolerance), check.unit,
                        validation::passes(check) ? "yes" : "NO", check.claim});
    }
    return table(rows);
}

nlohmann::ordered_json to_json(const validation::Experiment& experiment) {
    nlohmann::ordered_json results = nlohmann::ordered_json::array();
    for (const validation::ExperimentResult& result : experiment.results) {
        results.push_back({{"id", result.id},
                           {"quantity", result.quantity},
                           {"unit", result.unit},
                           {"published", result.published},
                           {"simulated", result.simulated},
                           {"tolerance", result.tolerance},
                           {"why", result.why},
                           {"agrees", validation::agrees(result)},
                           {"comment", result.comment}});
    }
    return {{"title", experiment.title},
            {"article", experiment.article},
            {"setup", experiment.setup},
            {"simulation", experiment.model},
            {"results", results}};
}

std::string experiments_table(const std::vector<validation::Experiment>& experiments) {
    std::vector<std::vector<std::string>> rows{
        {"experiment", "published", "simulated", "tolerance", "unit", "agrees", "quantity"}};
    for (const validation::Experiment& experiment : experiments) {
        for (const validation::ExperimentResult& result : experiment.results) {
            rows.push_back({result.id, fmt::format("{:.4g}", result.published), fmt::format("{:.4g}", result.simulated),
                            fmt::format("{:.2g}", result.tolerance), result.unit,
                            validation::agrees(result) ? "yes" : "no", result.quantity});
        }
    }
    return table(rows);
}

}  // namespace

int run_validate(const Options& options) {
    if (!options.out.empty()) static_cast<void>(record::checked_extension(options.out, {".md"}));
    const std::vector<validation::Check> checks = validation::published_checks(options.threads);
    const auto failed = std::count_if(checks.begin(), checks.end(),
                                      [](const validation::Check& check) { return !validation::passes(check); });
    const std::vector<validation::Experiment> experiments = validation::experiments(options.threads);
    if (!options.out.empty()) record::write_text_file(options.out, record::validation_page(checks, experiments));
    if (options.json) {
        nlohmann::ordered_json list = nlohmann::ordered_json::array();
        for (const validation::Check& check : checks) list.push_back(to_json(check));
        nlohmann::ordered_json measured = nlohmann::ordered_json::array();
        for (const validation::Experiment& experiment : experiments) measured.push_back(to_json(experiment));
        print("{}\n", record::json_text(
                          nlohmann::ordered_json{{"checks", list}, {"failed", failed}, {"experiments", measured}}));
    } else {
        print("{}\n{} checks, {} failed\n\n{}", checks_table(checks), checks.size(), failed,
              experiments_table(experiments));
    }
    return failed == 0 ? exit_done : exit_defect;
}

}  // namespace spotwright::cli
