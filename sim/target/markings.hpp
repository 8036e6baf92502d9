// What varies over a part's surface: which of two materials lies at a place, how bright it is, how it is grooved.
#pragma once

#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

#include <Eigen/Core>

#include "sim/scenario/scenario.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::target {

// Patterns, each in axes of its own. A soft border is `softness` wide: coverage rises evenly over it. [m]

/// Covered where x > 0.
struct Border {
    double softness = 0.0;
};

/// Bars along y, one of them in the middle; `width` of each period is covered.
struct Bars {
    double period = 1.0;
    double width = 0.5;
    double softness = 0.0;
};

/// Round dots on a square grid, one of them in the middle.
struct Dots {
    double period = 1.0;
    double radius = 0.25;
    double softness = 0.0;
};

/// Bars along x and bars along y.
struct Hatching {
    Bars bars;
};

/// A cloth of two threads that go over and under each other: squares like a chessboard's, two to a period.
struct Weave {
    double period = 1.0;
    double softness = 0.0;
};

/// Rings of wood cut lengthwise: lines along y that wander a little. Coverage rises evenly through each late wood and
/// ends at once.
struct Grain {
    double period = 1.0;
    double width = 0.5;  ///< of the late wood
};

/// One rectangle.
struct Patch {
    Eigen::Vector2d half_size{0.5, 0.5};
    double softness = 0.0;
};

/// A picture about the origin, bilinear between the middles of its pixels; beyond them it goes on as at the rim.
struct Picture {
    scenario::CoverageMap map;
    double pixel = 1.0;
};

/// All but one strip along y, from x to x, again after each run: what lies beside a segment of a moving part.
struct AllBut {
    double from = 0.0;
    double to = 1.0;
    double run = 2.0;
};

using Pattern = std::variant<Border, Bars, Dots, Hatching, Weave, Grain, Patch, Picture, AllBut>;

/// Share of the surface at a place that is covered, from 0 to 1.
/// @param place  In the pattern's axes. [m]
[[nodiscard]] double coverage(const Pattern& pattern, const Eigen::Vector2d& place);

/// Random brightness: 1 + deviation * sqrt(2 / K) * sum of K waves cos(k.x + phase), each component of k normally
/// distributed with deviation sqrt(2) / length. Its correlation is exp(-(distance / length)^2), the same everywhere.
/// Source: the random Fourier features of a Gaussian kernel, e.g. A. Rahimi, B. Recht, NIPS (2007), from memory.
struct Texture {
    double deviation = 0.0;  ///< [1]
    // Of each wave, side by side, for rays ask for all of them.
    std::vector<double> number_x;  ///< [1/m]
    std::vector<double> number_y;  ///< [1/m]
    std::vector<double> phase;     ///< [turns]
};

/// @param length  Of the correlation. [m]  @param seed  Another one, another surface.
[[nodiscard]] Texture make_texture(double deviation, double length, std::uint64_t seed);

/// Brightness at a place, over the mean; not below 0, within 1e-11 of the sum of cosines times the deviation. [1]
[[nodiscard]] double brightness(const Texture& texture, const Eigen::Vector2d& place);

/// Grooves of a round tool, side by side along x: height x^2 / (2 radius) from the bottom of the nearest groove, less
/// its mean, spacing^2 / (24 radius). From crest to bottom spacing^2 / (8 radius), as textbooks of turning have it.
struct FeedMarks {
    double spacing = 1.0;  ///< [m]
    double radius = 1.0;   ///< [m]
};

struct GrooveAt {
    double height = 0.0;  ///< [m]
    double slope = 0.0;   ///< dz / dx. [1]
};

[[nodiscard]] GrooveAt groove_at(const FeedMarks& marks, double x);

/// Axes in the reference surface: a turn about its normal, and an origin.
struct SurfaceAxes {
    double turn = 0.0;                 ///< of x from the part's x, towards its y. [rad]
    Eigen::Vector2d origin{0.0, 0.0};  ///< in the part's x and y. [m]

    [[nodiscard]] Eigen::Vector2d into(const Eigen::Vector2d& place) const;
};

struct Cover {
    Pattern pattern;
    SurfaceAxes axes;
    /// Of the second material; none: what is covered is left out, as if no light fell on it.
    std::optional<Surface> surface;
};

/// All that varies over the surface of a part.
struct Markings {
    Eigen::Matrix3d axes = Eigen::Matrix3d::Identity();  ///< columns x, y, z of the part in the sensor's frame
    Eigen::Vector3d origin = Eigen::Vector3d::Zero();    ///< the lit point of the reference surface. [m]
    std::optional<Cover> cover;
    std::optional<Texture> texture;
    Eigen::Vector2d texture_origin{0.0, 0.0};  ///< [m]
    std::optional<FeedMarks> feed_marks;
    SurfaceAxes feed_axes;
};

/// Which of the two materials.
enum class Zone { bare, covered };

/// How much of the light that falls on a place of the part meets the bare or the covering material, times the
/// brightness of the texture there. Places count by their projection onto the reference surface. [1]
/// @param place  In the sensor's frame. [m]
[[nodiscard]] double weight_at(const Markings& markings, Zone zone, const Eigen::Vector3d& place);

/// The share of the surface at a place that is of this material, without texture: what light from below can leave by.
[[nodiscard]] double share_at(const Markings& markings, Zone zone, const Eigen::Vector3d& place);

/// The part as the feed marks have left it at a place where light meets it.
struct GroovedPlace {
    Eigen::Vector3d place;   ///< [m]
    Eigen::Vector3d normal;  ///< unit
};

/// Moves a place of the smooth part along the ray to the height of its groove, and turns the normal by its slope. To
/// first order in the slope: grooves are shallow, and light meets each of them once.
/// @param to_light, normal  Unit.
[[nodiscard]] GroovedPlace on_feed_marks(const Markings& markings, const Eigen::Vector3d& place,
                                         const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal);

/// Of a target, its origin at the lit point of the reference surface; none where nothing varies.
/// @param axes  Of the part: columns x, y, z in the sensor's frame.
/// @param lay  Of a surface that covers, in the sensor's frame.
/// @throws DomainError  A property of the covering material is not known at the wavelength.
[[nodiscard]] std::optional<Markings> make_markings(const scenario::Target& target, const Eigen::Matrix3d& axes,
                                                    const Eigen::Vector3d& lit, const Eigen::Vector3d& lay,
                                                    double wavelength, std::uint64_t seed);

}  // namespace spotwright::target
