#include "bindings/web/engine/question.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include "bindings/web/engine/edit.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::web {

namespace {

[[noreturn]] void reject(const std::string& key, const std::string& message, const std::string& allowed) {
    base::SourceLocation place;
    place.file = "<page>";
    place.key = key;
    throw base::ScenarioError({{place, message, allowed, ""}});
}

std::string single_toml(const std::string& key, const Json& value) {
    if (value.is_string()) return scenario::toml_string(value.get<std::string>());
    if (value.is_boolean() || value.is_number_integer()) return value.dump();
    if (value.is_number_float()) {
        const std::string text = value.dump();
        return text == "null" ? "nan" : text;  // JSON has no word for what is not finite; the key's bounds reject it
    }
    reject(key, "no value that a key can have: " + value.dump(), "a number, text, or a list of them");
}

Json json_of(const toml::node& node) {
    if (const auto* text = node.as_string()) return text->get();
    if (const auto* whole = node.as_integer()) return whole->get();
    if (const auto* number = node.as_floating_point()) return number->get();
    if (const auto* flag = node.as_boolean()) return flag->get();
    const toml::array* array = node.as_array();
    if (array == nullptr) throw base::InternalError("no key has such a value");
    Json list = Json::array();
    for (const toml::node& entry : *array) list.push_back(json_of(entry));
    return list;
}

}  // namespace

std::string toml_of(const std::string& key, const Json& value) {
    if (!value.is_array()) return single_toml(key, value);
    constexpr std::size_t most_entries = 1000;  // no key takes as many
    if (value.size() > most_entries) reject(key, fmt::format("{} values", value.size()), "a few values");
    std::string text;
    for (const Json& entry : value) text += (text.empty() ? "" : ", ") + single_toml(key, entry);
    return "[" + text + "]";
}

Json value_json(const std::string& value) {
    const toml::table table = toml::parse("value = " + value);
    return json_of(*table.get("value"));
}

Written written_in(const Json& question) {
    Written written{text_in(question, "toml"), {}};
    const auto set = question.find("set");
    if (set == question.end() || set->is_null()) return written;
    if (!set->is_object()) reject("set", "no table of keys", "{ \"section.key\": value }");
    std::vector<std::string> removed;
    for (const auto& [key, value] : set->items()) {
        if (key.find('=') != std::string::npos) reject(key, "no key", "section.key");
        if (value.is_null()) {
            removed.push_back(key);
        } else {
            written.settings.push_back(key + "=" + toml_of(key, value));
        }
    }
    for (const std::string& key : removed) written.toml = without_key(written.toml, key).value_or(written.toml);
    return written;
}

scenario::Scenario scenario_in(const Json& question) {
    const Written written = written_in(question);
    return scenario::parse(written.toml, "scenario", written.settings);
}

std::int64_t whole_number(const Json& question, const std::string& name, std::int64_t otherwise, std::int64_t least,
                          std::int64_t most) {
    const auto found = question.find(name);
    if (found == question.end() || found->is_null()) return otherwise;
    const std::string allowed = fmt::format("a whole number from {} to {}", least, most);
    if (!found->is_number_integer()) reject(name, "no whole number: " + found->dump(), allowed);
    const auto number = found->get<std::int64_t>();
    if (number < least || number > most) reject(name, fmt::format("out of bounds: {}", number), allowed);
    return number;
}

bool yes_or_no(const Json& question, const std::string& name, bool otherwise) {
    const auto found = question.find(name);
    return found != question.end() && found->is_boolean() ? found->get<bool>() : otherwise;
}

std::string text_in(const Json& question, const std::string& name) {
    const auto found = question.find(name);
    if (found == question.end() || !found->is_string()) reject(name, "missing, or no text", "a text");
    return found->get<std::string>();
}

Json to_json(const std::vector<base::Problem>& problems) {
    Json list = Json::array();
    for (const base::Problem& problem : problems) {
        list.push_back({{"key", record::valid_utf8(problem.location.key)},
                        {"line", problem.location.line},
                        {"column", problem.location.column},
                        {"message", record::valid_utf8(problem.message)},
                        {"allowed", record::valid_utf8(problem.allowed)},
                        {"hint", record::valid_utf8(problem.hint)},
                        {"text", record::valid_utf8(base::describe(problem))}});
    }
    return list;
}

}  // namespace spotwright::web
