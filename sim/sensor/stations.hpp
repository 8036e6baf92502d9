// What the stations of the light's path make of a scenario: each gets the keys that it takes.
#pragma once

#include <optional>

#include "sim/emitter/beam.hpp"
#include "sim/flight/receive.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"

namespace spotwright::sensor {

/// At the temperature of calibration, as all of these.
[[nodiscard]] emitter::Beam beam_of(const scenario::Scenario& scenario);

/// @param displacement  Of the part's reference surface. [m]
[[nodiscard]] target::Part part_of(const scenario::Scenario& scenario, double displacement);

[[nodiscard]] target::Surface surface_of(const scenario::Scenario& scenario);

/// Of a triangulation sensor.
/// @throws ScenarioError  The lens does not stand clear of the beam.
[[nodiscard]] receiver::Receiver receiver_of(const scenario::Scenario& scenario);

/// Of a time-of-flight sensor.
[[nodiscard]] flight::TimedOptics timed_optics_of(const scenario::Scenario& scenario);

/// Photoelectrons per second and pixel from light of the part that is not the emitter's. [1/s]
struct AmbientRates {
    double lamps = 0.0;  ///< mean over the flicker
    double glow = 0.0;   ///< of a hot part
    [[nodiscard]] double both() const { return lamps + glow; }
};

/// Of the point that the beam's axis lights, towards the centre of the lens; the same for the whole array. The sensor's
/// own housing, which hides some of the surroundings, is left out.
[[nodiscard]] AmbientRates ambient_rates(const scenario::Scenario& scenario, const receiver::Receiver& receiver,
                                         const emitter::Beam& beam, const target::Part& part);

/// Share of haze in the light that the lit point sends to the lens; 0 where the mirrored axis passes the lens. [1]
[[nodiscard]] double haze_share(const scenario::Scenario& scenario, const receiver::Receiver& receiver,
                                const emitter::Beam& beam, const target::Part& part);

/// See `target::lit_displacement`. [m]
[[nodiscard]] std::optional<double> lit_displacement(const scenario::Scenario& scenario, double displacement);

/// The same under a beam that may have warmed.
[[nodiscard]] std::optional<double> lit_displacement(const scenario::Scenario& scenario, const emitter::Beam& beam,
                                                     double displacement);

}  // namespace spotwright::sensor
