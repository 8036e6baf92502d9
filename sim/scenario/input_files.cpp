#include "sim/scenario/input_files.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>
#include <utility>

#include "sim/base/words.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

namespace fs = std::filesystem;

fs::path file_beside(const Scenario& scenario, const std::string& value) {
    if (value.empty()) return {};
    fs::path file = fs::path(scenario.file).parent_path() / value;
    std::error_code status;
    return fs::is_regular_file(file, status) ? file : fs::path();
}

// Any text may be a file's name: what is no file beside the scenario drops out.
std::vector<fs::path> files_named_by(const Scenario& scenario) {
    std::vector<fs::path> files;
    const auto add = [&](const std::string& value) {
        if (fs::path file = file_beside(scenario, value); !file.empty()) files.push_back(std::move(file));
    };
    Scenario copy = scenario;  // accessors hand out references that may be written to
    for (const Key& key : schema()) {
        if (const auto* text = std::get_if<TextKey>(&key.access)) add(text->value(copy));
        if (const auto* list = std::get_if<TextListKey>(&key.access)) {
            for (const std::string& value : list->value(copy)) add(value);
        }
    }
    return files;
}

bool stands_below(const Scenario& scenario, const fs::path& file) {
    std::error_code status;
    const fs::path folder = fs::weakly_canonical(fs::absolute(scenario.file).parent_path(), status);
    if (status) return false;
    const fs::path place = fs::weakly_canonical(fs::absolute(file), status);
    return !status && std::mismatch(folder.begin(), folder.end(), place.begin(), place.end()).first == folder.end();
}

std::optional<base::Problem> refused_file(const Scenario& scenario, const base::SourceLocation& location,
                                          const std::string& name) {
    if (scenario.reach == FileReach::anywhere) return std::nullopt;
    if (stands_below(scenario, fs::path(scenario.file).parent_path() / name)) return std::nullopt;
    return base::Problem{location, base::printable(fmt::format("the scenario may not name this file: \"{}\"", name)),
                         "a file beside or below the scenario (--confine)", ""};
}

std::vector<base::Problem> shown_problems(const Scenario& scenario, const fs::path& file,
                                          std::vector<base::Problem> problems) {
    if (stands_below(scenario, file)) return problems;
    for (base::Problem& problem : problems) {
        problem.message = "not valid; its content is not shown, as it stands neither beside nor below the scenario";
        problem.location.source_line.clear();
        problem.location.key.clear();
        problem.hint.clear();
    }
    return problems;
}

std::vector<fs::path> input_files(const Scenario& scenario) {
    std::vector<fs::path> files = files_named_by(scenario);
    files.insert(files.begin(), fs::path(scenario.file));
    return files;
}

}  // namespace spotwright::scenario
