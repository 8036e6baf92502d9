// The light of one reading and what is made of it.
#pragma once

#include "bindings/web/engine/question.hpp"
#include "bindings/web/engine/shelf.hpp"

namespace spotwright::web {

/// `Look` of bindings/web/page/engine.ts.
/// @param question  With `preview`, `growing`, `index` and `patch`. @throws ScenarioError  The sensor cannot be built.
[[nodiscard]] Answer look_at(Shelf& shelf, const scenario::Scenario& scenario, const Json& question);

/// Of a sensor that times light.
[[nodiscard]] Answer look_at_timed(const TimedPose& pose, std::int64_t index);

/// What readings of all principles have: validity, why, truth, exposure.
[[nodiscard]] Json reading_json(const sensor::RawReading& reading, const std::string& why, double truth,
                                const detector::Timing& timing);

}  // namespace spotwright::web
