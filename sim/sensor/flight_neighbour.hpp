// A second sensor before the part of one that times light.
#pragma once

#include <optional>
#include <vector>

#include "sim/sensor/flight_instrument.hpp"

namespace spotwright::sensor {

/// What a pose sees of a second sensor: light of a beam like this sensor's own, with the power of the other and beside
/// it. The part's reflectance counts as that at this sensor's wavelength; speckle of that light is left out. None where
/// there is no second sensor, where both light in turn, or where its light does not pass the filter.
[[nodiscard]] std::optional<TimedNeighbour> neighbour_of(const FlightSetup& setup, const target::Part& part,
                                                         const target::Surface& surface);

/// Light of a pose as the electronics see it, with that of a synchronised second sensor.
[[nodiscard]] flight::Light light_of(const FlightSetup& setup, const FlightPose& pose, const flight::Light& received);

/// Sets the plan of photon counting without the mean light of a second sensor.
void plan_alone(const FlightSetup& setup, FlightPose& pose);

/// Whether a second sensor with a clock of its own changes readings of a pose from one to the next.
[[nodiscard]] bool has_clock(const FlightPose& pose);

/// [s]
[[nodiscard]] double begin_of_reading(const FlightPose& pose, std::int64_t index);

/// Puts what the buckets of a reading meet of a second sensor in the place of its mean light.
/// @param begin  Of the reading. [s]
void meet_neighbour(const FlightSetup& setup, const FlightPose& pose, double begin, PhasePlan& plan);

/// Pulses and photons of a reading, with those of a second sensor that it meets.
[[nodiscard]] flight::PulseReading pulses_of_reading(const FlightSetup& setup, const FlightPose& pose,
                                                     const flight::PulsePlan& plan, std::int64_t index);
[[nodiscard]] std::vector<std::int64_t> counts_of_reading(const FlightSetup& setup, const FlightPose& pose,
                                                          const flight::CountingPlan& plan, std::int64_t index);

/// Errors that a second sensor brings to outputs, without noise: differences from the reading without it, at 128 (by
/// pulses 64) sets of phases between the clocks that fill all evenly. Of one that is synchronised, one error. The
/// mean of a window is that of 128 (by pulses 16) readings of it, spread evenly, where it has more: by pulses an upper
/// bound of the scatter. None where no second sensor is seen. [m]
[[nodiscard]] std::vector<double> neighbour_errors(const FlightSetup& setup, const FlightPose& pose);

/// How one frequency of a phase-shift sensor is disturbed.
struct BeatOfNeighbour {
    double ratio = 0.0;       ///< amplitude of the other's modulation over this sensor's, at that frequency. [1]
    double difference = 0.0;  ///< of the frequencies. [Hz]
    double kept = 0.0;        ///< of the beat within one measurement, (phase.18). [1]
};

/// Of the frequency that is disturbed most.
[[nodiscard]] BeatOfNeighbour worst_beat(const scenario::Scenario& scenario, const FlightPose& pose);

/// Share of pulses in whose gate a pulse of the second sensor comes. [1]
[[nodiscard]] double pulses_met(const FlightPose& pose);

}  // namespace spotwright::sensor
