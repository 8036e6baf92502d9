// Common options of the commands.
#pragma once

#include <CLI/CLI.hpp>

#include <cstdint>
#include <string>
#include <vector>

#include "sim/cli/terminal.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::cli {

struct Options {
    std::string scenario;
    std::vector<std::string> settings;
    std::vector<std::string> over;  ///< axes of a sweep
    std::string out;
    std::string sensor;  ///< one of the shelf
    std::string folder;  ///< of sensor files
    std::string averaging;
    std::string crossover;
    std::int64_t frames = 0;  ///< raw frames to keep
    int threads = 0;
    bool material_template = false;
    std::vector<std::string> materials;  ///< to be printed in full
    std::string like;                    ///< a word that materials are listed by
    bool all = false;
    double seconds = 0.0;  ///< limit of a search; 0: none
    bool drift = false;
    bool allan = false;
    bool linearity = false;
    bool json = false;
    bool strict = false;
    ProgressOptions progress;
    bool confine = false;  ///< files that the scenario names must stand beside or below it
};

/// Exit codes of the program.
inline constexpr int exit_done = 0;
inline constexpr int exit_not_stable = 1;
inline constexpr int exit_bad_input = 2;
inline constexpr int exit_not_written = 3;
inline constexpr int exit_defect = 4;
inline constexpr int exit_no_memory = 5;

/// Adds SCENARIO, --set, --confine, --threads, --json and options of progress to a command.
void add_scenario_options(CLI::App& command, Options& options);

/// Adds --json alone, for commands without a scenario.
void add_json_option(CLI::App& command, Options& options);

/// Adds an option with a value. @param type  The value's name in the help, such as FILE.
CLI::Option* add_value_option(CLI::App& command, const char* name, std::string& value, const char* help,
                              const char* type);

/// Adds --confine.
void add_confine_option(CLI::App& command, bool& confine);

/// Adds --quiet and --progress-fd.
void add_progress_options(CLI::App& command, ProgressOptions& progress);

/// The scenario of the command line. @throws IoError, ScenarioError  As `scenario::load`.
[[nodiscard]] scenario::Scenario load_scenario(const Options& options);

[[nodiscard]] scenario::FileReach reach_of(bool confine);

/// Adds --threads and --time-limit, which begins to count when the command line is read.
void add_threads_option(CLI::App& command, int& threads);

/// A sensor that a shelf does not have. @param key  Where it is named.  @param names  Those that it has.
/// @throws ScenarioError  Always.
[[noreturn]] void reject_sensor(const char* key, const std::string& name, const std::vector<std::string>& names);

}  // namespace spotwright::cli
