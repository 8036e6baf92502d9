// Files that a run reads, so that it does not write over them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Files that the keys of a scenario name and that exist: sensor, materials, relief, picture, paths.
[[nodiscard]] std::vector<std::filesystem::path> files_named_by(const Scenario& scenario);

/// The same, after the scenario's own file.
[[nodiscard]] std::vector<std::filesystem::path> input_files(const Scenario& scenario);

/// The file beside a scenario that a value names; empty where there is none. @param value  Without quotes.
[[nodiscard]] std::filesystem::path file_beside(const Scenario& scenario, const std::string& value);

/// Whether a file stands in the folder of the scenario or in a folder of it, links followed.
[[nodiscard]] bool stands_below(const Scenario& scenario, const std::filesystem::path& file);

/// The problem of a file that the scenario may not name (`Scenario::reach`); none: it may. The file is not looked at,
/// so that nobody learns whether it exists.
/// @param name  As the key has it.
[[nodiscard]] std::optional<base::Problem> refused_file(const Scenario& scenario, const base::SourceLocation& location,
                                                        const std::string& name);

/// Problems of a file that a scenario names. Where that file stands neither beside nor below the scenario, they tell
/// the place but not the content: a scenario of somebody else may name any file of whoever runs it.
[[nodiscard]] std::vector<base::Problem> shown_problems(const Scenario& scenario, const std::filesystem::path& file,
                                                        std::vector<base::Problem> problems);

}  // namespace spotwright::scenario
