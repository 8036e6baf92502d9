// Light that a translucent part sends back from inside, as the receiver sees it.
#pragma once

#include <optional>
#include <span>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"
#include "sim/target/volume_walk.hpp"

namespace spotwright::receiver {

/// How a face is lit and seen, for which `target::walk_volume` is made: the same at all displacements of a part. None
/// where the beam misses the part.
[[nodiscard]] std::optional<target::WalkGeometry> walk_geometry(const emitter::Beam& beam, const target::Part& part,
                                                                const Receiver& receiver);

/// Collects the light that a translucent part sends back, all orders of scatter, from a walk of the refracted beam.
///
/// Each kept scatter is paired with a place of the beam's footprint, a place of the aperture and, where it stands for a
/// ring, an azimuth, by a lattice. Where the receiver sees a low strip of a wide glow, the place or the azimuth is
/// drawn so that light leaves near the strip, by a density that falls off to either side as diffraction does, with
/// weights that keep every sum true (balance heuristic: E. Veach, L. Guibas, SIGGRAPH (1995)). What leaves far beside
/// the strip is collected in one as `beside_the_array`, so that all light through the aperture is there. Distances from
/// where light came in are blurred by a tenth, which evens out the finite number of walks and keeps every mean.
/// @param zone  Of a part with markings: whose material the surface is. Light enters and leaves where that lies.
/// @param walk  For this volume and `walk_geometry`.
/// @param timed  Whether rays tell the length of their ways.
void gather_volume(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, std::span<const target::LastScatter> walk, const CollectBatch& collect,
                   target::Zone zone = target::Zone::bare, bool timed = false);

/// The same with a cached walk if it matches; otherwise one is made for this call.
void gather_volume(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, const target::CachedWalk* held, const CollectBatch& collect,
                   target::Zone zone = target::Zone::bare, bool timed = false);

}  // namespace spotwright::receiver
