#include <fmt/format.h>

#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/sweep_result.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/date.hpp"
#include "sim/record/json_text.hpp"
#include "sim/record/sweep_file.hpp"
#include "sim/record/text.hpp"
#include "sim/study/sweep.hpp"

namespace spotwright::cli {

namespace {

constexpr const char* sweep_footer =
    "A run that was cut off goes on when the same command is given again: see docs/guide/sweeps.md\n"
    "Examples:\n"
    "  spotwright sweep scenarios/01-white-tile.toml --over target.displacement_mm=-3:3:7\n"
    "  spotwright sweep scenarios/01-white-tile.toml --over target.material=white-ceramic,black-rubber \\\n"
    "      --over target.tilt_deg[0]=0:20:41 --set run.readings=500 --out sweep.h5";

// Reports all their errors together.
std::vector<study::SweepAxis> parsed_axes(const std::vector<std::string>& over) {
    std::vector<study::SweepAxis> axes;
    std::vector<base::Problem> problems;
    for (const std::string& text : over) {
        try {
            axes.push_back(study::parse_axis(text));
        } catch (const base::ScenarioError& error) {
            problems.insert(problems.end(), error.problems().begin(), error.problems().end());
        }
    }
    if (!problems.empty()) throw base::ScenarioError(std::move(problems));
    return axes;
}

void check_room_for_json(const Options& options, const study::Sweep& sweep) {
    if (!options.json || !options.out.empty() || sweep.points <= most_points_in_json) return;
    base::SourceLocation place;
    place.file = "<command line>";
    const std::string points = fmt::format("JSON does not hold {} points one by one", sweep.points);
    throw base::ScenarioError({{place, points, fmt::format("up to {}, or --out FILE", most_points_in_json), ""}});
}

// Reads what is not there yet; without a file the result takes each point as it comes.
void read_points(const Options& options, const study::Sweep& sweep, std::optional<record::SweepFile>& file,
                 SweepResult& result) {
    const std::int64_t before = file ? file->done() : 0;
    if (file && !file->set_aside().empty()) {
        print_error("the file of finished points is damaged: it is kept as {}, and the sweep begins anew\n",
                    file->set_aside().string());
    }
    if (before > 0 && !options.progress.quiet) {
        print_error("resuming: {} of {} points are done\n", before, sweep.points);
    }
    Progress progress("sweep", options.progress);
    std::int64_t done = before;
    study::SweepOptions sweep_options;
    sweep_options.threads = options.threads;
    if (before > 0) sweep_options.wanted = [&file](std::int64_t point) { return !file->has(point); };
    sweep_options.sink = [&](std::int64_t point, const study::SweepPoint& each) {
        if (file) {
            file->put(point, each);
        } else {
            result.add(point, each);
        }
        ++done;
    };
    sweep_options.progress = [&](std::int64_t, std::int64_t) { progress.show_points(done, sweep.points, before); };
    study::run_sweep(sweep, 0, sweep.points, sweep_options);
}

}  // namespace

CLI::App* add_sweep(CLI::App& app, Options& options) {
    CLI::App* sweep = app.add_subcommand("sweep", "readings over a grid of values of some keys");
    add_scenario_options(*sweep, options);
    sweep
        ->add_option("--over", options.over,
                     "a key and its values: KEY=START:STOP:COUNT, or KEY=VALUE,VALUE,...; repeatable")
        ->required()
        ->type_name("KEY=VALUES")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    sweep->add_option("--out", options.out, "write all points to FILE (.h5 with labelled axes, or .csv)")
        ->type_name("FILE");
    sweep->add_flag("--strict", options.strict, "exit with 1 unless all points are `stable`");
    sweep->footer(sweep_footer);
    return sweep;
}

int run_sweep(const Options& options) {
    const scenario::Scenario s = load_scenario(options);
    const study::Sweep sweep = study::make_sweep(s, parsed_axes(options.over));
    check_room_for_json(options, sweep);
    std::optional<record::SweepFile> file;
    if (!options.out.empty()) file.emplace(options.out, sweep, record::current_date());
    SweepResult result(sweep, options.json ? most_points_in_json : most_points_in_table);
    read_points(options, sweep, file, result);
    if (file) {
        for (std::int64_t point = 0; point < sweep.points; ++point) result.add(point, file->get(point));
        file->commit();
    }
    if (!s.sensor_file.ensemble.empty() && sweep.points <= study::most_ensemble_points) {
        Progress progress("sensors that fit the sheet", options.progress);
        study::EnsembleOptions each;
        each.threads = options.threads;
        each.progress = [&progress](std::int64_t done, std::int64_t all) { progress.show(done, all); };
        result.add(study::sweep_ensemble(sweep, each));
    }
    if (options.json) {
        nlohmann::ordered_json json = result.json();
        if (file) json["written"] = record::valid_utf8(options.out);
        print("{}\n", record::json_text(json));
    } else {
        print("{}", result.text());
        if (file) print("  {:<13}{}\n", "written", options.out);
    }
    return options.strict && !result.all_stable() ? exit_not_stable : exit_done;
}

}  // namespace spotwright::cli
