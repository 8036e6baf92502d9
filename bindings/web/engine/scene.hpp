// The mounting as points, from what the drawing of a layout is made of.
#pragma once

#include "bindings/web/engine/question.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::web {

/// `Scene` of bindings/web/page/engine.ts. @throws ScenarioError  As `sensor::layout_of`.
[[nodiscard]] Json scene_of(const scenario::Scenario& scenario);

}  // namespace spotwright::web
