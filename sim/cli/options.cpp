#include "sim/cli/options.hpp"

#include <fmt/format.h>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/terminal.hpp"

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
    command.add_flag("--quiet", options.quiet, "no progress on the terminal");
    add_json_option(command, options);
}

}  // namespace spotwright::cli
