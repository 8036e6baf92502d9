#include "sim/emitter/eye_safety.hpp"

#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"

namespace spotwright::emitter {

namespace {

constexpr double visible_end = 700.0 * base::nm;
constexpr double photochemical_end = 500.0 * base::nm;

}  // namespace

double correction_c4(double wavelength) {
    if (wavelength < 400.0 * base::nm || wavelength > 1050.0 * base::nm) {
        throw base::DomainError("wavelength in nm for eye safety", wavelength / base::nm, "400 to 1050");
    }
    return wavelength <= visible_end ? 1.0 : std::pow(10.0, 0.002 * (wavelength - visible_end) / base::nm);
}

EmissionLimits emission_limits(double wavelength) {
    const double c4 = correction_c4(wavelength);
    if (wavelength < photochemical_end) {
        throw base::DomainError("wavelength in nm for the class 1 limit", wavelength / base::nm, "500 to 1050");
    }
    const bool visible = wavelength <= visible_end;
    EmissionLimits limits;
    limits.class_1 = 3.9e-4 * c4;
    limits.class_2 = visible ? 1e-3 : 0.0;
    limits.class_3r = visible ? 5e-3 : 2.0e-3 * c4;
    limits.class_3b = 0.5;
    return limits;
}

std::string estimated_class(double wavelength, double power) {
    if (wavelength < photochemical_end) return "not estimated";
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

}  // namespace spotwright::emitter
