#include "sim/record/pages.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/base/units.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::record {

namespace {

std::string row(const study::Check& check) {
    return fmt::format("| `{}` | {} | {}{:.9g} {} | {:.6g} | {:.2g} | {} | {} | {} |\n", check.id, check.claim,
                       study::symbol_of(check.relation), check.expected, check.unit, check.got, check.tolerance,
                       check.why, check.source, study::passes(check) ? "yes" : "**NO**");
}

std::string kind_of(const scenario::Key& key) {
    struct Kind {
        std::string operator()(const scenario::NumberKey&) const { return "number"; }
        std::string operator()(const scenario::NumberOrWordKey& k) const {
            return fmt::format("number or `{}`", k.word);
        }
        std::string operator()(const scenario::PairKey&) const { return "two numbers"; }
        std::string operator()(const scenario::IntegerKey&) const { return "whole number"; }
        std::string operator()(const scenario::TextKey&) const { return "text"; }
        std::string operator()(const scenario::WordKey& k) const {
            return fmt::format("`{}`", fmt::join(k.words, "` `"));
        }
        std::string operator()(const scenario::ChoiceKey&) const {
            return fmt::format("`{}` or an index", fmt::join(scenario::peak_rule_words(), "` `"));
        }
    };
    return std::visit(Kind{}, key.access);
}

}  // namespace

std::string scenario_page() {
    std::string text =
        "# Scenario files\n\n"
        "Made from the table of keys that the program reads with; a test keeps the two the same.\n\n"
        "A scenario is a TOML file with `schema = 1`. Every key has a default except `material` in `[target]`. The "
        "unit is\n"
        "in the name. An unknown key is an error. `--set section.key=value` overrides a key from the command line.\n"
        "Pairs are in-plane, out-of-plane, or near, far, or shortest, longest, as the meaning says.\n";
    const scenario::Scenario defaults;
    std::string_view section = "none";
    for (const scenario::Key& key : scenario::schema()) {
        if (key.section != section) {
            section = key.section;
            text +=
                fmt::format("\n## {}\n\n| key | default | kind | bounds | meaning |\n| --- | --- | --- | --- | --- |\n",
                            section.empty() ? "Top level" : fmt::format("[{}]", section));
        }
        text += fmt::format("| `{}` | `{}` | {} | {} | {} |\n", key.name, scenario::value_text(key, defaults),
                            kind_of(key), scenario::describe_limits(key), key.meaning);
    }
    return text;
}

std::string materials_page() {
    std::string text =
        "# Materials\n\n"
        "Made from `scenarios/materials`; a test keeps the two the same. Reflectance is linear between the "
        "wavelengths\n"
        "given and not known beyond them. A scenario may also name a material file of its own (`material = "
        "\"my.toml\"`).\n\n"
        "| name | description | wavelength nm: diffuse reflectance | slope deg | source of reflectance | source of "
        "slope |\n"
        "| --- | --- | --- | --- | --- | --- |\n";
    for (const std::string& name : scenario::material_names()) {
        const scenario::Material m = scenario::library_material(name);
        std::string values;
        for (std::size_t i = 0; i < m.reflectance.wavelength.size(); ++i) {
            values += fmt::format("{}{:g}: {:g}", i > 0 ? ", " : "", m.reflectance.wavelength[i] / base::nm,
                                  m.reflectance.value[i]);
        }
        text += fmt::format("| `{}` | {} | {} | {:g} | {} | {} |\n", name, m.title, values,
                            m.slope.deviation / base::degree, m.reflectance.source, m.slope.source);
    }
    return text;
}

std::string validation_page(const std::vector<study::Check>& checks) {
    const auto failed =
        std::count_if(checks.begin(), checks.end(), [](const study::Check& check) { return !study::passes(check); });
    std::string text = fmt::format(
        "# Validation\n\n"
        "Made by `spotwright validate --out docs/validation.md`; a test keeps the two the same. {} checks, {} "
        "failed.\n\n"
        "Each value under *got* comes from running the models, not from evaluating the formula of its source again.\n"
        "*Worked value*: computed for this project from the cited formula, independently of the program.\n",
        checks.size(), failed);
    std::string subject;
    for (const study::Check& check : checks) {
        const std::string its_subject = check.id.substr(0, check.id.find('.'));
        if (its_subject != subject) {
            subject = its_subject;
            text += fmt::format(
                "\n## {}\n\n| id | claim | expected | got | tolerance | why | source | pass |\n"
                "| --- | --- | --- | --- | --- | --- | --- | --- |\n",
                subject);
        }
        text += row(check);
    }
    return text;
}

}  // namespace spotwright::record
