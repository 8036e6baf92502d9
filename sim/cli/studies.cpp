#include <fmt/format.h>

#include <chrono>
#include <optional>

#include "sim/cli/commands.hpp"
#include "sim/cli/describe_ensemble.hpp"
#include "sim/cli/describe_studies.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/date.hpp"
#include "sim/record/json_text.hpp"
#include "sim/report/read_report.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/record/studies_json.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::cli {

namespace {

// The result as asked for, and where the report went.
void show(const Options& options, const nlohmann::ordered_json& json, const std::string& text) {
    if (options.json) {
        print("{}\n", record::json_text(json));
        return;
    }
    print("{}", text);
    if (!options.out.empty()) print("  {:<13}{}\n", "written", options.out);
}

// What a study gives, its progress shown while it runs.
template <class StudyOptions, class Study>
auto with_progress(const Options& options, const char* what, const Study& study) {
    Progress progress(what, options.progress);
    StudyOptions study_options;
    study_options.threads = options.threads;
    study_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
    return study(study_options);
}

// None where no file is asked for.
std::optional<report::ReadReport> open_report(const Options& options, const scenario::Scenario& s) {
    if (options.out.empty()) return std::nullopt;
    return std::optional<report::ReadReport>(std::in_place, options.out, s, record::current_date());
}

}  // namespace

int run_budget(const Options& options) {
    const scenario::Scenario s = load_scenario(options);
    std::optional<report::ReadReport> report = open_report(options, s);
    const sensor::Setup setup = sensor::set_up(s, options.threads);
    const study::Budget budget = with_progress<study::BudgetOptions>(
        options, "trials", [&](const study::BudgetOptions& each) { return study::budget(setup, each); });
    const auto ensemble = ensemble_beside(s, study::EnsembleJudgement::budget, options);
    if (report) {
        report->content().budget = budget;
        report->content().ensemble = ensemble;
        report->read_and_fill(setup, options.threads);
        report->commit();
    }
    nlohmann::ordered_json json = record::to_json(budget, s);
    std::string text = describe(budget, s, ensemble);
    if (ensemble) {
        json["ensemble"] = record::to_json(*ensemble, budget.verdict.level);
        text += describe(*ensemble, budget.verdict.level);
    }
    show(options, json, text);
    return code_of(options, budget.verdict.level, ensemble);
}

int run_advise(const Options& options) {
    const scenario::Scenario s = load_scenario(options);
    std::optional<report::ReadReport> report = open_report(options, s);
    const auto begin = std::chrono::steady_clock::now();
    const study::Advice advice =
        with_progress<study::AdviceOptions>(options, "changes", [&](study::AdviceOptions& each) {
            each.seconds = options.seconds;
            each.elapsed = [begin] {
                return std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
            };
            return study::advise(s, each);
        });
    if (report) {
        const sensor::Setup setup = sensor::set_up(s, options.threads);
        report->add_budget(setup, options.threads);
        report->content().ensemble = ensemble_beside(
            s, report->content().budget ? study::EnsembleJudgement::budget : study::EnsembleJudgement::reading,
            options);
        report->read_and_fill(setup, options.threads);
        report->content().advice = advice;
        report->commit();
    }
    show(options, record::to_json(advice, s), describe(advice, s));
    return code_of(options, advice.as_it_is.level);
}

}  // namespace spotwright::cli
