// What the commands of the program answer: the same JSON, and the same sentences.
#pragma once

#include <string>

#include "bindings/web/engine/question.hpp"
#include "bindings/web/engine/shelf.hpp"

namespace spotwright::web {

/// `spotwright read --json`, with the verdict in words. @throws ScenarioError  As `measure::read`.
[[nodiscard]] Json read_answer(Shelf& shelf, const scenario::Scenario& scenario);

/// `spotwright budget --json`, likewise.
[[nodiscard]] Json budget_answer(Shelf& shelf, const scenario::Scenario& scenario);

/// `spotwright advise --json`, with the keys that each change sets.
/// @param seconds  After which nothing new is tried; 0: no limit. [s]
[[nodiscard]] Json advise_answer(const scenario::Scenario& scenario, double seconds);

/// `spotwright read --out FILE.svg`.
[[nodiscard]] std::string reading_picture(Shelf& shelf, const scenario::Scenario& scenario);

/// `spotwright read --out FILE.html`. @param date  ISO 8601.
[[nodiscard]] std::string report_page(Shelf& shelf, const scenario::Scenario& scenario, const std::string& date);

/// `spotwright read --out FILE.csv`. @param date  ISO 8601.
[[nodiscard]] std::string series_table(Shelf& shelf, const scenario::Scenario& scenario, const std::string& date);

}  // namespace spotwright::web
