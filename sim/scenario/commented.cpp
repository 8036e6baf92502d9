#include "sim/scenario/commented.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"

namespace spotwright::scenario {

namespace {

// Prose of a comment, wrapped: `# ` at the head of each line.
std::string comment(std::string_view prose) {
    constexpr std::size_t width = 110;
    std::string text;
    while (!prose.empty()) {
        std::size_t length = std::min(width, prose.size());
        if (length < prose.size()) {
            if (const std::size_t blank = prose.rfind(' ', length); blank != std::string_view::npos) length = blank;
        }
        text += fmt::format("# {}\n", prose.substr(0, length));
        prose.remove_prefix(length);
        prose.remove_prefix(std::min(prose.find_first_not_of(' '), prose.size()));
    }
    return text;
}

std::string words_of(const Key& key) {
    const auto* words = std::get_if<WordKey>(&key.access);
    return words == nullptr ? std::string() : fmt::format("{}", fmt::join(words->words, ", "));
}

std::string meaning_of(const Key& key) {
    std::string text(key.meaning);
    for (const std::string& allowed : {describe_limits(key), words_of(key)}) {
        if (!allowed.empty()) text += fmt::format(" [{}]", allowed);
    }
    return text;
}

// A section that says nothing about this scenario.
bool is_of_another(std::string_view section, const Scenario& scenario) {
    if (section == "flight") return !abilities_of(scenario.principle).timing;
    constexpr std::string_view of_target = "target.";
    if (!section.starts_with(of_target)) return false;
    const Key* shape = nullptr;
    for (const Key& key : schema()) {
        if (key.section == "target" && key.name == "shape") shape = &key;
    }
    const auto& words = std::get<WordKey>(shape->access).words;
    const std::string_view name = section.substr(of_target.size());
    const bool is_shape = std::find(words.begin(), words.end(), name) != words.end();
    return is_shape && name != word_of(scenario, "target.shape");
}

// What the maker of the scenario's sensor has fixed.
bool is_fixed_by_sensor(const Key& key, const Scenario& scenario) {
    if (scenario.sensor.empty() || !belongs_to_sensor(key) || free_to_user(key)) return false;
    return offer_of(scenario, dotted(key)) == nullptr;
}

}  // namespace

std::string commented_toml(const Scenario& scenario, const DecidedKeys& decided) {
    const auto has_decided = [&decided](std::string_view section) {
        return std::any_of(schema().begin(), schema().end(),
                           [&](const Key& key) { return key.section == section && decided.contains(dotted(key)); });
    };
    std::string text = comment(
                           "A scenario of Spotwright. Keys without # are decided; a key behind # has this value by "
                           "default, or by the decided ones: take the # away and change it.") +
                       "schema = 1\n";
    std::string_view section;
    for (const Key& key : schema()) {
        if (is_of_another(key.section, scenario) && !has_decided(key.section)) continue;
        if (is_fixed_by_sensor(key, scenario) && !decided.contains(dotted(key))) continue;
        if (key.section != section) {
            section = key.section;
            text += fmt::format("\n[{}]\n", section);
        }
        text += comment(meaning_of(key));
        if (const auto found = decided.find(dotted(key)); found != decided.end()) {
            if (!found->second.empty()) text += comment(found->second);
            text += fmt::format("{} = {}\n", key.name, value_text(key, scenario));
        } else {
            text += fmt::format("#{} = {}\n", key.name, value_text(key, scenario));
        }
    }
    return text;
}

}  // namespace spotwright::scenario
