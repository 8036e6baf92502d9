// The mounting as a drawing to scale.
#pragma once

#include <string>

#include "sim/scenario/scenario.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::drawing {

/// One self-contained SVG on a sheet of A4, landscape: the plane of the mounting (x to the right, z up) to scale, with
/// dimensions in mm and degrees, the array enlarged, and the layout's numbers. The same input gives the same text.
/// @param layout  Of the same scenario.
[[nodiscard]] std::string draw_layout(const scenario::Scenario& scenario, const sensor::Layout& layout);

}  // namespace spotwright::drawing
