// How fast light travels in air: refractive index and group index.
#pragma once

namespace spotwright::flight {

/// State of the air on the way.
struct Air {
    double temperature = 293.15;              ///< [K]
    double pressure = 101325.0;               ///< [Pa]
    double humidity = 0.5;                    ///< relative. [1]
    double carbon_dioxide_fraction = 450e-6;  ///< by amount. [1]
};

/// Phase index n and group index n_g = n - lambda dn/dlambda of moist air, lambda the vacuum wavelength. [1]
/// Source: P. E. Ciddor, "Refractive index of air: new equations for the visible and near infrared", Appl. Opt. 35,
/// 1566 (1996); P. E. Ciddor, R. J. Hill, Appl. Opt. 38, 1663 (1999) for the group form; coefficients from memory,
/// checked against the published values of Ciddor's table 1.
/// @param wavelength  300 to 1690 nm. [m]
/// @throws DomainError  Wavelength outside, temperature outside -40 to 120 C, pressure outside 50 to 120 kPa, humidity
///   outside 0 to 1 or more vapour than the pressure allows, carbon dioxide outside 0 to 0.01.
[[nodiscard]] double phase_index(const Air& air, double wavelength);
[[nodiscard]] double group_index(const Air& air, double wavelength);

}  // namespace spotwright::flight
