// Values of keys, whatever their type: as written numbers or a word, and from one scenario to another.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

/// The numbers of a key as a file would write them; empty for a key that now holds a word or a text.
[[nodiscard]] std::vector<double> written_numbers(const Key& key, Scenario& scenario);

/// The word or text that a key holds; none for numbers.
[[nodiscard]] std::optional<std::string> written_word(const Key& key, Scenario& scenario);

/// Gives the key in `to` the value that it has in `from`.
void copy_value(const Key& key, Scenario& from, Scenario& to);

}  // namespace spotwright::scenario
