// Labels, distances and angles of a drawn mounting.
#pragma once

#include "sim/record/mounting_sheet.hpp"

namespace spotwright::record {

/// Everything that is written at the mounting. The label column keeps within the area's height.
void draw_dimensions(const Sheet& sheet, const Box& area);

}  // namespace spotwright::record
