// What the picture of a reading by time of flight says in words.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "sim/drawing/page.hpp"
#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::drawing {

/// Why a reading is what it is, in one sentence.
[[nodiscard]] std::string explanation(const sensor::FlightSetup& setup, const sensor::FlightPose& pose,
                                      const sensor::RawReading& reading);

/// Statistics and uncertainty of all readings.
[[nodiscard]] std::vector<Row> flight_reading_rows(const scenario::Scenario& scenario,
                                                   const measure::ReadResult& result);

/// Light of the part and what its distance is unambiguous over.
/// @param result  With `flight`.
[[nodiscard]] std::vector<Row> flight_light_rows(const sensor::FlightSetup& setup, const measure::ReadResult& result);

}  // namespace spotwright::drawing
