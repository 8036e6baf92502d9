// Estimate of the laser class by accessible emission, for information only.
//
// A number here never replaces the classification of a laser product by a competent person with the standard in
// hand; local codes and licensed practice prevail. Source: IEC 60825-1:2014, continuous emission and repetitive pulses,
// point source (C6 = 1), thermal and photochemical limits of the retina; docs/theory/emitter.md says which values are
// from memory.
#pragma once

#include <string>

namespace spotwright::emitter {

/// Limits of accessible emission for continuous light. [W]
struct EmissionLimits {
    double class_1 = 0.0;
    double class_2 = 0.0;  ///< 0 where the class does not exist (invisible light)
    double class_3r = 0.0;
    double class_3b = 0.0;
};

/// C4 of the standard: 1 up to 700 nm, 10^(0.002 (lambda - 700)) above. [1]
/// @param wavelength  400 to 1050 nm. [m]  @throws DomainError outside.
/// Equation (emitter.8).
[[nodiscard]] double correction_c4(double wavelength);

/// C3 of the standard, for the photochemical limit: 1 up to 450 nm, 10^(0.02 (lambda - 450)) up to 600 nm. [1]
/// @param wavelength  400 to 600 nm. [m]  @throws DomainError outside: there is no photochemical limit.
/// Equation (emitter.10).
[[nodiscard]] double correction_c3(double wavelength);

/// Class 1 limit of continuous light by photochemistry, 3.9e-5 C3 W; infinite beyond 600 nm, where there is none. Below
/// 500 nm it is less than the thermal limit. [W]
/// @param wavelength  400 to 1050 nm. [m]  @throws DomainError outside.
/// Equation (emitter.10).
[[nodiscard]] double photochemical_limit(double wavelength);

/// Class 1 has the smaller of the thermal and the photochemical limit.
/// @param wavelength  400 to 1050 nm. [m]  @throws DomainError outside.
/// Equation (emitter.9).
[[nodiscard]] EmissionLimits emission_limits(double wavelength);

/// "1", "2", "3R", "3B" or "4": the lowest class whose limit holds the whole power, taken as continuous and all of
/// it collected by the measuring aperture (the strict side).
/// @param wavelength  400 to 1050 nm. [m]  @throws DomainError outside.
[[nodiscard]] std::string estimated_class(double wavelength, double power);

/// The caution that goes with every estimate.
[[nodiscard]] std::string safety_caution();

/// Equal pulses, evenly repeated.
struct PulseTrain {
    double duration = 0.0;  ///< of one pulse, full width at half maximum: 1e-13 to 0.25 s, not beyond the period. [s]
    double rate = 0.0;      ///< pulses in a second, > 0. [1/s]
};

/// Limits of accessible emission for the energy of each pulse. [J]
struct PulseLimits {
    double class_1 = 0.0;
    double class_2 = 0.0;  ///< 0 where the class does not exist (invisible light)
    double class_3r = 0.0;
    double class_3b = 0.0;
};

/// Most restrictive of three, for a point source (IEC 60825-1:2014, 4.3 f, in outline): the limit of one pulse; the
/// limit of the mean power, shared among the pulses; the limit of one pulse times C5. On the strict side where the
/// standard lets the user choose or is known only in outline: C5 of classes 1, 2 and 3R is that of a time base beyond
/// 0.25 s; pulses are counted over T2 = 10 s; all pulses that can begin within 5 us share the limit of 5 us.
/// Sources: class 1 beyond 700 nm, C4 and C5 second-hand; the visible column, classes 2, 3R and 3B from memory.
/// The photochemical limit counts by the mean power alone: it begins at 10 s.
/// @param wavelength  400 to 1050 nm. [m]
/// @throws DomainError  Outside of the ranges above.
/// Equation (pulse.16).
[[nodiscard]] PulseLimits pulse_limits(double wavelength, const PulseTrain& train);

/// C5 for pulses of at most 5 us and a time base beyond 0.25 s: 1 up to 600 pulses, then 5 N^-0.25, at least 0.4.
/// @param pulses  N, those of 10 s; pulses within 5 us count as one.
/// Equation (pulse.17).
[[nodiscard]] double correction_c5(double pulses);

/// "1", "2", "3R", "3B" or "4": the lowest class whose limits hold, all light collected by the measuring aperture (the
/// strict side).
/// @param energy  Of each pulse. [J]
[[nodiscard]] std::string estimated_pulse_class(double wavelength, const PulseTrain& train, double energy);

/// The caution that goes with every estimate for pulses.
[[nodiscard]] std::string pulse_safety_caution();

}  // namespace spotwright::emitter
