#include "sim/study/sheet_forms.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/tanh_sinh.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/sensor/flight_instrument.hpp"

namespace spotwright::study {

// Diffuse: tan(theta) = B / R. Specular: both windows at a distance R from the reference point, sin(alpha) = B / (2 R).
double receiver_angle_of(scenario::SheetMount mount, double windows_distance, double reference_distance) {
    switch (mount) {
        case scenario::SheetMount::diffuse:
            return std::atan(windows_distance / reference_distance);
        case scenario::SheetMount::specular:
            break;
    }
    const double sine = 0.5 * windows_distance / reference_distance;
    if (sine >= 1.0)
        throw base::DomainError("windows distance", windows_distance, "below twice the reference distance");
    return std::asin(sine);
}

// M^2 = (pi w0 / (lambda z)) sqrt(we^2 - w0^2), z^2 the mean square of both ends' displacements.
double beam_quality_of(double waist, double at_ends, const scenario::Pair& range, double wavelength) {
    const double z = std::sqrt(0.5 * (range[0] * range[0] + range[1] * range[1]));
    if (at_ends <= waist) return 0.0;
    return base::pi * waist / (wavelength * z) * std::sqrt(at_ends * at_ends - waist * waist);
}

// N = (w / (2 tan(theta) sigma))^2.
double electrons_for(double radius, double angle, double scatter) {
    const double root = radius / (2.0 * std::tan(angle) * scatter);
    return root * root;
}

// N = 2 (c / (4 pi f sigma))^2.
double electrons_for_phase(double frequency, double scatter) {
    const double root = base::speed_of_light / (4.0 * base::pi * frequency * scatter);
    return 2.0 * root * root;
}

// N = (c s / (2 sigma))^2, s the standard deviation of the pulse.
double electrons_for_pulse(double pulse, double scatter) {
    const double deviation = pulse / (2.0 * std::sqrt(2.0 * std::log(2.0)));
    const double root = base::speed_of_light * deviation / (2.0 * scatter);
    return root * root;
}

// F = N / (level sqrt(2 pi) s).
double full_well_for(double electrons, double width, double level) {
    return electrons / (level * std::sqrt(2.0 * base::pi) * width);
}

// d2 = 2 integral over x > 0 of 1 - Phi(x)^n - (1 - Phi(x))^n, the integrand being even.
double mean_range(std::int64_t n) {
    constexpr std::int64_t most = 1000000;
    if (n < 2 || n > most) throw base::DomainError("n", static_cast<double>(n), "2 to 1000000");
    const boost::math::normal_distribution<double> normal;
    const auto power = static_cast<double>(n);
    const auto integrand = [&](double x) {
        const double above = boost::math::cdf(boost::math::complement(normal, x));
        return -std::expm1(power * std::log1p(-above)) - std::pow(above, power);
    };
    constexpr double far = 12.0;  // 1 - Phi is 2e-33 there
    boost::math::quadrature::tanh_sinh<double> quadrature;
    return 2.0 * quadrature.integrate(integrand, 0.0, far, 1e-10);
}

namespace {

// The figure over the standard deviation of outputs.
double figure_over_deviation(const scenario::SheetRepeatability& r) {
    switch (r.meaning) {
        case scenario::Meaning::standard_deviation:
            return 1.0;
        case scenario::Meaning::two_standard_deviations:
            return 2.0;
        case scenario::Meaning::peak_to_peak:
            break;
    }
    return mean_range(r.readings);
}

}  // namespace

// Noise of readings of a still part is independent: an average of n has 1 / sqrt(n) of it.
double single_scatter_of(const scenario::SheetRepeatability& r, double figure) {
    return figure / figure_over_deviation(r) * std::sqrt(static_cast<double>(r.average));
}

double figure_of(const scenario::SheetRepeatability& r, double single_scatter) {
    return single_scatter * figure_over_deviation(r) / std::sqrt(static_cast<double>(r.average));
}

// P cos(theta) sin^2(atan(D / (2 a))) T eta lambda / (h c).
double photoelectron_rate(const ReceivedLight& light) {
    const double sine = std::sin(std::atan(0.5 * light.aperture / light.distance));
    return light.power * std::cos(light.angle) * sine * sine * light.transmission * light.efficiency /
           base::photon_energy(light.wavelength);
}

namespace {

constexpr double estimated_from = 500.0 * base::nm;

// Of the four limits that of a class. @param Limits  Of continuous light or of pulses.
template <class Limits>
double limit_of(const Limits& limits, const std::string& laser_class) {
    if (laser_class == "1") return limits.class_1;
    if (laser_class == "2") return limits.class_2;
    if (laser_class == "3R") return limits.class_3r;
    if (laser_class == "3B") return limits.class_3b;
    return limits.class_2 > 0.0 ? limits.class_2 : limits.class_1;
}

}  // namespace

double class_limit(const std::string& laser_class, double wavelength) {
    return limit_of(emitter::emission_limits(std::max(wavelength, estimated_from)), laser_class);
}

double pulse_class_limit(const std::string& laser_class, double wavelength, double pulse, double rate) {
    const emitter::PulseLimits limits = emitter::pulse_limits(std::max(wavelength, estimated_from), {pulse, rate});
    return limit_of(limits, laser_class) / sensor::pulse_duration(pulse);
}

double class_limit_of(const std::string& laser_class, const scenario::Scenario& s) {
    const auto continuous = [&] { return class_limit(laser_class, s.emitter.wavelength); };
    const auto of_pulses = [&](scenario::Pulsed) {
        return pulse_class_limit(laser_class, s.emitter.wavelength, s.flight.pulse, s.flight.pulse_rate);
    };
    return std::visit(base::Cases{[&](scenario::Triangulation) { return continuous(); },
                                  [&](scenario::PhaseShift) { return continuous(); }, of_pulses},
                      s.principle);
}

}  // namespace spotwright::study
