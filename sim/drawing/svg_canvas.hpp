// A small builder for drawings in SVG 1.1: lines, arcs, text, dimension lines. Page units, y downwards.
#pragma once

#include <array>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>

namespace spotwright::drawing {

using Vector2 = Eigen::Vector2d;

/// Restrained colours of our own. They differ in lightness too, and never carry a meaning alone.
namespace palette {
inline constexpr const char* ink = "#1c2430";
inline constexpr const char* grey = "#5d6673";
inline constexpr const char* faint = "#c3c9d1";
inline constexpr const char* paper = "#ffffff";
inline constexpr const char* glass = "#d9e4ea";
inline constexpr const char* housing = "#eceff2";
inline constexpr const char* beam = "#efb8a5";
inline constexpr const char* beam_edge = "#a63d26";
inline constexpr const char* light = "#fae5d6";
inline constexpr const char* near_end = "#17577a";
inline constexpr const char* far_end = "#77560c";
}  // namespace palette

/// Dash patterns that stay apart in a grey print.
namespace dash {
inline constexpr const char* solid = "";
inline constexpr const char* dashed = "9 4";
inline constexpr const char* chain = "16 3 2.5 3";
inline constexpr const char* dotted = "1.6 3.4";
}  // namespace dash

struct Pen {
    const char* colour = palette::ink;
    double width = 1.0;
    const char* dash = dash::solid;
};

enum class Anchor { start, middle, end };

inline constexpr double body_size = 12.0;   ///< text size; 9 pt on A4
inline constexpr double small_size = 10.5;  ///< 7.9 pt on A4
inline constexpr double heading_size = 13.0;
inline constexpr double title_size = 20.0;

struct TextStyle {
    double size = body_size;
    Anchor anchor = Anchor::start;
    bool bold = false;
    bool halo = false;      ///< white rim, for text that breaks a line
    double turn_deg = 0.0;  ///< clockwise on the page
    const char* colour = palette::ink;
};

struct Box {
    double left = 0.0;
    double top = 0.0;
    double right = 0.0;
    double bottom = 0.0;
};

/// What an element takes of the page.
struct Covered {
    std::vector<Vector2> line;
    bool area = false;  ///< all that the line goes around
};

/// Collects elements in drawing order.
class Canvas {
public:
    void line(const Vector2& from, const Vector2& to, const Pen& pen);
    /// @param id  Identifier of the element; none when empty.
    void polyline(std::span<const Vector2> points, const Pen& pen, std::string_view id = {});
    void polygon(std::span<const Vector2> points, const char* fill, const Pen& pen, std::string_view id = {});
    void circle(const Vector2& centre, double radius, const char* fill, const Pen& pen);
    /// Upright rectangles of one fill, as a single path, to a hundredth of a page unit.
    void rectangles(std::span<const Box> boxes, const char* fill, std::string_view id = {});
    /// Lens outline through two rim points, bulging to both sides of the line between them.
    void lens(const Vector2& rim, const Vector2& other_rim, const Vector2& bulge);
    /// Circle arc; angles from the upward direction of the page, clockwise. [rad]
    void arc(const Vector2& centre, double radius, double from, double to, const Pen& pen);
    /// Filled arrow head with its tip at a point.
    void arrow_head(const Vector2& tip, const Vector2& direction, const char* colour = palette::grey);
    /// Text is escaped. Its baseline starts, is centred or ends at the point.
    void text(const Vector2& at, std::string_view words, const TextStyle& style = {});
    /// Straight strokes of one pen, as a single path, to a hundredth of a page unit.
    void strokes(std::span<const std::array<Vector2, 2>> strokes, const Pen& pen);
    /// @param id  None when empty.  @param attributes  Written as they are.
    void open_group(std::string_view id, std::string_view attributes = {});
    /// Tooltip of the open group in a browser. Escaped.
    void title(std::string_view words);
    void close_group();

    /// The whole document, without fonts, scripts or links.
    /// @param size  Of the page, in page units. @param size_mm  The same on paper.
    [[nodiscard]] std::string document(const Vector2& size, const Vector2& size_mm, std::string_view title) const;

    /// An element without a sheet, to stand in a page of HTML, of as many page units as pixels.
    /// @param attributes  Of the element, written as they are.
    [[nodiscard]] std::string element(const Vector2& size, std::string_view attributes) const;

    /// Lines drawn so far; arcs and outlines of lenses as straight segments, widths of lines left out.
    [[nodiscard]] std::span<const Covered> covered() const { return covered_; }

private:
    std::string body_;
    std::vector<Covered> covered_;
};

/// A linear dimension: a line beside the measured one, with extension lines, arrows and the value in a gap.
struct Dimension {
    Vector2 from;
    Vector2 to;
    Vector2 offset;         ///< from the measured points to the dimension line
    double from_gap = 6.0;  ///< between a measured point and the start of its extension line
    double to_gap = 6.0;
    std::vector<double> crossed;  ///< shares of the length, from 0 to 1, where other lines cross: the value keeps clear
    std::vector<std::string> values;  ///< wordings, longest first: the longest with room is taken
};

/// How far past the end of a short dimension its value stands.
inline constexpr double past_end_of_dimension = 30.0;

/// Where no wording has room in the line the shortest stands past the `to` end. @return Top of the value. [page units]
double draw_dimension(Canvas& canvas, const Dimension& dimension);

/// Width of a text by a table of a common wide sans-serif font: an upper bound for most others. [page units]
[[nodiscard]] double text_width(std::string_view words, double size);

/// Lines no wider than `width`, broken at spaces; a word too long by itself is broken after a hyphen or else anywhere.
/// UTF-8 stays whole.
[[nodiscard]] std::vector<std::string> wrap(std::string_view words, double size, double width);

/// Text made fit for XML: markup characters as entities, control characters as spaces.
[[nodiscard]] std::string escape(std::string_view words);

/// A number for people: no exponent, `digits` significant digits, no trailing zeros, a true minus sign.
/// @throws InternalError  The value is not finite: such a value has no place in a drawing.
[[nodiscard]] std::string number(double value, int digits = 4);

/// The same with its sign, + included; 0 has none.
[[nodiscard]] std::string signed_number(double value, int digits = 4);

/// Thousands of a number's text apart by thin spaces, where it has five digits or more before its point.
[[nodiscard]] std::string apart_by_thousands(std::string number);

/// The least of 1, 2 and 5 times a power of ten that is no less than a size, but for rounding. @param size  > 0.
[[nodiscard]] double round_step(double size);

/// Places of labels along a line: as near as possible to where they are wanted, in the same order, none overlapping.
/// @param wanted  Wanted centres, ascending.  @param sizes  Of the labels, gaps included, as many as `wanted`.
/// @return Centres, from `low` on; past `high` only if there is not enough room.
[[nodiscard]] std::vector<double> spread(std::span<const double> wanted, std::span<const double> sizes, double low,
                                         double high);

}  // namespace spotwright::drawing
