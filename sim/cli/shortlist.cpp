#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/json_text.hpp"
#include "sim/record/date.hpp"
#include "sim/record/shortlist_json.hpp"
#include "sim/report/shortlist_report.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/scenario/job.hpp"
#include "sim/sensor/summary.hpp"
#include "sim/study/shortlist.hpp"

namespace spotwright::cli {

namespace {

using base::degree, base::mm, base::ms;

std::string verdict_of(const study::RankedSensor& ranked) {
    return ranked.computed ? std::string(measure::name_of(ranked.level)) : "ruled out";
}

std::string margin_of(const study::RankedSensor& ranked) {
    return ranked.margin > 0.0 ? fmt::format("{:.2g}", ranked.margin) : "-";
}

std::string mount_of(const study::RankedSensor& ranked) {
    std::string words = ranked.setup.specular ? "specular" : "diffuse";
    if (ranked.setup.tilt != 0.0) words += fmt::format(" {:+.3g} deg", ranked.setup.tilt / degree);
    return words;
}

std::vector<std::string> row_of(const study::RankedSensor& ranked, std::size_t rank) {
    return {fmt::format("{}", rank),
            printable(ranked.sensor.name),
            verdict_of(ranked),
            margin_of(ranked),
            ranked.error ? base::uncertainty_text(*ranked.error) : "-",
            ranked.computed ? fmt::format("{:.3g}", ranked.response / ms) : "-",
            mount_of(ranked),
            ranked.setup.clearance > 0.0 ? fmt::format("{:.4g}", ranked.setup.clearance / mm) : "-"};
}

// "; stable for 21 of 32 sensors that fit the sheet, margin 0.4 to 1.7"; empty without an ensemble.
std::string ensemble_text(const study::RankedSensor& ranked) {
    if (!ranked.ensemble) return {};
    std::string text = "; " + in_words(*ranked.ensemble, ranked.level);
    const auto& errors = ranked.ensemble->expanded_uncertainty;
    if (!errors || !ranked.error) return text;
    const double allowed = ranked.margin * *ranked.error;
    return text + fmt::format(", margin {:.2g} to {:.2g}", allowed / errors->greatest, allowed / errors->least);
}

std::string why_of(const study::RankedSensor& ranked) {
    if (ranked.shortcomings.empty()) return "largest: " + ranked.largest + ensemble_text(ranked);
    std::string words;
    for (const study::Shortcoming& each : ranked.shortcomings) words += (words.empty() ? "" : "; ") + each.words;
    return words + ensemble_text(ranked);
}

std::string job_text(const scenario::Job& job) {
    return fmt::format(
        "{}\n  {} part{}, {:g} to {:g} mm in front of the sensor, over {:g} mm; margin: allowed over "
        "found error\n\n",
        printable(job.title), job.parts.size(), job.parts.size() == 1 ? "" : "s", job.clearance[0] / mm,
        job.clearance[1] / mm, job.span / mm);
}

std::string describe(const study::Shortlist& list, const scenario::Job& job) {
    std::vector<std::vector<std::string>> rows{
        {"", "sensor", "verdict", "margin", "error", "response ms", "mount", "clearance mm"}};
    std::string reasons;
    std::string ruled_out;
    for (std::size_t i = 0; i < list.sensors.size(); ++i) {
        const study::RankedSensor& ranked = list.sensors[i];
        if (!ranked.computed) {
            const std::string words =
                fmt::format("{} ({}): {}", printable(ranked.sensor.name), mount_of(ranked), why_of(ranked));
            ruled_out += fmt::format("  {:>2}. {}\n", i + 1, wrapped(words, 6));
            continue;
        }
        rows.push_back(row_of(ranked, i + 1));
        const std::string words = fmt::format("{}: {}", printable(ranked.sensor.name), why_of(ranked));
        reasons += fmt::format("  {:>2}. {}\n", i + 1, wrapped(words, 6));
    }
    std::string text = job_text(job);
    if (!reasons.empty()) text += table(rows) + "\n" + reasons;
    if (!ruled_out.empty()) text += (reasons.empty() ? "" : "\n") + ("ruled out, the nearest miss first\n" + ruled_out);
    return text;
}

std::string describe(const study::RankedSensor& ranked, const scenario::Job& job) {
    std::string text = job_text(job);
    text += table(
        {{"", "sensor", "verdict", "margin", "error", "response ms", "mount", "clearance mm"}, row_of(ranked, 1)});
    text += fmt::format("\n  {:<11}{}\n", "why", wrapped(why_of(ranked), 13));
    std::string settings;
    for (const std::string& setting : ranked.setup.settings) settings += fmt::format(" --set '{}'", setting);
    text += fmt::format("  {:<11}--set sensor={} --set 'mount.tilt_deg=[{:.4g}, 0]'{}\n", "settings",
                        printable(ranked.reference), ranked.setup.tilt / degree, settings);
    if (ranked.setup.tilt != 0.0) {
        text += fmt::format("  {:<11}multiply readings by {:.5f}: the sensor measures along its tilted beam\n", "scale",
                            std::cos(ranked.setup.tilt));
    }
    if (ranked.poses.empty()) return text;
    std::vector<std::vector<std::string>> rows{
        {"part", "pose", "verdict", "error", "valid %", "peak of full well", "largest"}};
    for (const study::JobPose& pose : ranked.poses) {
        const std::string title = printable(job.parts[pose.part].title);
        if (!pose.outcome) {
            rows.push_back({title, pose.words, "not computed", "-", "-", "-", ""});
            continue;
        }
        const study::Outcome& outcome = *pose.outcome;
        rows.push_back({title, pose.words, std::string(measure::name_of(outcome.level)),
                        outcome.expanded_uncertainty ? base::uncertainty_text(*outcome.expanded_uncertainty) : "-",
                        fmt::format("{:.4g}", 100.0 * outcome.valid_share), fmt::format("{:.3g}", outcome.peak_share),
                        outcome.largest});
    }
    return text + "\n" + table(rows);
}

std::vector<std::filesystem::path> inputs_of(const scenario::Job& job, const std::vector<scenario::Scenario>& shelf) {
    std::vector<std::filesystem::path> inputs{job.file};
    const auto add = [&inputs](const scenario::Scenario& s) {
        for (std::filesystem::path& file : scenario::input_files(s)) inputs.push_back(std::move(file));
    };
    for (const scenario::JobPart& part : job.parts) add(part.scenario);
    for (const scenario::Scenario& sensor : shelf) add(sensor);
    return inputs;
}

const scenario::Scenario& sensor_named(const std::string& name, const std::vector<scenario::Scenario>& shelf) {
    std::vector<std::string> names;
    for (const scenario::Scenario& s : shelf) {
        names.push_back(sensor::summary_of(s).name);
        if (names.back() == name) return s;
    }
    reject_sensor("--sensor", name, names);
}

}  // namespace

CLI::App* add_shortlist(CLI::App& app, Options& options) {
    CLI::App* command = app.add_subcommand("shortlist", "sensors of a shelf that suit a job, best first");
    command->add_option("JOB", options.scenario, "job file (TOML)")->required();
    add_value_option(*command, "--sensors", options.folder, "take the sensor files of FOLDER instead of the library",
                     "FOLDER");
    add_value_option(*command, "--sensor", options.sensor, "only this sensor, pose by pose", "SENSOR");
    add_value_option(*command, "--out", options.out, "write a comparison to hand on to FILE (.html)", "FILE");
    add_threads_option(*command, options.threads);
    add_confine_option(*command, options.confine);
    add_progress_options(*command, options.progress);
    add_json_option(*command, options);
    command->add_flag("--strict", options.strict, "exit with 1 unless a sensor reads all parts stably");
    return command;
}

int run_shortlist(const Options& options) {
    const scenario::Job job = scenario::load_job(options.scenario, reach_of(options.confine));
    std::vector<scenario::Scenario> shelf = sensor::shelf(options.folder);
    if (!options.sensor.empty()) shelf = {sensor_named(options.sensor, shelf)};
    std::optional<report::ShortlistReport> report;
    if (!options.out.empty()) record::keep_inputs(options.out, inputs_of(job, shelf));
    if (!options.out.empty()) report.emplace(options.out, job, record::current_date());
    study::Shortlist list;
    {
        Progress progress("sensors", options.progress);
        study::ShortlistOptions study_options;
        study_options.threads = options.threads;
        study_options.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        list = study::shortlist(job, shelf, study_options);
    }
    if (report) report->commit(list);
    const study::RankedSensor& first = list.sensors.front();
    if (options.json) {
        print("{}\n", record::json_text(record::to_json(list, job)));
    } else {
        print("{}", options.sensor.empty() ? describe(list, job) : describe(first, job));
        if (report) print("\n  {:<11}{}\n", "written", options.out);
    }
    const bool stable = first.computed && first.level == measure::Level::stable && first.shortcomings.empty();
    return options.strict && !stable ? exit_not_stable : exit_done;
}

}  // namespace spotwright::cli
