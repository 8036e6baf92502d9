// All sensors of a shelf on one sheet.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::drawing {

/// Sensors of two panels, as indices: those that reach less far first, each panel in ascending order of reach.
struct ShelfPanels {
    std::vector<std::size_t> near;
    std::vector<std::size_t> far;
    std::vector<std::size_t> left_out;  ///< for which there is no room on one sheet
};

/// The division at which sensors appear largest: the least sum of log(size of the panel / size of the sensor). Sizes go
/// from the back of the housing to the far end; of time of flight, which is drawn broken, no more than all others
/// have. At most `most_in_panel` in each; few sensors have one panel, `far`.
[[nodiscard]] ShelfPanels shelf_panels(std::span<const scenario::Scenario> sensors);
inline constexpr std::size_t most_in_panel = 16;

/// One self-contained SVG on a sheet of A4, landscape: housings with their fronts at one line, beams, measuring ranges
/// as bars with their distances, names, and spots to a scale of their own, in up to two panels of a stated scale.
/// @param sensors  Of `sensor::shelf`, at least one.
[[nodiscard]] std::string draw_shelf(std::span<const scenario::Scenario> sensors, const std::string& title);

}  // namespace spotwright::drawing
