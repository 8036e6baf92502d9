// The receiver of a time-of-flight sensor, and the light of a part that it takes.
#pragma once

#include <cstddef>
#include <cstdint>

#include "sim/emitter/beam.hpp"
#include "sim/flight/arrivals.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::flight {

/// Lens at the emitter's face, `flight.baseline_mm` beside the beam, turned to the reference point and focused on it;
/// behind it the round photosensitive area. As a receiver of the triangulation's kind it has one square pixel of the
/// same area, which serves the ambient light; `receive` cuts the image with the circle itself.
[[nodiscard]] receiver::Receiver make_receiver(const scenario::Receiver& receiver, const scenario::Flight& flight,
                                               const scenario::Mount& mount, double emitter_angle);

/// Where light that is timed comes from and where it goes.
struct TimedOptics {
    emitter::Beam beam;
    double linewidth = 0.0;  ///< [m]
    receiver::Receiver receiver;
    double detector_diameter = 0.0;    ///< [m]
    double electrons_per_joule = 0.0;  ///< [1/J]
};

/// Light of a part, by its delay in air of index 1.
struct Received {
    Light light;                   ///< without a constant rate: ambient light and dark current come later
    double collected_power = 0.0;  ///< through the aperture, after transmission. [W]
    double received_power = 0.0;   ///< of it, on the photosensitive area. [W]
    double mean_path = 0.0;        ///< of received light, from the emitter's face to the lens. [m]
    double path_deviation = 0.0;   ///< standard deviation of it: depth within the spot. [m]
    double grains = 0.0;           ///< independent speckle patterns that the detector adds up; 0: nothing scatters. [1]
    double scattered_share = 0.0;  ///< of received light that speckles. [1]
};

/// Follows the light of the beam's spot as the spot model of triangulation does, edges, plates and volumes included,
/// and tells it apart by the length of its way. Glass and plastics count with their phase index.
///
/// The lens sees M = 1 + A_a A_s / (lambda d)^2 speckles, A_a the area of the aperture, A_s = pi w_x w_y that of the
/// spot (the square of its power over the integral of its squared irradiance), divided by the square of the contrast
/// that linewidth, roughness and polarisation leave. Source: J. W. Goodman, Speckle Phenomena in Optics, ch. 4
/// (integrated intensity), from memory; the 1 + is the limit of a small aperture.
/// @param material  Of the surface: what it leaves of the light's coherence.
[[nodiscard]] Received receive(const TimedOptics& optics, const target::Part& part, const target::Surface& surface,
                               const scenario::Material& material);

/// The same light as one patch of a rough surface sends it: each delay's share is drawn from a gamma distribution of as
/// many patterns as fall to it, so that all together fluctuate by 1 / sqrt(grains), and depth within the spot moves
/// the mean delay. Delays are taken together into at most 64.
/// @param patch  Of the surface: the same patch, the same light.
[[nodiscard]] Light speckled(const Received& received, std::uint64_t seed, std::int64_t patch);

/// The same light by at most so many delays: neighbouring ones are taken together, with their mean.
[[nodiscard]] Light with_at_most(const Light& light, std::size_t count);

}  // namespace spotwright::flight
