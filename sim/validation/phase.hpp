// What the checks of phase measurement share: sine light of 20 MHz on ideal electronics, in vacuum.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::validation {

inline constexpr double worked_modulation = 20.0 * base::MHz;
inline constexpr double worked_measurement_time = 1.0 * base::ms;

/// Modulation depth 1, gates of half a period, no limit of bandwidth.
[[nodiscard]] flight::Modulation ideal_modulation(scenario::Waveform waveform, std::int64_t buckets);

/// Light of one phase, or light that is not modulated, as electrons per bucket.
struct BucketLight {
    double phase = 0.0;   ///< [rad]
    double signal = 0.0;  ///< mean. [e per bucket]
};

/// Mean buckets of all that arrives and of steady light (electrons per bucket).
[[nodiscard]] std::vector<double> mean_buckets(const flight::Modulation& modulation,
                                               const std::vector<BucketLight>& light, double steady = 0.0);

/// Signal that has this amplitude in the buckets. [e per bucket]
[[nodiscard]] double signal_of_amplitude(const flight::Modulation& modulation, double amplitude);

/// Difference of two phases, -pi to pi. [rad]
[[nodiscard]] double phase_difference(double phase, double from);

/// Distance, by the phase of `buckets`, within the first period; in vacuum. [m]
[[nodiscard]] double distance_read(const flight::Modulation& modulation, const std::vector<double>& buckets);

/// Distance of a phase at 20 MHz in vacuum: c / (4 pi f). [m/rad]
[[nodiscard]] constexpr double worked_metres_per_radian() {
    return base::speed_of_light / (4.0 * base::pi * worked_modulation);
}

// By subject; `phase_shift_checks` joins them.
[[nodiscard]] std::vector<Check> phase_value_checks();
[[nodiscard]] std::vector<Check> cyclic_error_checks();
[[nodiscard]] std::vector<Check> air_checks();
[[nodiscard]] std::vector<Check> phase_noise_checks();
[[nodiscard]] std::vector<Check> unwrapping_checks();

}  // namespace spotwright::validation
