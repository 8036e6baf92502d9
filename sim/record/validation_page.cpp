#include "sim/record/validation_page.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace spotwright::record {

namespace {

std::string row(const study::Check& check) {
    return fmt::format("| `{}` | {} | {}{:.9g} {} | {:.6g} | {:.2g} | {} | {} | {} |\n", check.id, check.claim,
                       study::symbol_of(check.relation), check.expected, check.unit, check.got, check.tolerance,
                       check.why, check.source, study::passes(check) ? "yes" : "**NO**");
}

}  // namespace

std::string validation_page(const std::vector<study::Check>& checks) {
    const auto failed = std::count_if(checks.begin(), checks.end(),
                                      [](const study::Check& check) { return !study::passes(check); });
    std::string text = fmt::format(
        "# Validation\n\n"
        "Made by `spotwright validate --out docs/validation.md`; a test keeps the two the same. {} checks, {} failed.\n\n"
        "Each value under *got* comes from running the models, not from evaluating the formula of its source again.\n"
        "*Worked value*: computed for this project from the cited formula, independently of the program.\n",
        checks.size(), failed);
    std::string subject;
    for (const study::Check& check : checks) {
        const std::string its_subject = check.id.substr(0, check.id.find('.'));
        if (its_subject != subject) {
            subject = its_subject;
            text += fmt::format("\n## {}\n\n| id | claim | expected | got | tolerance | why | source | pass |\n"
                                "| --- | --- | --- | --- | --- | --- | --- | --- |\n",
                                subject);
        }
        text += row(check);
    }
    return text;
}

}  // namespace spotwright::record
