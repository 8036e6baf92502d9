// What a scenario says, key by key, or what is wrong with it.
#pragma once

#include "bindings/web/engine/question.hpp"

namespace spotwright::web {

/// Every key with kind, unit, words and bounds; materials and sensors of the library.
[[nodiscard]] Json tables();

/// `Check` of bindings/web/page/engine.ts: problems are an answer here.
[[nodiscard]] Json check(const Json& question);

/// The text with the question's `set` written into it, and what is wrong with the new one. Where the text of a valid
/// scenario cannot be changed in its place, it is written anew, with every key.
/// @throws ScenarioError  The text is no TOML.
[[nodiscard]] Json edit(const Json& question);

}  // namespace spotwright::web
