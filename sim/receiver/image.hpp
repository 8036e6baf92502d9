// The spot model: quadrature over beam footprint and lens aperture, onto the pixels of the tilted array.
#pragma once

#include <optional>
#include <vector>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/gather.hpp"
#include "sim/target/footprint.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::receiver {

/// Sampling of the quadrature. The finest structure of the image is the diffraction line spread, which passes nothing
/// finer than lambda N; nodes 0.7 of that apart leave out next to nothing.
struct Sampling {
    target::BeamSampling beam;
    ApertureSampling aperture;
    target::BeamSampling mirrored_beam{32, 12, 24, 12};  ///< of light that goes on as from a mirror
};

/// Sampling that resolves diffraction, footprint, defocus and glossy lobe of this pose.
[[nodiscard]] Sampling choose_sampling(const emitter::Beam& beam, const target::Part& part,
                                       const target::Surface& surface, const Receiver& receiver);

/// Follows the light of the beam's spot on a part to the plane of the array.
///
/// Each lit point sends f_r cos(theta_o) cos(theta_lens) dA / d^2 of its power through the aperture element dA; the
/// thin lens sends that ray to the array. Ray positions are gathered on a grid of an eighth of a pixel, sharing each
/// ray linearly between neighbours (the centroid is kept exactly), then spread by the aperture's line spread integrated
/// over the pixel. Out of plane the same spread gives the share that falls within the pixel height.
/// Diffraction is that of the focused aperture; with strong defocus the rays dominate and it hardly matters.
///
/// Light that the part itself hides from the receiver is left out; light that it throws on itself as well (see the ray
/// model).
///
/// The mirror part of a glossy surface is carried ray by ray with the beam's own spread of position and angle, so that
/// its image is that of the mirrored waist and misses the aperture when the part turns it away. Clipping at the rim is
/// that of rays; the light that the rim itself diffracts is left out, and so is the haze of an interface that scatters
/// less than half a percent of what it mirrors.
///
/// Of a plate the front, back and first further reflections are followed, and the light that a backing scatters or
/// mirrors back through it once (see inside.hpp); of a translucent part all orders of scatter (see
/// volume_light.hpp).
void collect_light(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, const Sampling& sampling, const Collect& collect);

/// The image of that light. Ray positions are gathered on a grid of an eighth of a pixel, sharing each ray linearly
/// between neighbours (the centroid is kept exactly), then spread by the aperture's line spread integrated over the
/// pixel. Out of plane the same spread gives the share that falls within the pixel height. Diffraction is that of the
/// focused aperture; with strong defocus the rays dominate and it hardly matters.
/// @param quantum_efficiency  [1]
[[nodiscard]] Profile image(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                            const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                            std::optional<Sampling> sampling = std::nullopt);

}  // namespace spotwright::receiver
