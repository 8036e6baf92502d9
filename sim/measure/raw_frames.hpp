// Raw frames of the first readings: what the array gave before anything was evaluated.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/detector/array.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::measure {

struct RawFrames {
    std::int64_t pixels = 0;
    std::vector<std::uint16_t> digits;  ///< frame after frame, from that of reading 0 on. [DN]
    detector::Digitiser digitiser;
};

/// @throws ScenarioError  The sensor has no array, the part moves, or so many frames are more than the readings or
///   2 GiB: with the place and what is allowed.
void require_raw_frames(const scenario::Scenario& scenario, std::int64_t count);

/// The frames that `read` evaluated. @param result  Of `read` with the same setup. @param count  See
/// `require_raw_frames`.
[[nodiscard]] RawFrames raw_frames(const sensor::Setup& setup, const ReadResult& result, std::int64_t count,
                                   int threads);

}  // namespace spotwright::measure
