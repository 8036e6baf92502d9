// Questions of the page and their answers: JSON, and arrays beside it.
#pragma once

#include <cstdint>
#include <string>
#include <variant>
#include <vector>

#include <nlohmann/json.hpp>

#include "sim/scenario/scenario.hpp"

namespace spotwright::web {

using Json = nlohmann::ordered_json;

/// An array of an answer, which the page finds as an entry of its JSON.
struct NamedArray {
    std::vector<std::string> path;  ///< of the entry: names from the outside in
    std::variant<std::vector<float>, std::vector<double>, std::vector<std::uint8_t>> values;
};

struct Answer {
    Json json;
    std::vector<NamedArray> arrays;
};

/// A text, and keys set over it.
struct Written {
    std::string toml;
    std::vector<std::string> settings;  ///< key=value, as `scenario::parse` takes them
};

/// Of a question's `toml` and `set`; keys that are set to null are taken out of the text.
/// @throws ScenarioError  A question without text, or a value that no key can have.
[[nodiscard]] Written written_in(const Json& question);

/// The scenario of a question. @throws ScenarioError  As `scenario::parse`.
[[nodiscard]] scenario::Scenario scenario_in(const Json& question);

/// A JSON value as TOML. @throws ScenarioError  One that no key can have.
[[nodiscard]] std::string toml_of(const std::string& key, const Json& value);

/// A TOML value text as JSON. @throws InternalError  It is no value.
[[nodiscard]] Json value_json(const std::string& value);

/// Whole number of a question. @throws ScenarioError  It is another kind of value or out of bounds.
[[nodiscard]] std::int64_t whole_number(const Json& question, const std::string& name, std::int64_t otherwise,
                                        std::int64_t least, std::int64_t most);

[[nodiscard]] bool yes_or_no(const Json& question, const std::string& name, bool otherwise);

/// @throws ScenarioError  It is missing, or no text.
[[nodiscard]] std::string text_in(const Json& question, const std::string& name);

[[nodiscard]] Json to_json(const std::vector<base::Problem>& problems);

}  // namespace spotwright::web
