// What the drawing of a mounting says about the shape of its part.
#pragma once

#include <string>
#include <vector>

#include "sim/drawing/mounting.hpp"

namespace spotwright::drawing {

/// Whether the part is a plane of its own thickness, drawn as a flat line.
[[nodiscard]] bool is_plain(const scenario::Scenario& scenario);

/// Lines of the part's label. @param with_detail  Refers to detail B.
[[nodiscard]] std::vector<std::string> part_lines(const scenario::Scenario& scenario, bool with_detail);

/// What is not as it looks: the part left out, hidden, or cut where its shape does not show.
[[nodiscard]] std::vector<std::string> part_remarks(const scenario::Scenario& scenario, const Mounting& mounting);

}  // namespace spotwright::drawing
