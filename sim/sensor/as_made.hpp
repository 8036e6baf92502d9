// The instrument as it is made and stands: a specimen within its tolerances, the glass and dirt before it, the filter
// against an emitter that drifts.
#pragma once

#include <span>

#include "sim/emitter/beam.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::sensor {

/// The receiver of the specimen that `detector.device_seed` draws: each error of the making evenly within plus or minus
/// its tolerance, from the same random number whatever the tolerances are. Without any: as the scenario has it.
/// Equation (instrument.7).
[[nodiscard]] scenario::Receiver as_made(const scenario::Scenario& scenario);

/// The same sensor with the lens as designed: no errors of focus, tilt and wavefront.
[[nodiscard]] scenario::Scenario with_ideal_lens(scenario::Scenario scenario);

/// Whether `with_ideal_lens` changes anything.
[[nodiscard]] bool has_ideal_lens(const scenario::Scenario& scenario);

/// Puts the scenario's cover glass before beam and receiver: the beam seems to come from nearer, and either way loses
/// what the faces reflect. Without a glass nothing changes.
void put_glass_before(const scenario::Cover& cover, emitter::Beam& beam, receiver::Receiver& receiver);

/// Dirt on the receiver's window.
void put_dirt_before(const scenario::Cover& cover, receiver::Receiver& receiver);

/// Light that the filter lets through at a wavelength, over that at the emitter's own; 1 without a filter's edge.
/// Either edge falls as 1 / (1 + exp(x)), from 90 to 10 % over `filter_edge`. [1]
/// Equation (instrument.8).
[[nodiscard]] double filter_passed(const scenario::Scenario& scenario, double wavelength);

/// Brightest pixel of the ghost, over that of the image: `ghost_share` in focus, and at most the middle of the disc
/// over which all light on the pixels is spread. [1]
/// @param rate  Light of each pixel, in any unit.
[[nodiscard]] double ghost_peak(const scenario::Scenario& scenario, std::span<const float> rate);

/// Standard deviation by which the pointing of the beam moves the image of the spot it lights. [px]
/// @param displacement  Of the part. [m]
/// Equation (instrument.9).
[[nodiscard]] double pointing_deviation(const scenario::Scenario& scenario, const emitter::Beam& beam,
                                        const receiver::Receiver& receiver, double displacement);

}  // namespace spotwright::sensor
