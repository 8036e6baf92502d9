// Light that a part throws on itself before it comes back: longer ways beside the straight one.
#pragma once

#include <cstdint>

#include "sim/flight/receive.hpp"

namespace spotwright::flight {

/// Adds to the straight light of a part the light that has met it more than once, by rays at random: in grooves and
/// corners it comes late, and what is timed reads too far. A ray goes on from each place as scattered or mirrored
/// light, drawn by their shares, until it leaves or dies by lot; wherever it is from the second place on, the light
/// that goes from there through the aperture is counted, unless the part stands in the way. Ways of less than 0.2 mm
/// difference are taken together. Speckle patterns count as those of the straight light. Parts that cannot hide from
/// themselves, plates among them, get their straight light back. Equation (flight.9).
/// @param straight  Of `receive`.  @param rays  Of which each follows one bounce after the other.
[[nodiscard]] Received with_thrown_light(Received straight, const TimedOptics& optics, const target::Part& part,
                                         const target::Surface& surface, std::int64_t rays, std::uint64_t seed);

}  // namespace spotwright::flight
