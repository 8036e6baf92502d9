// A small writer of DXF R12 in ASCII, the exchange format of CAD programs: lines, polylines, arcs, circles and texts.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include <Eigen/Core>

namespace spotwright::drawing {

enum class LineType { solid, dashed, chain };

/// A layer with what its entities look like.
struct DxfLayer {
    std::string name;  ///< capitals, digits and underscores
    int colour = 7;    ///< index of the format: 1 red, 3 green, 4 cyan, 5 blue, 7 black on white, 8 grey
    LineType line = LineType::solid;
};

/// Entities in drawing order. Lengths in millimetres, written to 1e-6 mm; angles anticlockwise from x. [deg]
class DxfDrawing {
public:
    explicit DxfDrawing(std::vector<DxfLayer> layers);

    void line(std::string_view layer, const Eigen::Vector2d& from, const Eigen::Vector2d& to);
    void polyline(std::string_view layer, std::span<const Eigen::Vector2d> points, bool closed = false);
    void circle(std::string_view layer, const Eigen::Vector2d& centre, double radius);
    /// Anticlockwise from one angle to the other.
    void arc(std::string_view layer, const Eigen::Vector2d& centre, double radius, double from_deg, double to_deg);
    /// One line of text, centred at or starting at the left end of its baseline. Letters beyond ASCII are written as
    /// \U+XXXX, as the format has it; those beyond U+FFFF as a question mark.
    void text(std::string_view layer, const Eigen::Vector2d& at, double height, std::string_view words,
              double turn_deg = 0.0, bool centred = false);

    /// The whole file.
    [[nodiscard]] std::string document() const;

private:
    void head(std::string_view type, std::string_view layer);
    void place(int code, const Eigen::Vector2d& at, bool counts = true);

    std::vector<DxfLayer> layers_;
    std::string entities_;
    Eigen::Vector2d low_ = Eigen::Vector2d::Constant(1e300);
    Eigen::Vector2d high_ = Eigen::Vector2d::Constant(-1e300);
};

}  // namespace spotwright::drawing
