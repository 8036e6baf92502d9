// Labels, distances and angles of a drawn mounting.
#pragma once

#include "sim/drawing/mounting_sheet.hpp"

namespace spotwright::drawing {

/// Everything that is written at the mounting. The label column keeps within the area's height.
void draw_dimensions(const Sheet& sheet, const Box& area);

}  // namespace spotwright::drawing
