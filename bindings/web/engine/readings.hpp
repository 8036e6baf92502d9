// Single readings of a part, and what commands say of it.
#pragma once

#include "bindings/web/engine/question.hpp"
#include "bindings/web/engine/shelf.hpp"

namespace spotwright::web {

/// `Readings` of bindings/web/page/engine.ts. @param question  With `count`, `first` and `moved`.
/// Moved: each reading meets a pattern of its own by the fast model, of which the coherent one is the judge.
/// @throws ScenarioError  The sensor cannot be built, or a number is out of bounds.
[[nodiscard]] Answer readings_of(Shelf& shelf, const scenario::Scenario& scenario, const Json& question);

}  // namespace spotwright::web
