#include "sim/receiver/ambient.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <cmath>

#include "sim/base/constants.hpp"
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

// Equation (receiver.17).
double ambient_rate(const scenario::Scenario& scenario, const Receiver& receiver, double reflectance) {
    const double wavelength = scenario.emitter.wavelength;
    const double spectral =
        spectral_irradiance(scenario.surroundings.light, scenario.surroundings.illuminance, wavelength);
    const double radiance = reflectance * spectral * scenario.receiver.filter_width / base::pi;
    const double through = configuration_factor(receiver.aperture, receiver.image_distance);
    const double area = receiver.pitch * receiver.height * std::cos(receiver.detector_tilt);
    const double power = base::pi * radiance * area * through * receiver.transmission;
    return power / base::photon_energy(wavelength) * scenario.detector.quantum_efficiency;
}

}  // namespace spotwright::receiver
