#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/describe_studies.hpp"
#include "sim/cli/report.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::cli {

namespace {

// The result as asked for, and where the report went.
void show(const Options& options, const nlohmann::ordered_json& json, const std::string& text) {
    if (options.json) {
        fmt::print("{}\n", json.dump(2));
        return;
    }
    fmt::print("{}", text);
    if (!options.out.empty()) fmt::print("  {:<13}{}\n", "written", options.out);
}

int code_of(const Options& options, study::Level level) {
    return options.strict && level != study::Level::stable ? exit_not_stable : exit_done;
}

}  // namespace

int run_budget(const Options& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings);
    std::optional<ReadReport> report = open_report(options.out, s);
    const study::Sensor sensor = study::make_sensor(s, options.threads);
    study::Budget budget;
    {
        Progress progress("trials", options.quiet);
        study::BudgetOptions budget_options;
        budget_options.threads = options.threads;
        budget_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        budget = study::budget(sensor, budget_options);
    }
    if (report) {
        report->read_and_fill(sensor, options.threads);
        report->content().budget = budget;
        report->commit();
    }
    show(options, record::to_json(budget, s), describe(budget, s));
    return code_of(options, budget.verdict.level);
}

int run_advise(const Options& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings);
    std::optional<ReadReport> report = open_report(options.out, s);
    study::Advice advice;
    {
        Progress progress("changes", options.quiet);
        study::AdviceOptions advice_options;
        advice_options.threads = options.threads;
        advice_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        advice = study::advise(s, advice_options);
    }
    if (report) {
        const study::Sensor sensor = study::make_sensor(s, options.threads);
        report->read_and_fill(sensor, options.threads);
        report->add_budget(sensor, options.threads);
        report->content().advice = advice;
        report->commit();
    }
    show(options, record::to_json(advice, s), describe(advice, s));
    return code_of(options, advice.as_it_is.level);
}

}  // namespace spotwright::cli
