// The housing of the sensor in the drawing of its mounting: body, clearance, room.
#pragma once

#include <string>
#include <vector>

#include "sim/drawing/mounting_sheet.hpp"
#include "sim/drawing/page.hpp"

namespace spotwright::drawing {

/// Adds what the housing needs of the page. Where all of it would make the rest of the drawing much smaller, its depth
/// does not count, and it is to be broken.
/// @return Whether it is to be broken.
[[nodiscard]] bool add_housing_extents(const HousingOutline& housing, const Box& area, std::vector<Extent>& extents);

/// @param sheet  Its mounting has a housing, its view is final.
[[nodiscard]] HousingView view_housing(const Sheet& sheet, bool is_broken);

/// Body, break line and windows; all else is drawn over it.
void draw_housing(const Sheet& sheet);

/// A straight line across the page with a zigzag in its middle: more lies between two of them than is drawn.
void draw_break_line(Canvas& canvas, const Vector2& from, const Vector2& to);

/// Clearance, width and the height of the room needed, clear of all that is drawn already.
void draw_housing_dimensions(const Sheet& sheet, const Box& area);

/// Beside the beam within the housing, or left of a housing too narrow for it.
[[nodiscard]] EmitterLabel label_in_housing(const Sheet& sheet);

/// Of labels that may lie on lines of the housing: these break there.
[[nodiscard]] TextStyle label_style(const Sheet& sheet, Anchor anchor);

/// What does not fit, and what of the housing is not as it looks; empty without one.
[[nodiscard]] std::vector<std::string> housing_remarks(const Sheet& sheet);

/// Clearance and room in numbers; empty where the housing is not known.
[[nodiscard]] std::vector<Row> room_rows(const scenario::Scenario& scenario);

}  // namespace spotwright::drawing
