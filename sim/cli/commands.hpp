// The commands of the program. Each returns its exit code and throws what the library throws.
#pragma once

#include "sim/cli/options.hpp"

namespace spotwright::cli {

int run_read(const Options& options);
int run_layout(const Options& options);
int run_budget(const Options& options);
int run_advise(const Options& options);
int run_materials(const Options& options);
int run_validate(const Options& options);

struct DemoOptions {
    std::string scenarios = "scenarios";
    std::string out = "demo";
    int threads = 0;
};

int run_demo(const DemoOptions& options);

}  // namespace spotwright::cli
