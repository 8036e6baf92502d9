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

/// Photoelectrons per second and pixel. [1/s]  @param reflectance  Of the part, see `target::matt_reflectance`. [1]
[[nodiscard]] double ambient_rate(const scenario::Scenario& scenario, const receiver::Receiver& receiver,
                                  double reflectance);

/// See `target::lit_displacement`. [m]
[[nodiscard]] std::optional<double> lit_displacement(const scenario::Scenario& scenario, double displacement);

/// The same under a beam that may have warmed.
[[nodiscard]] std::optional<double> lit_displacement(const scenario::Scenario& scenario, const emitter::Beam& beam,
                                                     double displacement);

}  // namespace spotwright::sensor
