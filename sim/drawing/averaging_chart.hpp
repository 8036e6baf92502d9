// What averaging cures and what it does not, as a chart.
#pragma once

#include <span>
#include <string>

#include "sim/scenario/scenario.hpp"
#include "sim/study/averaging.hpp"

namespace spotwright::drawing {

/// One self-contained SVG on a sheet of A4, landscape: errors of a still and of a moved part, and of noise alone, over
/// the number of readings averaged, both scales logarithmic, with a guide of slope -1/2. The same input gives the same
/// text.
/// @param errors  Of `averaging_study`; empty where the part gives no valid outputs, which the sheet then says.
[[nodiscard]] std::string draw_averaging(const scenario::Scenario& scenario,
                                         std::span<const study::AveragedError> errors);

}  // namespace spotwright::drawing
