// The main job for time of flight: a series of readings of one part, and what the light of it was like.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "sim/sensor/flight_instrument.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::measure {

/// Reads the scenario's part `run.readings` times where it stands, and as often moved to another patch between
/// readings. Speckle is that of returned light (see `flight::speckled`): how bright the part is, and at which of its
/// depths; it has no closed form here.
[[nodiscard]] ReadResult read(const sensor::FlightSetup& setup, const ReadOptions& options);

}  // namespace spotwright::measure
