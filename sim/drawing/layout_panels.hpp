// What stands beside the drawn mounting: the enlarged array, the numbers, the legend.
#pragma once

#include "sim/drawing/mounting.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

/// Detail A: the array lying flat, lit from above, with the images of the three places of the range and of the part.
/// @param mounting_scale  Of the main drawing, to say how much larger this one is. [page units / m]
/// @param area  At least 330 wide; its top and sides are used.
/// @return Lowest place used. [page units]
double draw_array_detail(Canvas& canvas, const sensor::Layout& layout, const Mounting& mounting, double mounting_scale,
                         const Box& area);

/// @return Lowest place used. [page units]
double draw_numbers(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout, const Box& area);

/// Line styles. @return Lowest place used. [page units]
double draw_legend(Canvas& canvas, const Box& area);

/// Estimated laser class with its caution. @return Lowest place used. [page units]
double draw_laser_class(Canvas& canvas, const sensor::Layout& layout, const Box& area);

}  // namespace spotwright::drawing
