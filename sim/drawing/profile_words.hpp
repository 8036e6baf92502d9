// What the picture of a reading says in sentences.
#pragma once

#include <string>
#include <vector>

#include "sim/drawing/array_reading.hpp"
#include "sim/drawing/page.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::drawing {

/// `too dark`, `out of range`, ...
[[nodiscard]] std::string words_of(reading::Validity validity);

/// What was made of the chosen peak, in a few words: position and displacement, or what is wrong with it. Empty without
/// a chosen peak.
[[nodiscard]] std::string value_of(const ArrayReading& array);

/// Why no peak is chosen, in a few words. Empty where one is.
[[nodiscard]] std::string absence(const scenario::PeakChoice& choice, const ArrayReading& array);

/// Why this reading is what it is, in one sentence.
[[nodiscard]] std::string explanation(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                      const ArrayReading& array);

/// Where there are several peaks: how many, and place, displacement and height of the chosen and the highest ones.
[[nodiscard]] std::vector<std::string> list_of_peaks(const sensor::TriangulationSetup& setup,
                                                     const ArrayReading& array);

/// Signal, statistics and uncertainty of all readings.
[[nodiscard]] std::vector<Row> rows_of(const scenario::Scenario& scenario, const measure::ReadResult& result);

/// An uncertainty as it is printed: two significant digits. [m]
[[nodiscard]] std::string uncertainty_in_print(double uncertainty);

/// Mean and bias as they are printed, both rounded to the decimal place of the expanded uncertainty where there is one;
/// else to so many decimals of a millimetre. "none" where nothing was read.
[[nodiscard]] std::string mean_and_bias(const measure::ReadResult& result, int otherwise);

/// A reason of the verdict as a printed sentence: capital, stop, signs of micrometres and plus or minus, words.
[[nodiscard]] std::string in_print(std::string sentence);

}  // namespace spotwright::drawing
