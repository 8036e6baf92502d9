// Ambient light and glow through the filter: integrals over the band, and flicker.
#include <catch2/catch.hpp>

#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/ambient.hpp"
#include "tests/support/stations.hpp"

using namespace spotwright;
using base::nm, base::us;

namespace {

const receiver::Spectrum one = [](double) { return 1.0; };

double lamps(scenario::Light light, double wavelength, double width) {
    scenario::Scenario s;
    s.surroundings.light = light;
    return receiver::lamp_rate(s.surroundings, support::receiver_of(s), s.detector,
                               receiver::filter_band(wavelength, width), one);
}

// Photons of a black body from wavelength 0 to this: 2 c / lambda^4 / (e^x - 1) has the closed form
// 2 c (k T / h c)^3 sum e^(-n x) (x^2 / n + 2 x / n^2 + 2 / n^3), x = h c / (lambda k T). [1/(s m^2 sr)]
double black_photons(double wavelength, double temperature) {
    const double unit = base::boltzmann_constant * temperature / (base::planck_constant * base::speed_of_light);
    const double x = 1.0 / (wavelength * unit);
    double sum = 0.0;
    for (int n = 1; n < 40; ++n) sum += std::exp(-n * x) * (x * x / n + 2.0 * x / (n * n) + 2.0 / (n * n * n));
    return 2.0 * base::speed_of_light * unit * unit * unit * sum;
}

}  // namespace

TEST_CASE("the glow of a black part is the closed integral of Planck's photons over the band", "[published]") {
    // M. Planck, Ann. Phys. 309, 553 (1901); the series is derived. 1e-9: ten points on 50 nm of a smooth function.
    const scenario::Scenario s;
    const receiver::Receiver r = support::receiver_of(s);
    const double optics = base::pi * r.pitch * r.height * std::cos(r.detector_tilt) *
                          receiver::configuration_factor(r.aperture, r.image_distance) * r.transmission *
                          s.detector.quantum_efficiency;
    for (const double celsius : {400.0, 1000.0, 1500.0}) {
        const double t = celsius + 273.15;
        for (const double width : {10.0 * nm, 100.0 * nm, 600.0 * nm}) {
            const receiver::Band band = receiver::filter_band(655.0 * nm, width);
            const double photons = black_photons(band.longest, t) - black_photons(band.shortest, t);
            INFO(celsius << " C, " << width / nm << " nm");
            CHECK(receiver::glow_rate(t, r, s.detector, band, one) == Approx(optics * photons).epsilon(1e-9));
        }
    }
}

TEST_CASE("Planck's radiance holds the share of power that tables of radiation give", "[published]") {
    // Share of a black body's power below lambda T = 2898 um K: 0.2501; below 2000 um K: 0.0667. R. Siegel, J. R.
    // Howell, Thermal Radiation Heat Transfer, table of blackbody functions, from memory; rounded to four digits.
    constexpr double stefan_boltzmann = 5.670374e-8;  // CODATA 2018
    for (const auto& [product, share] : {std::pair{2898e-6, 0.2501}, std::pair{2000e-6, 0.0667}}) {
        constexpr double t = 1000.0;
        constexpr int steps = 20000;
        double sum = 0.0;
        const double step = product / t / steps;
        for (int i = 0; i < steps; ++i) sum += receiver::planck_radiance((i + 0.5) * step, t) * step;
        CHECK(base::pi * sum / (stefan_boltzmann * t * t * t * t) == Approx(share).margin(1e-4));
    }
}

TEST_CASE("a narrow filter lets pass irradiance times width, a wide one no more than the lamp has", "[unit]") {
    // 5 nm: the sun's spectrum bends by less than 1e-4 over it.
    scenario::Scenario s;
    const receiver::Receiver r = support::receiver_of(s);
    const double optics = r.pitch * r.height * std::cos(r.detector_tilt) *
                          receiver::configuration_factor(r.aperture, r.image_distance) * r.transmission *
                          s.detector.quantum_efficiency;
    const double at = 655.0 * nm;
    const double expected = optics * 5.0 * nm / base::photon_energy(at) *
                            receiver::spectral_irradiance(scenario::Light::daylight, 500.0, at);
    CHECK(lamps(scenario::Light::daylight, at, 5.0 * nm) == Approx(expected).epsilon(1e-4));
    // An LED has nothing in the infrared: 1000 nm of filter pass what 700 nm do. Beyond 1100 nm silicon is blind.
    CHECK(lamps(scenario::Light::led, 700.0 * nm, 1000.0 * nm) ==
          Approx(lamps(scenario::Light::led, 700.0 * nm, 700.0 * nm)).epsilon(1e-3));
    CHECK(receiver::filter_band(1050.0 * nm, 1000.0 * nm).longest == Approx(1100.0 * nm));
}

TEST_CASE("the white LED's photons are those of its two bands", "[unit]") {
    // Both bands are Gaussians, whose integral of lambda exp(-(lambda - c)^2 / (2 s^2)) is closed; over the whole
    // visible their tails are cut by less than 2e-4. Each half of the split one by itself.
    const double root = std::sqrt(2.0 * base::pi);
    const auto half = [root](double centre, double s, double side) { return 0.5 * root * s * centre + side * s * s; };
    const double photons = 450.0 * 9.0 * root + 0.5 * (half(560.0, 45.0, -1.0) + half(560.0, 60.0, 1.0));
    scenario::Scenario s;
    const receiver::Receiver r = support::receiver_of(s);
    const double optics = r.pitch * r.height * std::cos(r.detector_tilt) *
                          receiver::configuration_factor(r.aperture, r.image_distance) * r.transmission *
                          s.detector.quantum_efficiency;
    // Irradiance over its shape, which is 0.5 plus the blue tail at 560 nm.
    const double scale = receiver::spectral_irradiance(scenario::Light::led, 500.0, 560.0 * nm) / 0.5;
    const double expected = optics * scale * photons * nm * nm / (base::planck_constant * base::speed_of_light);
    CHECK(lamps(scenario::Light::led, 650.0 * nm, 600.0 * nm) == Approx(expected).epsilon(1e-3));
}

TEST_CASE("flicker averages out over whole periods and shows in full in a short exposure", "[unit]") {
    scenario::Surroundings around;
    CHECK(receiver::flicker_factor(around, 1.0, 2.5 * us) == 1.0);
    around.flicker_depth = 0.4;
    around.mains_frequency = 50.0;
    CHECK(receiver::flicker_factor(around, 0.0, 1e-6) == Approx(1.4).epsilon(1e-6));
    CHECK(receiver::flicker_factor(around, 5e-3, 1e-6) == Approx(0.6).epsilon(1e-6));
    CHECK(receiver::flicker_factor(around, 1.234e-3, 10e-3) == Approx(1.0).margin(1e-12));
    CHECK(receiver::flicker_amplitude(around, 5e-3) == Approx(0.4 * 2.0 / base::pi).epsilon(1e-12));
}
