// Timed light followed ray by ray, from the emitter's waist to the detector: the judge of `flight::receive`.
#pragma once

#include <cstdint>
#include <optional>

#include "sim/flight/receive.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::test {

struct TimedRayOptions {
    std::int64_t rays = std::int64_t{1} << 16;
    std::uint64_t seed = 1;
    int threads = 1;
    double frequency = 0.0;  ///< of the modulation. [Hz]
    /// false: light ends after it has met the part once, and what lies behind a plate once; true: it goes on.
    bool interreflection = false;
};

/// A number and its standard error.
struct Measured {
    double value = 0.0;
    double error = 0.0;
};

/// What the detector takes. Ways count from the emitter's face, to the detector less the image distance.
struct TimedLight {
    Measured received;   ///< power on the detector. [W]
    Measured path;       ///< mean length of its ways. [m]
    Measured deviation;  ///< standard deviation of them. [m]
    /// Length of way by the phase of all light together at the frequency. [m]
    Measured phase_path;
    bool lit = false;  ///< without light there are no ways
};

/// Rays start at the beam's waist, where its light is in step across the whole cross-section, with the spreads of
/// position and angle of ISO 11146, and are followed by `receiver::RayFollower`. Each has the length of its own way:
/// straight to the part, on to the lens and through it to the place of the detector on which it falls
/// (`receiver::path_to_array`). More rays start where the detector looks, their weight kept true. Errors by 16
/// independent batches: of the mean, for all else by the jackknife. Shared with the spot model: shapes, surfaces,
/// plates' ways out and the place where the thin lens sends a ray; not its footprint, its lattices, its sums over
/// reflections of a plate, its random walk through a volume or its lengths of ways.
[[nodiscard]] TimedLight follow_timed_rays(const flight::TimedOptics& optics, const target::Part& part,
                                           const target::Surface& surface, const TimedRayOptions& options);

/// The same numbers of the spot model's light, without errors.
[[nodiscard]] TimedLight timed_light(const flight::TimedOptics& optics, const flight::Received& received,
                                     double frequency);

}  // namespace spotwright::test
