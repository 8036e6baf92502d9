// What varies over a part's surface: a pattern of a second material, a random texture, the marks of a turning tool.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/scenario/material.hpp"

namespace spotwright::scenario {

enum class PatternKind { none, border, bars, dots, hatching, weave, grain, patch, picture };

/// How much of the surface a picture covers, read from an image file: 1 where it is black, 0 where it is white.
struct CoverageMap {
    std::int64_t columns = 0;     ///< along the pattern's x
    std::int64_t rows = 0;        ///< the first is at the top, where y is largest
    std::vector<double> covered;  ///< row by row. [1]
};

/// A second material on a part's surface: a print, a label, a bare spot. Its axes lie in the reference surface.
struct Pattern {
    PatternKind kind = PatternKind::none;
    std::string material;                      ///< that covers; of the library, or a file beside the scenario
    double turn = 0.0;                         ///< of the pattern's x from the part's, towards its y. [rad]
    std::array<double, 2> position{0.0, 0.0};  ///< of its origin from the lit point, in the part's x and y. [m]
    double period = 0.5 * base::mm;            ///< bars, dots, hatching, weave, grain
    double share = 0.5;                        ///< of the surface that is covered, on the whole. [1]
    double softness = 0.0;                     ///< width over which coverage goes from none to all. [m]
    std::array<double, 2> size{0.5 * base::mm, 0.5 * base::mm};  ///< of a patch, in the pattern's x and y
    std::string file;                                            ///< of a picture: an image beside the scenario
    double pixel = 25.0 * base::um;                              ///< of the picture, on the part
    CoverageMap picture;                                         ///< read from the file
    std::optional<Material> covered_with;                        ///< found by its name; none without a pattern
};

/// Random brightness of the surface, normally distributed, its correlation exp(-(distance / length)^2).
struct Texture {
    double deviation = 0.0;            ///< standard deviation of the reflectance, over its mean; 0: none. [1]
    double length = 100.0 * base::um;  ///< correlation length
};

/// Grooves that a round tool leaves, side by side: as deep as spacing^2 / (8 radius).
struct FeedMarks {
    double spacing = 0.0;                 ///< feed of the tool; 0: no marks. [m]
    double tool_radius = 0.8 * base::mm;  ///< of its tip
    double turn = 0.0;                    ///< of the feed's direction from the part's x, towards its y. [rad]
    double position = 0.0;                ///< of the bottom of a groove from the lit point, along the feed. [m]
};

struct Target;

/// Whether brightness or slope of the part changes from place to place by a pattern, a texture or feed marks.
[[nodiscard]] bool has_markings(const Target& target);

/// Leaves the bare material, even and smooth.
void remove_markings(Target& target);

/// An image in the Netpbm format PGM, plain (P2) or binary (P5), of 8 or 16 bits.
/// Source: http://netpbm.sourceforge.net/doc/pgm.html, from memory.
/// @param file  Named in errors.
/// @throws ScenarioError  Not such an image, too large, or cut short.
[[nodiscard]] CoverageMap parse_picture(std::string_view bytes, const std::string& file);

/// The same from a file of at most 64 MiB. @throws IoError  It cannot be read.
[[nodiscard]] CoverageMap load_picture(const std::string& path);

}  // namespace spotwright::scenario
