// What the pixels of the array leave as an error of a reading.
#pragma once

#include <optional>

#include "sim/sensor/instrument.hpp"

namespace spotwright::measure {

/// Standard deviation of the error that pixels leave between calibration points: pattern of response, and the phase of
/// the spot within a pixel. The image of the part is moved under the pixels over one spacing of the calibration, to
/// nine places; it is what the noiseless readings depart from a straight line. At a point of the calibration itself
/// this error vanishes, and a single place may lie on one. Light enough: that of `exposure.level`. [m]
/// @return none where fewer than three places can be read.
[[nodiscard]] std::optional<double> pixel_error(const sensor::TriangulationSetup& setup, double displacement);

/// By how much more a faint spot, of which few pixels pass the threshold, is uncertain: root of what the variance of
/// the error over a pixel, at nine phases of the spot, is larger at the light of the pose than with light enough. By
/// noiseless readings of the spot model. A single pixel makes it the pixel's width in displacement over sqrt(12): JCGM
/// 100:2008, 4.3.7. [m]
/// @param smooth  The pose without speckle.
/// @return none where more than four pixels pass, or the array's end is near.
/// Equation (study.5a).
[[nodiscard]] std::optional<double> faint_spot_error(const sensor::TriangulationSetup& setup,
                                                     const sensor::Pose& smooth, const sensor::Pose& pose);

}  // namespace spotwright::measure
