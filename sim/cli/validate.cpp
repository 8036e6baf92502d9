#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "sim/cli/commands.hpp"
#include "sim/cli/terminal.hpp"
#include "sim/record/atomic_file.hpp"
#include "sim/record/pages.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::cli {

namespace {

nlohmann::ordered_json to_json(const validation::Check& check) {
    return {{"id", check.id},
            {"claim", check.claim},
            {"source", check.source},
            {"unit", check.unit},
            {"relation", std::string(validation::symbol_of(check.relation))},
            {"expected", check.expected},
            {"got", check.got},
            {"tolerance", check.tolerance},
            {"why", check.why},
            {"pass", validation::passes(check)}};
}

std::string checks_table(const std::vector<validation::Check>& checks) {
    std::vector<std::vector<std::string>> rows{{"id", "expected", "got", "tolerance", "unit", "pass", "claim"}};
    for (const validation::Check& check : checks) {
        rows.push_back({check.id, fmt::format("{}{:.9g}", validation::symbol_of(check.relation), check.expected),
                        fmt::format("{:.9g}", check.got), fmt::format("{:.2g}", check.tolerance), check.unit,
                        validation::passes(check) ? "yes" : "NO", check.claim});
    }
    return table(rows);
}

}  // namespace

int run_validate(const Options& options) {
    if (!options.out.empty()) static_cast<void>(record::checked_extension(options.out, {".md"}));
    const std::vector<validation::Check> checks = validation::published_checks(options.threads);
    const auto failed = std::count_if(checks.begin(), checks.end(),
                                      [](const validation::Check& check) { return !validation::passes(check); });
    if (!options.out.empty()) record::write_text_file(options.out, record::validation_page(checks));
    if (options.json) {
        nlohmann::ordered_json list = nlohmann::ordered_json::array();
        for (const validation::Check& check : checks) list.push_back(to_json(check));
        fmt::print("{}\n", nlohmann::ordered_json{{"checks", list}, {"failed", failed}}.dump(2));
    } else {
        fmt::print("{}\n{} checks, {} failed\n", checks_table(checks), checks.size(), failed);
    }
    return failed == 0 ? exit_done : exit_defect;
}

}  // namespace spotwright::cli
