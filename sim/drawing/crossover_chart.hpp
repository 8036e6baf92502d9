// Error against distance of triangulation and time of flight, as a chart.
#pragma once

#include <string>

#include "sim/scenario/scenario.hpp"
#include "sim/study/crossover.hpp"

namespace spotwright::drawing {

/// One self-contained SVG on a sheet of A4, landscape: expanded uncertainty over distance, both scales logarithmic, a
/// line with markers of its own shape for each sensor, the tolerance, and where the lines cross. Where a sensor does
/// not read, its marker stands struck out in a row above the chart, with a word why. The same input gives the same
/// text.
/// @param study  Of `crossover_study`, of this scenario; two distances at least.
[[nodiscard]] std::string draw_crossover(const scenario::Scenario& scenario, const study::CrossoverStudy& study);

}  // namespace spotwright::drawing
