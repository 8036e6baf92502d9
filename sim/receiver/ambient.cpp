#include "sim/receiver/ambient.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/quadrature.hpp"
#include "sim/base/units.hpp"

namespace spotwright::receiver {

namespace {

double planck_shape(double wavelength, double temperature) {
    const double exponent =
        base::planck_constant * base::speed_of_light / (wavelength * base::boltzmann_constant * temperature);
    return std::pow(wavelength / 560e-9, -5.0) / std::expm1(exponent);
}

double lobe(double wavelength_nm, double centre_nm, double deviation_nm) {
    const double t = (wavelength_nm - centre_nm) / deviation_nm;
    return std::exp(-0.5 * t * t);
}

double split_lobe(double wavelength_nm, double centre_nm, double below_nm, double above_nm) {
    return lobe(wavelength_nm, centre_nm, wavelength_nm < centre_nm ? below_nm : above_nm);
}

double spectral_shape(scenario::Light light, double wavelength) {
    const double in_nm = wavelength / base::nm;
    switch (light) {
        case scenario::Light::incandescent:
            return planck_shape(wavelength, 2856.0);
        case scenario::Light::daylight:
            return planck_shape(wavelength, 5778.0);
        case scenario::Light::led:
            return lobe(in_nm, 450.0, 9.0) + 0.5 * split_lobe(in_nm, 560.0, 45.0, 60.0);
        case scenario::Light::none:
            break;
    }
    return 0.0;
}

// Integral of shape times V over the visible.
double luminous_integral(scenario::Light light) {
    const auto luminous = [light](double at) { return spectral_shape(light, at) * luminous_efficiency(at); };
    return boost::math::quadrature::gauss_kronrod<double, 31>::integrate(luminous, 360e-9, 830e-9, 8, 1e-8);
}

// The same, worked out once for each light: a pose asks for it, and quadrature would cost as much as an image.
double known_luminous_integral(scenario::Light light) {
    switch (light) {
        case scenario::Light::incandescent: {
            static const double integral = luminous_integral(scenario::Light::incandescent);
            return integral;
        }
        case scenario::Light::daylight: {
            static const double integral = luminous_integral(scenario::Light::daylight);
            return integral;
        }
        case scenario::Light::led: {
            static const double integral = luminous_integral(scenario::Light::led);
            return integral;
        }
        case scenario::Light::none:
            break;
    }
    return 0.0;
}

}  // namespace

// Equation (receiver.15).
double luminous_efficiency(double wavelength) {
    const double in_nm = wavelength / base::nm;
    return 0.821 * split_lobe(in_nm, 568.8, 46.9, 40.5) + 0.286 * split_lobe(in_nm, 530.9, 16.3, 31.1);
}

// Equation (receiver.16).
double spectral_irradiance(scenario::Light light, double illuminance, double wavelength) {
    if (light == scenario::Light::none || illuminance == 0.0) return 0.0;
    constexpr double largest_luminous_efficacy = 683.0;  // lm/W, by definition of the candela
    return illuminance / (largest_luminous_efficacy * known_luminous_integral(light)) *
           spectral_shape(light, wavelength);
}

// Equation (receiver.17b).
double planck_radiance(double wavelength, double temperature) {
    const double exponent =
        base::planck_constant * base::speed_of_light / (wavelength * base::boltzmann_constant * temperature);
    const double speed = base::speed_of_light;
    return 2.0 * base::planck_constant * speed * speed / std::pow(wavelength, 5.0) / std::expm1(exponent);
}

Band filter_band(double wavelength, double filter_width) {
    constexpr double shortest = 350e-9;
    constexpr double longest = 1100e-9;
    return {std::clamp(wavelength - 0.5 * filter_width, shortest, longest),
            std::clamp(wavelength + 0.5 * filter_width, shortest, longest)};
}

// Equation (receiver.17).
double pixel_rate(const Receiver& receiver, const scenario::Detector& detector, const Band& band,
                  const Spectrum& radiance, const Spectrum& factor) {
    constexpr double widest_interval = 50e-9;
    const double width = band.longest - band.shortest;
    const int intervals = std::max(1, static_cast<int>(std::ceil(width / widest_interval - 1e-9)));
    std::vector<base::QuadratureNode> nodes;
    double sum = 0.0;
    double factor_below = factor(band.shortest);
    for (int i = 0; i < intervals; ++i) {
        const double below = band.shortest + width * i / intervals;
        const double above = band.shortest + width * (i + 1) / intervals;
        const double factor_above = factor(above);
        nodes.clear();
        base::add_gauss_nodes<10>(below, above, nodes);
        for (const base::QuadratureNode& node : nodes) {
            const double here = std::lerp(factor_below, factor_above, (node.at - below) / (above - below));
            sum += node.weight * here * radiance(node.at) / base::photon_energy(node.at);
        }
        factor_below = factor_above;
    }
    const double through = configuration_factor(receiver.aperture, receiver.image_distance);
    const double area = receiver.pitch * receiver.height * std::cos(receiver.detector_tilt);
    return base::pi * area * through * receiver.transmission * detector.quantum_efficiency * sum;
}

// Equation (receiver.17a).
double lamp_rate(const scenario::Surroundings& surroundings, const Receiver& receiver,
                 const scenario::Detector& detector, const Band& band, const Spectrum& reflection) {
    if (surroundings.light == scenario::Light::none || surroundings.illuminance == 0.0) return 0.0;
    const auto white = [&surroundings](double wavelength) {
        return spectral_irradiance(surroundings.light, surroundings.illuminance, wavelength) / base::pi;
    };
    return pixel_rate(receiver, detector, band, white, reflection);
}

double glow_rate(double temperature, const Receiver& receiver, const scenario::Detector& detector, const Band& band,
                 const Spectrum& emissivity) {
    const auto black = [temperature](double wavelength) { return planck_radiance(wavelength, temperature); };
    return pixel_rate(receiver, detector, band, black, emissivity);
}

// Equation (receiver.18a).
double flicker_amplitude(const scenario::Surroundings& surroundings, double exposure) {
    const double half_turn = 2.0 * base::pi * surroundings.mains_frequency * exposure;
    return surroundings.flicker_depth * (half_turn > 0.0 ? std::sin(half_turn) / half_turn : 1.0);
}

double flicker_factor(const scenario::Surroundings& surroundings, double begin, double exposure) {
    if (surroundings.flicker_depth == 0.0) return 1.0;
    const double turns = 2.0 * surroundings.mains_frequency * (begin + 0.5 * exposure);
    return 1.0 + flicker_amplitude(surroundings, exposure) * std::cos(2.0 * base::pi * (turns - std::floor(turns)));
}

}  // namespace spotwright::receiver
