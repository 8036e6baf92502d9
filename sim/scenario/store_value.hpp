// Values of keys: from TOML into a scenario, each checked by its type, bounds and words.
#pragma once

#include <string_view>
#include <vector>

#include <toml++/toml.h>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

/// Stores the value of a key, in SI units, and the location of it. A wrong value is not stored, but adds a problem.
void store_value(const Key& key, const toml::node& node, const base::SourceLocation& location, Scenario& scenario,
                 std::vector<base::Problem>& problems);

/// The same for one number of a key of several.
/// @param index  As written between the brackets of `key[0]`.
void store_element(const Key& key, std::string_view index, const toml::node& node, const base::SourceLocation& location,
                   Scenario& scenario, std::vector<base::Problem>& problems);

}  // namespace spotwright::scenario
