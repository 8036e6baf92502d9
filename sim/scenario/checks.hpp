// What no key can tell alone: values that contradict one another. Geometry that needs a formula is checked by the
// station that has it.
#pragma once

#include <initializer_list>
#include <span>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// True when none of the keys has a problem of its own, so that what they say together can be judged.
[[nodiscard]] bool are_sound(std::span<const base::Problem> problems, std::initializer_list<std::string_view> keys);

/// Adds the contradictions between sound keys of a scenario to its problems.
void check_together(const Scenario& scenario, std::vector<base::Problem>& problems);

}  // namespace spotwright::scenario
