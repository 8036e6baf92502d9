#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/cli/describe_studies.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::cli {

int run_budget(const Options& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings);
    const study::Sensor sensor = study::make_sensor(s, options.threads);
    study::Budget budget;
    {
        Progress progress("trials", options.quiet);
        study::BudgetOptions budget_options;
        budget_options.threads = options.threads;
        budget_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        budget = study::budget(sensor, budget_options);
    }
    fmt::print("{}", options.json ? record::to_json(budget, s).dump(2) + "\n" : describe(budget, s));
    const bool stable = budget.verdict.level == study::Level::stable;
    return options.strict && !stable ? exit_not_stable : exit_done;
}

int run_advise(const Options& options) {
    const scenario::Scenario s = scenario::load(options.scenario, options.settings);
    study::Advice advice;
    {
        Progress progress("changes", options.quiet);
        study::AdviceOptions advice_options;
        advice_options.threads = options.threads;
        advice_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        advice = study::advise(s, advice_options);
    }
    fmt::print("{}", options.json ? record::to_json(advice, s).dump(2) + "\n" : describe(advice, s));
    const bool stable = advice.as_it_is.level == study::Level::stable;
    return options.strict && !stable ? exit_not_stable : exit_done;
}

}  // namespace spotwright::cli
