// A time-of-flight sensor, calibrated; the same before a part; and one pose of that part.
#pragma once

#include <cstdint>
#include <optional>
#include <variant>
#include <vector>

#include "sim/detector/exposure.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/flight/neighbour.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/flight/photon_counting.hpp"
#include "sim/flight/pulse.hpp"
#include "sim/flight/receive.hpp"
#include "sim/flight/unwrap.hpp"
#include "sim/reading/calibration.hpp"
#include "sim/reading/locate.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/intensity_table.hpp"

namespace spotwright::sensor {

/// What calibration takes out of phases.
struct PhaseConstants {
    std::vector<double> contrast;  ///< of each frequency, |c_1| of `flight::harmonic`. [1]
    std::vector<double> offset;    ///< of each frequency, taken out of its phase. [rad]
};

/// What calibration takes out of the time of a pulse.
struct PulseConstants {
    double offset = 0.0;  ///< [s]
};

/// A sensor, built and calibrated: squarely on its reference, in the dark, without noise, at 20 C, in air of 101.325
/// kPa and half its moisture, before clock and delays drifted; it takes the air for the same ever after.
struct FlightInstrument {
    scenario::SensorKeys keys;  ///< of which it is made
    flight::TimedOptics optics;
    double assumed_index = 1.0;  ///< group index of air at calibration. [1]
    double anchor = 0.0;         ///< displacement at which constants were taken out. [m]
    std::variant<PhaseConstants, PulseConstants> constants;
    flight::DelayRange search;          ///< delays that are looked at. [s]
    double unambiguous_distance = 0.0;  ///< over which readings do not repeat themselves. [m]
    double reference_reach = 0.0;       ///< measured at the anchor: half the delay times the speed of light. [m]
    double reference_rate = 0.0;        ///< light of the reference at the anchor, photoelectrons per second. [1/s]
    std::optional<IntensityTable> intensity_table;    ///< of `flight.intensity_table_points`; none: 0 of them
    std::optional<reading::Calibration> calibration;  ///< from reach to displacement; none: the constant only
};

/// A sensor before a part.
struct FlightSetup {
    FlightInstrument instrument;
    scenario::Scenario scenario;
    double index = 1.0;  ///< group index of the air of the surroundings. [1]
};

/// Builds the sensor and calibrates it.
/// @throws ScenarioError  Light is not modulated; the range is longer than what is unambiguous, or its ends cannot be
///   told apart by the frequencies; the reference gives no reading at some place of the range.
[[nodiscard]] FlightInstrument make_flight_instrument(const scenario::Scenario& scenario, int threads);

/// Sets the sensor before the scenario's part, in the air of the surroundings.
/// @throws InternalError  The scenario's sensor is another one: its `sensor_keys` differ.
/// @throws ScenarioError  Air of this temperature cannot hold its moisture.
[[nodiscard]] FlightSetup set_up(const FlightInstrument& instrument, const scenario::Scenario& scenario);

/// Group index of the air of the surroundings. [1]
/// @throws ScenarioError  Air of this temperature cannot hold its moisture.
[[nodiscard]] double index_of_air(const scenario::Scenario& scenario);

/// Mean charges of a phase measurement, before noise.
struct PhasePlan {
    std::vector<double> electrons;  ///< of all buckets of all frequencies. [e]
    double exposure = 1.0;          ///< of each frequency. [s]
};

using FlightPlan = std::variant<PhasePlan, flight::PulsePlan, flight::CountingPlan>;

/// Light of a second sensor on the same part.
struct TimedNeighbour {
    bool has_clock = false;           ///< of its own; else its light is that of the pose, too
    flight::NeighbourLight light;     ///< as the electronics see it
    double mean_rate = 0.0;           ///< of it, what the pose has as constant light; 0 at a comparator. [1/s]
    std::optional<FlightPlan> alone;  ///< plan of photon counting without that constant light
};

/// Everything that readings of one still part have in common.
struct FlightPose {
    double displacement = 0.0;       ///< of the part's reference surface. [m]
    double true_displacement = 0.0;  ///< of the point that the beam's axis lights; the former where it misses. [m]
    flight::Received received;       ///< by way in air of index 1
    double lamp_rate = 0.0;          ///< of its constant rate, what comes from lamps, mean over their flicker. [1/s]
    double start = 0.0;              ///< when reading 0 begins, for flicker and second sensors. [s]
    flight::Light light;             ///< as the electronics see it: air, drift and clock in its delays
    detector::Timing timing;         ///< exposure: of each frequency, or of all pulses together
    FlightPlan plan;                 ///< of a second sensor with a clock of its own it has the mean light only
    std::optional<TimedNeighbour> neighbour;  ///< none: no second sensor is seen
    bool beyond = false;  ///< the part is out of the delays that are looked at: what is read is another distance
};

[[nodiscard]] FlightPose make_flight_pose(const FlightSetup& setup, double displacement);

/// The pose under the speckle of one patch of its surface, at the same exposure.
[[nodiscard]] FlightPose under_patch(const FlightSetup& setup, const FlightPose& smooth, std::int64_t patch);

/// What readings of a pose give without noise, and without what a second sensor's clock changes from one to the next;
/// none where it is invalid. [m]
[[nodiscard]] std::optional<double> noiseless_reading(const FlightSetup& setup, const FlightPose& pose);

/// A single reading; `position` is the phase at the first frequency [rad] or the time of the pulse [s], `peak` the
/// amplitude at the frequency where it is least [e] or the number of pulses that gave a time.
/// `too_dark`: the amplitude is below the threshold's share of full well, or fewer than half of the pulses gave a time;
/// `no_peak`: no pulse did; `saturated`: a bucket is at full well;
/// `ambiguous`: the chance of a wrong wrap is above `flight.wrap_risk`, or the part stands where distances repeat;
/// `out_of_range`: beyond the calibration, or no distance within the range fits the phases.
[[nodiscard]] RawReading take_reading(const FlightSetup& setup, const FlightPose& pose, std::int64_t index);

/// What one reading gives without noise, under the flicker and the second sensor's light that it meets. [m]
[[nodiscard]] std::optional<double> noiseless_reading_at(const FlightSetup& setup, const FlightPose& pose,
                                                         std::int64_t index);

/// What one reading of a pose collects on average; of pulses without those of a second sensor. Under lamps that
/// flicker, (receiver.18a): buckets are filled one after the other, each with the light of the lamps of its own time;
/// all pulses of a reading have the mean of theirs.
[[nodiscard]] FlightPlan plan_of_reading(const FlightSetup& setup, const FlightPose& pose, std::int64_t index);

/// When a bucket begins to collect, from the beginning of the reading. [s]
/// @param exposure  Of each frequency. [s]
/// @param bucket  Among all buckets of all frequencies.
[[nodiscard]] double start_of_bucket(const scenario::Scenario& scenario, double exposure, std::size_t bucket);

/// Modulation of one of the scenario's frequencies.
[[nodiscard]] flight::Modulation modulation_of(const scenario::Scenario& scenario, std::size_t frequency);

/// Comparator and pulse, their powers as photoelectrons per second.
[[nodiscard]] flight::PulseReceiver pulse_receiver_of(const scenario::Scenario& scenario);

/// Light of the part over that of the reference where its constants are taken out: what the range of the table of
/// corrections counts in. [1]
[[nodiscard]] double brightness_of(const FlightSetup& setup, const FlightPose& pose);

/// Charges of the mean buckets, or counts, in electrons: largest, and of it what is not from the emitter.
[[nodiscard]] double brightest_bucket(const FlightPose& pose);

/// Half the speed of light in the air of calibration: distance over delay. [m/s]
[[nodiscard]] double distance_per_delay(const scenario::Scenario& scenario);

/// Distance over which readings do not repeat themselves: of the frequencies together, or of the pulse rate. [m]
[[nodiscard]] double unambiguous_distance(const scenario::Scenario& scenario);

/// Energy of a Gaussian pulse over its peak power: width sqrt(pi / (4 ln 2)). [s]
[[nodiscard]] double pulse_duration(double full_width);

}  // namespace spotwright::sensor
