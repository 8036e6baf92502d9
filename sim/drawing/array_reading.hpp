// Analysis of one reading of the array: the values in its picture.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/reading/locate.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::drawing {

/// Arrays have one entry per pixel; signals are above background. [e]
struct ArrayReading {
    std::vector<float> net;                   ///< of this reading; what a saturated pixel shows is its `saturation`
    std::vector<std::uint8_t> saturated;      ///< 1 where the digit is the top one
    std::vector<float> expected;              ///< mean of a frame, without noise and saturation
    double threshold = 0.0;                   ///< smallest peak that counts. [e]
    double saturation = 0.0;                  ///< at which the middle pixel of all saturates. [e]
    double full_well = 0.0;                   ///< [e]
    double dark_deviation = 0.0;              ///< of a pixel without light. [e]
    std::vector<reading::LocatedPeak> peaks;  ///< numbered from the near end
    sensor::RawReading result;                ///< as a series records it
    std::optional<double> near_end;           ///< of the range, on the array. [px]
    std::optional<double> far_end;            ///< [px]
    std::optional<double> truth;              ///< where the calibration has the point that the beam lights. [px]
};

/// @param index  Of the reading, >= 0.
[[nodiscard]] ArrayReading analyse(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                   std::int64_t index);

/// The chosen peak; none where there is none.
[[nodiscard]] const reading::LocatedPeak* chosen_peak(const ArrayReading& array);

/// Where a peak stands: located, or the middle of its pixels where it cannot be. [px]
[[nodiscard]] double location_of(const reading::LocatedPeak& peak);

/// Pixels [first, last) of an array.
struct PixelWindow {
    std::int64_t first = 0;
    std::int64_t last = 0;
};

/// What is worth enlarging, from pixel 0 on: the surroundings of peaks, or of the brightest light where no peak is
/// found. At most three places; where there are more, that of the chosen peak and those of the highest. Empty where
/// the peaks fill much of the array or there is nothing to see: the whole array says all.
[[nodiscard]] std::vector<PixelWindow> windows_to_enlarge(const ArrayReading& array);

}  // namespace spotwright::drawing
