// The ray model: light followed ray by ray at random, the judge of the spot model.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Equal parts into which the rays fall, each an independent image: what scatters between them tells the error of all.
inline constexpr std::int64_t ray_batches = 16;

struct RayOptions {
    std::int64_t rays = 1000000;  ///< rounded up to a multiple of `ray_batches`
    std::uint64_t seed = 1;
    int threads = 0;  ///< 0: all cores
    /// false: light ends after it has met the part once, and what lies behind a plate once, as in the spot model. What
    /// goes to and fro between the faces of a plate, or through a volume, is followed all the same.
    bool interreflection = true;
};

struct RayImage {
    Profile profile;
    std::vector<float> standard_error;  ///< of each pixel's rate. [1/s]
    std::vector<Profile> batches;       ///< the same image from each part of the rays by itself
};

/// The image of the beam's spot on a part, with light that the part throws on itself.
///
/// Rays start with the beam's own spread of position and angle, more of them where the row of pixels looks, their
/// weight kept true. Where one meets the part, the scattered light that goes straight to the receiver is counted at a
/// place of the aperture drawn at random, from the glossy lobe or from where the row looks; the mirror part where it
/// passes the aperture; both unless the part stands in the way. Then the ray goes on as one of them, drawn by their
/// shares, its weight kept true, until it leaves or dies by lot. What enters a plate or a volume is followed inside. No
/// cut-off of bounces: the expectation is exact. What a ray starts with is spread evenly within a batch (see
/// `RayPoints`), so that the error falls faster than that of independent rays; batches are independent. The same bits
/// whatever the thread count. Best with a power of two of rays a batch.
/// @param quantum_efficiency  [1]
[[nodiscard]] RayImage trace_rays(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                                  const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                                  const RayOptions& options);

/// The image from one of the equal parts of the rays by itself: an element of `RayImage::batches`.
/// @param batch  0 .. ray_batches - 1.
[[nodiscard]] Profile trace_batch(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                                  const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                                  const RayOptions& options, std::int64_t batch);

/// The image of these parts of the rays together, at least one. All of them in their order: what `trace_rays` gives.
[[nodiscard]] RayImage combined(std::vector<Profile> batches);

}  // namespace spotwright::receiver
