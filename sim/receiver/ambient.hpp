// Light that does not come from the emitter: from lux on the part, or its temperature, to electrons on a pixel.
#pragma once

#include <functional>

#include "sim/receiver/geometry.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::receiver {

/// A quantity by wavelength. [m]
using Spectrum = std::function<double(double wavelength)>;

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

/// Spectral radiance of a black body: M. Planck (1901). [W/(m^3 sr)]  @param wavelength  [m]  @param temperature  [K]
[[nodiscard]] double planck_radiance(double wavelength, double temperature);

/// Band of light that makes electrons. [m]
struct Band {
    double shortest = 0.0;
    double longest = 0.0;
};

/// Of a rectangular filter centred on the emitter's wavelength, within 350 to 1100 nm: glass and silicon end there
/// (common practice).
[[nodiscard]] Band filter_band(double wavelength, double filter_width);

/// Electrons per second in one pixel from light of the part, the same for all pixels. [1/s]
/// Pixel power = L pi A T F with F the aperture's configuration factor from the image, sin^2(u') of its half-angle for
/// a round one, times the pixel's foreshortening cos(tilt). Transmission and quantum efficiency are those at the
/// emitter's wavelength throughout the band.
/// @param radiance  Of a white or black reference, integrated with ten points on every 50 nm or less. [W/(m^3 sr)]
/// @param factor  By which the part's is less or more; between the ends of such an interval linear. [1]
[[nodiscard]] double pixel_rate(const Receiver& receiver, const scenario::Detector& detector, const Band& band,
                                const Spectrum& radiance, const Spectrum& factor);

/// Electrons per second that the lamps make in one pixel. [1/s]
/// @param reflection  Radiance factor of the part: its radiance over that of a perfect white matt one under the same
///     illuminance, see `target::directional_albedo`. [1]
[[nodiscard]] double lamp_rate(const scenario::Surroundings& surroundings, const Receiver& receiver,
                               const scenario::Detector& detector, const Band& band, const Spectrum& reflection);

/// Electrons per second that the glow of a hot part makes in one pixel. [1/s]
/// @param temperature  [K]  @param emissivity  Towards the receiver. [1]
[[nodiscard]] double glow_rate(double temperature, const Receiver& receiver, const scenario::Detector& detector,
                               const Band& band, const Spectrum& emissivity);

/// Light of flickering lamps over its mean during an exposure. [1]
/// @param begin, exposure  Of the exposure. [s]
[[nodiscard]] double flicker_factor(const scenario::Surroundings& surroundings, double begin, double exposure);

/// Amplitude of that, what the length of the exposure leaves of the modulation depth. [1]
[[nodiscard]] double flicker_amplitude(const scenario::Surroundings& surroundings, double exposure);

}  // namespace spotwright::receiver
