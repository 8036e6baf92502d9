// The speckled light on the array, before the pixels add it up, over a plot of what they make of it.
#pragma once

#include <array>
#include <optional>
#include <string>

#include "sim/receiver/coherent_speckle.hpp"
#include "sim/drawing/profile_panel.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::drawing {

/// From dark ink to bright paper.
inline constexpr int grey_levels = 16;

/// Light that is drawn as bright as paper, and all above it. [brightest mean]
inline constexpr double brightest_grey = 2.5;

/// Light at a place of the array, between the places of the image's grid by cubic interpolation (R. Keys, "Cubic
/// convolution interpolation for digital image processing", IEEE Trans. ASSP 29 (1981) 1153, a = -1/2); 0 outside.
/// @param values  `intensity` or `mean` of the image.  @param u, v  Array coordinates. [m]
[[nodiscard]] double light_at(const receiver::SpeckleImage& image, const Eigen::ArrayXXf& values, double u, double v);

/// Places across the array between which there is light, the pixels' height included where it is little more.
/// @return Least and greatest array coordinate. [m]
[[nodiscard]] std::array<double, 2> lit_height(const receiver::SpeckleImage& image, const scenario::Detector& detector);

/// Outline on the array where the mean over all patterns has half its maximum. [m]
[[nodiscard]] std::vector<Vector2> half_maximum(const receiver::SpeckleImage& image);

/// Interval of the array as an area of the page: pixels along it as in a panel, its own scale across it.
struct SpeckleStrip {
    Box box;
    double left = 0.0;    ///< pixel coordinate at the left side. [px]
    double right = 1.0;   ///< [px]
    double low = 0.0;     ///< array coordinate across the array at the lower side. [m]
    double high = 1.0;    ///< [m]
    double middle = 0.0;  ///< pixel coordinate of the array's centre. [px]
    double pitch = 1.0;   ///< [m]
    std::string name;     ///< that of the panel

    [[nodiscard]] double x(double pixel) const {
        return box.left + (pixel - left) / (right - left) * (box.right - box.left);
    }
    [[nodiscard]] double y(double v) const { return box.bottom - (v - low) / (high - low) * (box.bottom - box.top); }
    [[nodiscard]] double pixel_of(double u) const { return u / pitch + middle; }
    [[nodiscard]] double u_of(double pixel) const { return (pixel - middle) * pitch; }
};

/// Over the lit pixels of a panel; none where it shows none, or so small that grains cannot be seen.
/// @param grain  Size of a speckle along the array. [m]
[[nodiscard]] std::optional<SpeckleStrip> make_strip(const receiver::SpeckleImage& image, double grain,
                                                     const scenario::Detector& detector, const Panel& panel, double top,
                                                     double bottom);

/// Light in greys, borders of the pixels over it, the mean's outline, frame.
void draw_light(Canvas& canvas, const SpeckleStrip& strip, const receiver::SpeckleImage& image,
                const scenario::Detector& detector);

/// Scale across the array at the strip's left side; from `left` to `right` the meaning of greys, and a bar that tells
/// the scale along.
void draw_scales(Canvas& canvas, const SpeckleStrip& strip, double left, double right);

/// What there is to see, in a sentence or two.
[[nodiscard]] std::string speckle_caption(const sensor::SpeckleStatistics& speckle, const scenario::Detector& detector);

}  // namespace spotwright::drawing
