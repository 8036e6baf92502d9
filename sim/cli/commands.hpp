// The commands of the program. Each returns its exit code and throws what the library throws.
#pragma once

#include "sim/cli/options.hpp"
#include "sim/bench/log.hpp"

namespace spotwright::cli {

int run_read(const Options& options);
int run_layout(const Options& options);
int run_budget(const Options& options);
int run_advise(const Options& options);
int run_materials(const Options& options);
int run_sensors(const Options& options);
int run_validate(const Options& options);
int run_sweep(const Options& options);

/// Adds the command `sweep` with its options.
CLI::App* add_sweep(CLI::App& app, Options& options);

int run_shortlist(const Options& options);

/// Adds the command `shortlist` with its options.
CLI::App* add_shortlist(CLI::App& app, Options& options);

struct DemoOptions {
    std::string scenarios = "scenarios";
    std::string out = "demo";
    int threads = 0;
};

int run_demo(const DemoOptions& options);

struct NewOptions {
    std::string title, sensor, material, shape, tolerance, mount, reference_distance, range,
        speed;  ///< empty: not decided
    std::vector<std::string> settings;
    std::string out;
    bool force = false;
    bool no_questions = false;
};

int run_new(NewOptions options);

/// Of commands that write TOML, which people go on to edit: a file that exists is kept. Call it before long work.
/// @throws ScenarioError  It exists, and no `--force`.
void keep_existing(const std::string& out, bool force);

/// Adds `--force`.
void add_force_option(CLI::App& command, bool& force);

/// Adds the command `new` with its options.
CLI::App* add_new(CLI::App& app, NewOptions& options);

struct BenchOptions {
    std::string log;
    std::string scenario;
    std::vector<std::string> settings;
    bool confine = false;
    bench::LogNames names;
    std::string simulate;
    int places = 0;  ///< of a linearity log to simulate; 0: a log over time
    int threads = 0;
    bool json = false;
};

int run_bench(const BenchOptions& options);

/// Adds the command `bench` with its options.
CLI::App* add_bench(CLI::App& app, BenchOptions& options);

struct InferOptions {
    std::string sheet;
    std::string out;
    bool force = false;
    std::vector<std::string> logs;  ///< MEASUREMENT=FILE
    std::uint64_t seed = 1;
    std::int64_t members = 32;
    int threads = 0;
    ProgressOptions progress;
    bool json = false;
};

int run_infer(const InferOptions& options);

/// Adds the command `infer` with its options.
CLI::App* add_infer(CLI::App& app, InferOptions& options);

}  // namespace spotwright::cli
