// Sentences and rows of the picture of a reading.
#pragma once

#include <span>
#include <string>
#include <string_view>
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

/// Quantities of a reading by their names, with the labels and digits of the table of quantities.
/// @throws InternalError  There is no such quantity.
[[nodiscard]] std::vector<Row> quantity_rows(std::span<const std::string_view> names,
                                             const scenario::Scenario& scenario, const measure::ReadResult& result);

/// Signal, statistics and uncertainty of all readings.
[[nodiscard]] std::vector<Row> rows_of(const scenario::Scenario& scenario, const measure::ReadResult& result);

/// A reason of the verdict as a printed sentence: capital, stop, signs of micrometres and plus or minus, words.
[[nodiscard]] std::string in_print(std::string sentence);

}  // namespace spotwright::drawing
