#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/bench/sheet_log.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/record/infer_json.hpp"
#include "sim/scenario/sheet.hpp"
#include "sim/study/infer.hpp"

namespace spotwright::cli {

namespace {

constexpr int digits = 4;

std::string number(double value) {
    return base::number_text(value, digits);
}

std::string spread_text(const study::Spread& spread, double unit = 1.0) {
    return fmt::format("{} to {}", number(spread.least / unit), number(spread.greatest / unit));
}

std::string sheet_table(const study::Inference& inference) {
    std::vector<std::vector<std::string>> rows{{"sheet", "stated", "best", "all sensors", ""}};
    std::string remarks;
    for (const study::SheetRow& row : inference.rows) {
        const std::string stated = row.stated ? fmt::format("{:.4g} to {:.4g}", (*row.stated)[0], (*row.stated)[1])
                                              : printable(row.stated_words);
        rows.push_back({row.name, stated, row.best ? number(*row.best) : row.best_words,
                        row.ensemble ? spread_text(*row.ensemble) : "", std::string(name_of(row.outcome))});
        if (!row.remark.empty()) remarks += fmt::format("  {}: {}\n", row.name, wrapped(row.remark, 4));
    }
    return table(rows) + "\n" + remarks;
}

std::string state_of(const study::SheetUnknown& unknown) {
    constexpr double narrow = 0.7;
    if (unknown.determined) return "determined";
    return unknown.narrowed && *unknown.narrowed < narrow ? "narrowed" : "open";
}

std::string unknowns_table(const study::Inference& inference) {
    std::vector<std::vector<std::string>> rows{{"parameter", "best", "all sensors", "", "from"}};
    for (const study::SheetUnknown& unknown : inference.unknowns) {
        rows.push_back({unknown.name, number(unknown.best), spread_text(unknown.ensemble), state_of(unknown),
                        unknown.determined ? unknown.from : ""});
    }
    return "\nWhat the sheet determines of the sensor\n" + table(rows);
}

std::string worth_text(const study::BenchWorth& worth) {
    const bool scatter = worth.statistic == "scatter";
    return fmt::format("{} of {} ({}), predicted {}{}: spread {} times its error", worth.statistic,
                       in_words(worth.task), name_of(worth.task),
                       spread_text(worth.predicted, scatter ? base::um : 1.0), scatter ? " um" : "",
                       base::number_text(worth.ratio, 2));
}

std::string bench_text(const study::Inference& inference) {
    if (inference.bench.empty()) return {};
    std::string text = "\nMeasurement at the bench that tells the sensors apart best\n";
    for (std::size_t i = 0; i < inference.bench.size(); ++i) {
        text += fmt::format("  {}. {}\n", i + 1, wrapped(worth_text(inference.bench[i]), 5));
    }
    return text;
}

std::string statistics_text(const study::BenchStatistics& statistics) {
    std::string text;
    if (statistics.scatter) text = "scatter " + base::length_text(*statistics.scatter, digits);
    if (statistics.signal) text += fmt::format("{}signal {}", text.empty() ? "" : ", ", number(*statistics.signal));
    return text;
}

std::string logs_text(const study::Inference& inference) {
    if (inference.logs.empty()) return {};
    std::string text = fmt::format("\nLogs leave {} sensors; {} fitted the sheet alone\n", inference.members.size(),
                                   inference.before_logs);
    for (const study::BenchVerdict& log : inference.logs) {
        text += fmt::format("  {}: {}; nearest sensor {}; contradicts {} sensors\n", name_of(log.measured.task),
                            statistics_text(log.measured.statistics), statistics_text(log.best), log.contradicted);
    }
    return text;
}

// `MEASUREMENT=FILE`.
study::BenchMeasured measured_of(const std::string& argument) {
    const std::size_t equals = argument.find('=');
    if (equals == std::string::npos) {
        static_cast<void>(study::bench_task(argument));  // whose name is wrong, too, says so
        base::SourceLocation place;
        place.key = "--log";
        throw base::ScenarioError({{place, "no file: " + printable(argument), "MEASUREMENT=FILE", ""}});
    }
    return bench::load_measured(argument.substr(0, equals), argument.substr(equals + 1));
}

std::string describe(const study::Inference& inference) {
    std::string text =
        fmt::format("{}\n{} sensors that fit the sheet, of {} looked at\n\n",
                    inference.sheet.title.empty() ? printable(inference.sheet.file) : printable(inference.sheet.title),
                    inference.members.size(), inference.candidates);
    if (!inference.unexplained.empty()) {
        std::vector<std::string> keys;
        for (const study::Unexplained& each : inference.unexplained)
            keys.emplace_back(key_of(inference.sheet, each.figure));
        text += wrapped(fmt::format("Not explained: {}. No sensor of the model has it; the sensors fit the rest of the "
                                    "sheet, and the remark below says by how much they miss it.",
                                    fmt::join(keys, ", ")),
                        0) +
                "\n\n";
    }
    return text + sheet_table(inference) + unknowns_table(inference) + bench_text(inference) + logs_text(inference);
}

}  // namespace

CLI::App* add_infer(CLI::App& app, InferOptions& options) {
    CLI::App* infer = app.add_subcommand("infer", "sensors that fit a data sheet, as a sensor file");
    infer->add_option("SHEET", options.sheet, "data sheet (TOML): see docs/guide/data-sheet.md")->required();
    infer->add_option("--out", options.out, "write the sensor and all that fit to FILE (.toml)")->type_name("FILE");
    add_force_option(*infer, options.force);
    infer->add_option("--seed", options.seed, "of what the sheet leaves open")->type_name("N");
    infer->add_option("--sensors", options.members, "how many sensors to find")
        ->type_name("N")
        ->check(CLI::Range(2, 256))
        ->capture_default_str();
    infer
        ->add_option(
            "--log", options.logs,
            "a log over time of the real sensor, by which to narrow: MEASUREMENT one of those that this command "
            "names; repeatable")
        ->type_name("MEASUREMENT=FILE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    add_threads_option(*infer, options.threads);
    add_progress_options(*infer, options.progress);
    infer->add_flag("--json", options.json, "print one JSON object and nothing else");
    return infer;
}

int run_infer(const InferOptions& options) {
    const scenario::Sheet sheet = scenario::load_sheet(options.sheet);
    std::optional<record::AtomicFile> file;
    if (!options.out.empty()) {
        static_cast<void>(record::checked_extension(options.out, {".toml"}));
        std::vector<std::filesystem::path> inputs{options.sheet};
        for (const std::string& log : options.logs) inputs.emplace_back(log.substr(log.find('=') + 1));
        record::keep_inputs(options.out, inputs);
        keep_existing(options.out, options.force);
        file.emplace(options.out);
    }
    study::InferOptions infer_options;
    infer_options.seed = options.seed;
    infer_options.members = options.members;
    infer_options.threads = options.threads;
    for (const std::string& log : options.logs) infer_options.logs.push_back(measured_of(log));
    study::Inference inference;
    {
        Progress progress("sensors", options.progress);
        infer_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        inference = study::infer(sheet, infer_options);
    }
    if (file) {
        file->write(study::sensor_file_text(inference));
        file->commit();
    }
    if (options.json) {
        print("{}\n", record::json_text(record::to_json(inference)));
        return exit_done;
    }
    print("{}", describe(inference));
    if (file) print("\n  {:<13}{}\n", "written", options.out);
    return exit_done;
}

}  // namespace spotwright::cli
