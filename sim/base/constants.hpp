// Physical and mathematical constants, SI.
#pragma once

namespace spotwright::base {

inline constexpr double pi = 3.14159265358979323846;

// Exact by definition since the SI of 2019 (BIPM, SI Brochure, 9th edition, table 1).
inline constexpr double speed_of_light = 299792458.0;       ///< [m/s]
inline constexpr double planck_constant = 6.62607015e-34;   ///< [J s]
inline constexpr double boltzmann_constant = 1.380649e-23;  ///< [J/K]

/// Energy of one photon, E = h c / lambda. [J]
/// @param wavelength  Vacuum wavelength, > 0. [m]
[[nodiscard]] constexpr double photon_energy(double wavelength) {
    return planck_constant * speed_of_light / wavelength;
}

}  // namespace spotwright::base
