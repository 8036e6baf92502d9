// Pages of the documentation that are made from the program, so that they always agree with it.
#pragma once

#include <string>
#include <vector>

#include "sim/validation/experiments.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::record {

/// Table of published checks, in Markdown, one section per subject (the part of the id before the first dot); then the
/// experiments, and once more those of their results that do not agree.
[[nodiscard]] std::string validation_page(const std::vector<validation::Check>& checks,
                                          const std::vector<validation::Experiment>& experiments);

/// Every key of a scenario with unit, default, bounds and meaning, from the table of the reader.
[[nodiscard]] std::string scenario_page();

/// The library of materials with its values and their sources.
[[nodiscard]] std::string materials_page();

/// Dictionary of the fuzzer for scenario files: every section, key and word, one token in quotes on each line.
[[nodiscard]] std::string fuzz_dictionary();

}  // namespace spotwright::record
