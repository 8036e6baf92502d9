#include "sim/cli/options.hpp"

#include <fmt/format.h>

#include <fcntl.h>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/signals.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::cli {

void add_json_option(CLI::App& command, Options& options) {
    command.add_flag("--json", options.json, "print one JSON object and nothing else");
}

CLI::Option* add_value_option(CLI::App& command, const char* name, std::string& value, const char* help,
                              const char* type) {
    return command.add_option(name, value, help)->type_name(type);
}

void add_threads_option(CLI::App& command, int& threads) {
    command.add_option("--threads", threads, "threads to use; 0: all cores")
        ->type_name("N")
        ->check(CLI::Range(0, base::most_threads));
    command
        .add_option_function<double>(
            "--time-limit", [](double seconds) { limit_time(seconds); },
            "end the run after SECONDS, as a signal would: unfinished files are removed")
        ->type_name("SECONDS")
        ->check(CLI::Range(0.001, 1e8));
}

void add_confine_option(CLI::App& command, bool& confine) {
    command.add_flag("--confine", confine,
                     "read no file that the scenario names outside its own folder and those below");
}

void add_progress_options(CLI::App& command, ProgressOptions& progress) {
    command.add_flag("--quiet", progress.quiet, "no progress on the terminal");
    const auto is_open = [](const std::string& text) {
        const auto descriptor = base::number_of(text);
        const bool open = descriptor && *descriptor >= 0.0 && *descriptor <= 65535.0 &&
                          ::fcntl(static_cast<int>(*descriptor), F_GETFD) >= 0;
        return open ? std::string() : "no open descriptor";
    };
    command.add_option("--progress-fd", progress.descriptor, "progress to descriptor N, one JSON object a line")
        ->type_name("N")
        ->check(CLI::Validator(is_open, ""));
}

scenario::FileReach reach_of(bool confine) {
    return confine ? scenario::FileReach::beside_or_below : scenario::FileReach::anywhere;
}

scenario::Scenario load_scenario(const Options& options) {
    return scenario::load(options.scenario, options.settings, reach_of(options.confine));
}

void reject_sensor(const char* key, const std::string& name, const std::vector<std::string>& names) {
    base::SourceLocation location;
    location.key = key;
    throw base::ScenarioError({{location, fmt::format("no such sensor: \"{}\"", printable(name)),
                                base::alternatives(names), base::did_you_mean(base::nearest_word(name, names))}});
}

void add_scenario_options(CLI::App& command, Options& options) {
    command.add_option("SCENARIO", options.scenario, "scenario file (TOML)")->required();
    command.add_option("--set", options.settings, "override a key, as in --set target.tilt_deg=[5,0]; repeatable")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    add_threads_option(command, options.threads);
    add_confine_option(command, options.confine);
    add_progress_options(command, options.progress);
    add_json_option(command, options);
}

}  // namespace spotwright::cli
