// Ambient light: from lux on the part to electrons on a pixel.
#pragma once

#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::receiver {

/// Photopic luminous efficiency V(lambda) as the CIE 1931 y-bar. [1]
/// Source: C. Wyman, P.-P. Sloan, P. Shirley, "Simple analytic approximations to the CIE XYZ color matching
/// functions", JCGT 2(2) (2013), multi-lobe fit, from memory; within 0.01 of the tabulated curve.
[[nodiscard]] double luminous_efficiency(double wavelength);

/// Spectral irradiance of a light at one wavelength. [W/m^3]
/// Spectral shapes: incandescent, Planck radiator at 2856 K (CIE standard illuminant A); daylight, Planck radiator at
/// 5778 K (within 20 % of ASTM G173 global sunlight at 655 and 850 nm, without its water bands); led, a blue line at
/// 450 nm and a phosphor band around 560 nm (typical white LED, from memory). Each is scaled to the illuminance by
/// E_v = 683 lm/W int E_lambda V d lambda.
/// @param illuminance  [lx]  @param wavelength  [m]
[[nodiscard]] double spectral_irradiance(scenario::Light light, double illuminance, double wavelength);

/// Electrons per second that ambient light, scattered by a matt part, makes in one pixel. [1/s]
/// Radiance L = rho E_lambda width / pi through the filter; pixel power = L pi A T F with F the
/// aperture's configuration factor from the image, sin^2(u') of its half-angle for a round one, times the pixel's
/// foreshortening cos(tilt). Uniform over the array.
/// @param wavelength  Of the emitter, on which the filter is centred. [m]
/// @param filter_width  [m]  @param reflectance  Of the part, see `target::matt_reflectance`. [1]
[[nodiscard]] double ambient_rate(const scenario::Surroundings& surroundings, const Receiver& receiver,
                                  const scenario::Detector& detector, double wavelength, double filter_width,
                                  double reflectance);

}  // namespace spotwright::receiver
