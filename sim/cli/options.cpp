#include "sim/cli/options.hpp"

#include "sim/base/parallel.hpp"

namespace spotwright::cli {

void add_json_option(CLI::App& command, Options& options) {
    command.add_flag("--json", options.json, "print one JSON object and nothing else");
}

void add_scenario_options(CLI::App& command, Options& options) {
    command.add_option("SCENARIO", options.scenario, "scenario file (TOML)")->required();
    command.add_option("--set", options.settings, "override a key, as in --set target.tilt_deg=[5,0]; repeatable")
        ->type_name("KEY=VALUE")
        ->allow_extra_args(false)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
    command.add_option("--threads", options.threads, "threads to use; 0: all cores")
        ->type_name("N")
        ->check(CLI::Range(0, base::most_threads));
    command.add_flag("--quiet", options.quiet, "no progress on the terminal");
    add_json_option(command, options);
}

}  // namespace spotwright::cli
