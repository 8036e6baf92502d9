// Scales around the panels of a profile: electrons, pixels, calibrated displacement, and the names of the levels.
#pragma once

#include "sim/reading/calibration.hpp"
#include "sim/drawing/profile_panel.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::drawing {

/// Height that a row of numbers along a panel takes. [page units]
inline constexpr double axis_height = 19.0;

/// Between panels and what is written at their right side. [page units]
inline constexpr double names_gap = 16.0;

/// A number for people, of four significant digits, its thousands apart where it has five digits or more.
[[nodiscard]] std::string with_thousands(double value);

/// A count of electrons for people: four significant digits, thousands apart, with its unit.
[[nodiscard]] std::string electrons(double value);

/// Round values within [low, high], as few as `most` intervals allow, a step of 1, 2 or 5 times a power of ten apart.
[[nodiscard]] std::vector<double> round_values(double low, double high, double most);

/// Signal in electrons at the panel's left side. @param left  Where its name begins.
void draw_signal_axis(Canvas& canvas, const Panel& panel, const SignalRange& range, double left);

/// Pixel numbers under the panel.
void draw_pixel_axis(Canvas& canvas, const Panel& panel);

/// Displacement over the panel, as the calibration has it; ends of the range by name; the true place of the part.
void draw_displacement_axis(Canvas& canvas, const Panel& panel, const reading::Calibration& calibration,
                            const ArrayReading& array, const scenario::Mount& mount);

/// The mark of the true place of the part.
void draw_true_place(Canvas& canvas, const Vector2& at);

/// Names and values of threshold and saturation beside the panel.
/// @param right  Where their room ends.
void draw_level_names(Canvas& canvas, const Panel& panel, const ArrayReading& array, const SignalRange& range,
                      double right);

}  // namespace spotwright::drawing
