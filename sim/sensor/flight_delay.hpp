// What a time-of-flight sensor makes of light: delays as its electronics have them, and what it works out from them.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <variant>
#include <vector>

#include "sim/sensor/flight_instrument.hpp"

namespace spotwright::sensor {

/// Share of the span by which delays beyond the calibration are still looked at, so that noise finds them outside of it
/// and not a period away.
inline constexpr double search_overreach = 2.0 * calibration_overreach;

/// Light inside the housing, which only a phase tells from the part's, added to the part's.
[[nodiscard]] flight::Light with_crosstalk(const scenario::Scenario& scenario, flight::Light light);

/// Delays as the electronics have them: in air, behind their own drift, told by their own clock; crosstalk added.
[[nodiscard]] flight::Light as_timed(const FlightSetup& setup, flight::Light light);

/// The same of light that does not pass the crosstalk's way.
[[nodiscard]] flight::Light as_delayed(const FlightSetup& setup, flight::Light light);

/// Charges of all buckets of all frequencies in one second each. [e]
[[nodiscard]] std::vector<double> charges_per_second(const scenario::Scenario& scenario, const flight::Light& light);

/// One measurement of charges, frequency by frequency.
[[nodiscard]] std::vector<flight::Demodulated> demodulated(const scenario::Scenario& scenario,
                                                           std::span<const double> charges);

/// What the sensor makes of charges.
struct PhaseResult {
    reading::Validity validity = reading::Validity::out_of_range;
    double phase = 0.0;      ///< at the first frequency. [rad]
    double amplitude = 0.0;  ///< least of all frequencies. [e]
    double delay = 0.0;      ///< [s]
};

/// @param min_amplitude  Up to which light is `too_dark`. [e]
[[nodiscard]] PhaseResult phase_result(const FlightSetup& setup, std::span<const double> charges, double min_amplitude);

/// @param exposure  Of each frequency. [s]
/// @throws ScenarioError  The pulse, comparator or gate cannot be followed.
[[nodiscard]] FlightPlan plan_of(const FlightSetup& setup, const flight::Light& light, double exposure);

/// An echo before it is corrected by its strength, which is: by phase, the decimal logarithm of the amplitude by the
/// second; at a comparator, the time above its threshold in seconds; of photons, the decimal logarithm of the peak's
/// number by pulse.
struct EchoFound {
    double delay = 0.0;  ///< [s]
    double strength = 0.0;
};

[[nodiscard]] double strength_of_phases(double amplitude, double exposure);
[[nodiscard]] double strength_of_photons(double photons);

/// The echo that the sensor finds without noise; its own constants are taken out.
[[nodiscard]] std::optional<EchoFound> noiseless_echo(const FlightSetup& setup, const FlightPlan& plan,
                                                      double min_amplitude);

/// A delay less what the table of corrections has for that strength. [s]
[[nodiscard]] double corrected(const FlightSetup& setup, double delay, double strength);

/// The same corrected. [s]
[[nodiscard]] std::optional<double> noiseless_delay(const FlightSetup& setup, const FlightPlan& plan,
                                                    double min_amplitude);

/// Half the delay times the speed of light in the air that the sensor takes for granted. [m]
[[nodiscard]] double reach_of(const FlightSetup& setup, double delay);

/// Displacement by the calibration; none beyond it. [m]
[[nodiscard]] std::optional<double> displacement_of(const FlightSetup& setup, double delay);

}  // namespace spotwright::sensor
