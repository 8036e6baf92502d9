// The spot model: the light of a pose on the pixels of the tilted array.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"
#include "sim/target/volume_walk.hpp"

namespace spotwright::receiver {

/// How exact an image is asked to be.
struct Tolerance {
    double light = 1e-3;     ///< error of the light on the row of pixels, over that light. [1]
    double centroid = 0.02;  ///< error of its centroid. [px]
    /// How many times fewer rays than suit the light an image begins with, and believes darkness of. [1]
    std::int64_t fewer_rays = 1;
};

/// For pictures that follow a moving hand: a hundredth of the light, and a fifth of a pixel.
inline constexpr Tolerance coarse{1e-2, 0.2, 8};

/// The image of the beam's spot on a part.
///
/// Each lit point sends f_r cos(theta_o) cos(theta_lens) dA / d^2 of its power through the aperture element dA; the
/// thin lens sends that ray to the array. The integral over footprint and aperture together is a lattice rule
/// (`Lattice`): a few thousand rays, each from a lit point of its own through a place of the aperture of its own. Of a
/// spot that is taller than the row of pixels most rays come from the strip that the row sees. Ray positions are
/// gathered on a grid of an eighth of a pixel, then spread by the aperture's diffraction pattern integrated over the
/// pixel. Diffraction is that of the focused aperture; with strong defocus the rays dominate and it hardly matters.
///
/// Light that the part itself hides from the receiver is left out; light that it throws on itself as well (see the ray
/// model). The mirror part of a glossy surface is carried ray by ray with the beam's own spread of position and angle,
/// so that its image is that of the mirrored waist and misses the aperture when the part turns it away. Clipping at the
/// rim is that of rays; the light that the rim itself diffracts is left out. Of a plate the front, back and first
/// further reflections are followed, and the light that a backing scatters or mirrors back through it once (see
/// inside.hpp); of a translucent part all orders of scatter (see volume_light.hpp).
///
/// Error: the rays fall into `lattice_parts` rules of their own; what scatters between these gives the error of light
/// and centroid. Where edges or a narrow lobe cut the light, a lattice of twice the places must confirm it, and the
/// difference counts. While the error is beyond the tolerance a source of light is followed again with more rays. Where
/// the most rays that anyone would wait for do not suffice, the image is the best that was reached and the profile
/// tells its error.
/// @param quantum_efficiency  [1]
/// @param walk  Of a translucent part, held from one image to the next; none: made where it is needed.
[[nodiscard]] Profile image(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                            const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                            const Tolerance& tolerance = {}, const target::CachedWalk* walk = nullptr);

/// The images of the same light moved along the array, as of a part that moves by so little that its image only shifts:
/// one image is followed and moved under the pixels. Light does not come in from beyond the array's ends.
/// @param shifts  Of the image. [m]
/// @return One for each shift.
[[nodiscard]] std::vector<Profile> images_moved(const emitter::Beam& beam, const target::Part& part,
                                                const target::Surface& surface, const Receiver& receiver,
                                                const EdgeSpread& edge_spread, double quantum_efficiency,
                                                std::span<const double> shifts, const Tolerance& tolerance = {},
                                                const target::CachedWalk* walk = nullptr);

}  // namespace spotwright::receiver
