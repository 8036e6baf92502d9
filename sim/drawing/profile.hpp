// One reading as a picture: what the array saw, what was made of it, and where the part stands.
#pragma once

#include <cstdint>
#include <string>

#include "sim/sensor/instrument.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::drawing {

/// One self-contained SVG on a sheet of A4, landscape: signal and expectation pixel by pixel, threshold, saturation,
/// peaks and the located position over a calibrated scale; under it the mounting to scale, the verdict with its
/// reasons, and the numbers of all readings. The same input gives the same text.
/// @param pose  Of the scenario's part before this instrument.
/// @param result  Of a series of this pose.
/// @param index  Of the reading, >= 0.
/// @throws DomainError  The index is negative.
[[nodiscard]] std::string draw_profile(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                       const measure::ReadResult& result, std::int64_t index = 0);

}  // namespace spotwright::drawing
