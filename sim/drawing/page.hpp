// What the pages of all drawings have in common: the sheet, its title, headings, and the foot of a drawing to scale.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/svg_canvas.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::drawing {

/// A4 landscape, in units of 1/96 inch.
inline constexpr double page_width = 1123.0;
inline constexpr double page_height = 794.0;
inline constexpr double page_margin = 36.0;
inline constexpr double page_lowest = page_height - 22.0;  ///< of small text

/// Between lines of small text. [page units]
inline constexpr double small_spacing = 13.5;

/// At most two lines, the second cut short with an ellipsis. @return Baseline of the next line. [page units]
double draw_title(Canvas& canvas, std::string_view title);

/// One line of grey text under the title, cut short with an ellipsis where it is too long.
void draw_caption(Canvas& canvas, std::string_view words, double baseline);

/// Bold words over a line as wide as the area. @return The line's place down the page. [page units]
double draw_heading(Canvas& canvas, const Box& area, std::string_view words);

/// Sentences in small text from a baseline at the area's top on, wrapped to its width.
/// @return Baseline of the next line. [page units]
double draw_sentences(Canvas& canvas, std::span<const std::string> sentences, const Box& area);

/// Height that sentences take at a width. [page units]
[[nodiscard]] double sentences_height(const std::vector<std::string>& sentences, double width);

/// Sentences as far as there is room for them, the first ones first.
[[nodiscard]] std::vector<std::string> sentences_with_room(const std::vector<std::string>& sentences, double width,
                                                           double height);

/// Sentences under a heading. @return Where the next heading may begin. [page units]
double draw_section(Canvas& canvas, const Box& area, const std::string& heading,
                    const std::vector<std::string>& sentences);

/// A mark whose shape shows the level of a verdict.
void draw_level_mark(Canvas& canvas, const Vector2& centre, measure::Level level);

/// A quantity in words and its value.
struct Row {
    std::string name;
    std::string value;
};

inline constexpr double row_spacing = 17.0;

/// Names at the area's left side, values ending at its right, below a heading's line.
/// @return Lowest place used. [page units]
double draw_rows(Canvas& canvas, std::span<const Row> rows, const Box& area, double top);

/// Under a mounting: the axes of the sensor's frame, a scale bar, as many whole remarks as fit. The area is 76 high.
/// @return The remarks that do not fit.
[[nodiscard]] std::vector<std::string> draw_foot(Canvas& canvas, const MountingNotes& notes, const Box& area);

/// The finished document.
[[nodiscard]] std::string page_of(const Canvas& canvas, std::string_view title);

}  // namespace spotwright::drawing
