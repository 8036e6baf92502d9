// Estimate of the laser class by accessible emission, for information only.
//
// A number here never replaces the classification of a laser product by a competent person with the standard in
// hand; local codes and licensed practice prevail. Source: IEC 60825-1:2014, continuous emission, point source
// (C6 = 1), thermal retinal limits; values from memory where physics notes mark them so.
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
[[nodiscard]] double correction_c4(double wavelength);

/// @param wavelength  400 to 1050 nm. [m]
/// @throws DomainError  Outside; also below 500 nm, where a photochemical limit applies that is not modelled.
[[nodiscard]] EmissionLimits emission_limits(double wavelength);

/// "1", "2", "3R", "3B" or "4": the lowest class whose limit holds the whole power, taken as continuous and all of
/// it collected by the measuring aperture (the strict side). "not estimated" below 500 nm.
[[nodiscard]] std::string estimated_class(double wavelength, double power);

/// The caution that goes with every estimate.
[[nodiscard]] std::string safety_caution();

}  // namespace spotwright::emitter
