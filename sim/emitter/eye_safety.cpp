#include "sim/emitter/eye_safety.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"

namespace spotwright::emitter {

namespace {

constexpr double visible_end = 700.0 * base::nm;
constexpr double photochemical_end = 600.0 * base::nm;

constexpr double summed_within = 5e-6;  // Ti: pulses closer than that act as one. [s]
constexpr double counted_over = 10.0;   // T2 of a point source. [s]

// One pulse, class 1 over C4. [J]
double single_pulse_limit(double duration) {
    if (duration < 1e-11) return 3.8e-8;
    return duration <= summed_within ? 7.7e-8 : 7e-4 * std::pow(duration, 0.75);
}

// One pulse, class 3R over C4. [J]
double single_pulse_limit_3r(double duration) {
    if (duration < 1e-11) return 5.0 * 3.8e-8;
    return duration <= summed_within ? 3.8e-7 : 3.5e-3 * std::pow(duration, 0.75);
}

// One pulse, class 3B: 0.03 J, below a nanosecond 3e7 W. [J]  From memory; C4 beyond 700 nm is left out.
double single_pulse_limit_3b(double duration) {
    return std::min(0.03, 3e7 * duration);
}

void require_valid(const PulseTrain& train) {
    if (!(train.duration >= 1e-13 && train.duration <= 0.25)) {
        throw base::DomainError("duration of a pulse in s", train.duration, "1e-13 to 0.25");
    }
    if (!(train.rate > 0.0 && train.rate * train.duration <= 1.0)) {
        throw base::DomainError("pulses in a second", train.rate, "above 0, with a period not below the duration");
    }
}

}  // namespace

double correction_c4(double wavelength) {
    if (wavelength < 400.0 * base::nm || wavelength > 1050.0 * base::nm) {
        throw base::DomainError("wavelength in nm for eye safety", wavelength / base::nm, "400 to 1050");
    }
    return wavelength <= visible_end ? 1.0 : std::pow(10.0, 0.002 * (wavelength - visible_end) / base::nm);
}

double correction_c3(double wavelength) {
    if (wavelength < 400.0 * base::nm || wavelength > photochemical_end) {
        throw base::DomainError("wavelength in nm for the photochemical limit", wavelength / base::nm, "400 to 600");
    }
    return std::pow(10.0, 0.02 * std::max(wavelength - 450.0 * base::nm, 0.0) / base::nm);
}

// 1 C3 W/m^2 beyond 100 s (ICNIRP, Health Phys. 105, 271 (2013)) over a pupil of 7 mm: 3.85e-5 C3 W, rounded as in the
// standard.
double photochemical_limit(double wavelength) {
    if (wavelength > photochemical_end && wavelength <= 1050.0 * base::nm) {
        return std::numeric_limits<double>::infinity();
    }
    return 3.9e-5 * correction_c3(wavelength);
}

EmissionLimits emission_limits(double wavelength) {
    const double c4 = correction_c4(wavelength);
    const bool visible = wavelength <= visible_end;
    EmissionLimits limits;
    limits.class_1 = std::min(3.9e-4 * c4, photochemical_limit(wavelength));
    limits.class_2 = visible ? 1e-3 : 0.0;
    limits.class_3r = visible ? 5e-3 : 2.0e-3 * c4;
    limits.class_3b = 0.5;
    return limits;
}

std::string estimated_class(double wavelength, double power) {
    const EmissionLimits limits = emission_limits(wavelength);
    if (power <= limits.class_1) return "1";
    if (power <= limits.class_2) return "2";
    if (power <= limits.class_3r) return "3R";
    if (power <= limits.class_3b) return "3B";
    return "4";
}

std::string safety_caution() {
    return "Laser class estimated for continuous light; not a classification. Only a competent person with "
           "IEC 60825-1 in hand classifies a laser product; local codes and licensed practice prevail.";
}

double correction_c5(double pulses) {
    constexpr double unreduced = 600.0;
    return pulses <= unreduced ? 1.0 : std::clamp(5.0 * std::pow(pulses, -0.25), 0.4, 1.0);
}

PulseLimits pulse_limits(double wavelength, const PulseTrain& train) {
    require_valid(train);
    const EmissionLimits mean = emission_limits(wavelength);
    const double c4 = correction_c4(wavelength);
    const bool summed = train.duration <= summed_within && train.rate * summed_within > 1.0;
    const double group = summed ? std::floor(train.rate * summed_within) + 1.0 : 1.0;
    const double duration = summed ? summed_within : train.duration;
    const double counted = std::min(train.rate, 1.0 / summed_within) * counted_over;
    const double c5 = train.duration <= summed_within ? correction_c5(counted) : 1.0;
    const double reduced = c4 * c5 / group;  // c5 is at most 1: the rule of C5 includes that of a single pulse
    PulseLimits limits;
    limits.class_1 = std::min(reduced * single_pulse_limit(duration), mean.class_1 / train.rate);
    limits.class_2 = std::min(reduced * single_pulse_limit(duration), mean.class_2 / train.rate);
    limits.class_3r = std::min(reduced * single_pulse_limit_3r(duration), mean.class_3r / train.rate);
    limits.class_3b = std::min(single_pulse_limit_3b(train.duration), mean.class_3b / train.rate);
    // A longer pulse than 0.06 s is held by its power.
    constexpr double held_by_power = 0.06;
    if (train.duration >= held_by_power) limits.class_3b = std::min(limits.class_3b, mean.class_3b * train.duration);
    return limits;
}

std::string estimated_pulse_class(double wavelength, const PulseTrain& train, double energy) {
    const PulseLimits limits = pulse_limits(wavelength, train);
    if (energy <= limits.class_1) return "1";
    if (energy <= limits.class_2) return "2";
    if (energy <= limits.class_3r) return "3R";
    if (energy <= limits.class_3b) return "3B";
    return "4";
}

std::string pulse_safety_caution() {
    return "Laser class estimated for repetitive pulses; not a classification. Only a competent person with "
           "IEC 60825-1 in hand classifies a laser product; local codes and licensed practice prevail.";
}

}  // namespace spotwright::emitter
