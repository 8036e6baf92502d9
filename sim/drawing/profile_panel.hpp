// A stretch of the array as a plot of signal against pixel: scales, and what is drawn within the frame.
#pragma once

#include <string>

#include "sim/drawing/array_reading.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

/// Pixel k reaches from k - 1/2 to k + 1/2.
struct Panel {
    Box box;            ///< frame of the plot on the page
    double left = 0.0;  ///< pixel coordinate at the frame's left side. [px]
    double right = 1.0;
    double bottom = 0.0;  ///< signal at the frame's lower side. [e]
    double top = 1.0;
    std::string name;  ///< unique part of its identifiers in the drawing

    [[nodiscard]] double x(double pixel) const {
        return box.left + (pixel - left) / (right - left) * (box.right - box.left);
    }
    [[nodiscard]] double y(double signal) const {
        return box.bottom - (signal - bottom) / (top - bottom) * (box.bottom - box.top);
    }
    [[nodiscard]] double units_per_pixel() const { return (box.right - box.left) / (right - left); }
};

/// Height above the signals that flags and the value of the reading take. [page units]
inline constexpr double flag_room = 20.0;
inline constexpr double value_room = 17.0;

/// Signals of a picture: the same for all of its panels. [e]
struct SignalRange {
    double low = 0.0;
    double high = 0.0;
    bool shows_saturation = false;  ///< whether the level of saturation lies within
};

/// Room for all pixels and the threshold; for saturation where the signal comes near it.
[[nodiscard]] SignalRange signal_range(const ArrayReading& array);

/// A panel of pixels [first, last) with `headroom` page units above the highest signal.
[[nodiscard]] Panel make_panel(const PixelWindow& window, const SignalRange& range, double headroom, const Box& box,
                               std::string name);

/// Everything within the frame but flags: expected and measured signal, levels, ends of the range, saturated pixels.
void draw_signals(Canvas& canvas, const Panel& panel, const ArrayReading& array, const SignalRange& range);

/// Line at the chosen peak's located position, and over the flags what was made of it where `words` is not empty.
/// @param middle_of_page  The words stand on this side of the peak.
void draw_chosen(Canvas& canvas, const Panel& panel, const ArrayReading& array, const std::string& words,
                 double middle_of_page);

/// Numbers of peaks above them: the chosen one's in a filled circle, rejected ones' in open circles. Where there are
/// many, the highest ones have flags.
/// @param centre  Of the row of flags, down the page.
void draw_flags(Canvas& canvas, const Panel& panel, const ArrayReading& array, double centre);

}  // namespace spotwright::drawing
