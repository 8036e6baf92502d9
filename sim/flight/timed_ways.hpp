// The light of a spot on a round detector, told apart by the length of its way.
#pragma once

#include <vector>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::flight {

/// Light of one length of way.
struct Way {
    double path = 0.0;   ///< [m]
    double power = 0.0;  ///< > 0. [W]
};

/// Takes neighbouring lengths together, with their mean.
/// @param step  Within which lengths are taken together. [m]
/// @return By length.
[[nodiscard]] std::vector<Way> merged(std::vector<Way> ways, double step);

/// The same into at most so many.
[[nodiscard]] std::vector<Way> at_most(std::vector<Way> ways, std::size_t count);

/// Steps of 0.2 mm turn a phase at 1 GHz by 4 mrad; the spread within a step, up to 0.06 mm, is left out.
inline constexpr double path_step = 0.2e-3;

struct TimedWays {
    double collected_power = 0.0;  ///< through the aperture, after transmission. [W]
    double received_power = 0.0;   ///< of it, on the detector. [W]
    double mirrored_power = 0.0;   ///< of that, what has met nothing but mirrors. [W]
    std::vector<Way> ways;         ///< of the received light, by length, `path_step` apart
};

/// Follows the sources of light as the image of triangulation does, each with more and more rays until its light on the
/// detector is known to three thousandths and its mean way to 0.01 mm and three thousandths of the spread, by what
/// scatters between the parts of its lattice, or until no one would wait for more. What the rim of the detector, an
/// edge or a narrow lobe cuts must be confirmed by a lattice of twice the places.
/// @param radius  Of the detector. [m]
[[nodiscard]] TimedWays timed_ways(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                                   const receiver::Receiver& receiver, double radius);

}  // namespace spotwright::flight
