#include "sim/flight/air.hpp"

#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"

namespace spotwright::flight {

namespace {

using base::kPa, base::nm, base::um, base::zero_celsius;

/// Refractivity n - 1, or n_g - 1, of dry air and of water vapour at their reference states.
struct Refractivities {
    double dry;
    double vapour;
};

// n - 1 by the dispersion formulas of Ciddor 1996, equations 1 to 3. For the group index each power s^(2j) of the
// wavenumber takes the factor 2j + 1, because n - lambda dn/dlambda = d(n s)/ds: Ciddor and Hill 1999.
Refractivities phase_refractivities(double s2) {
    return {1e-8 * (5792105.0 / (238.0185 - s2) + 167917.0 / (57.362 - s2)),
            1.022e-8 * (295.235 + s2 * (2.6422 + s2 * (-0.032380 + s2 * 0.004028)))};
}

Refractivities group_refractivities(double s2) {
    const auto pole = [s2](double strength, double place) {
        return strength * (place + s2) / ((place - s2) * (place - s2));
    };
    return {1e-8 * (pole(5792105.0, 238.0185) + pole(167917.0, 57.362)),
            1.022e-8 * (295.235 + s2 * (3.0 * 2.6422 + s2 * (5.0 * -0.032380 + s2 * 7.0 * 0.004028)))};
}

// Saturation vapour pressure over water, below 0 C over ice. [Pa] Source: Ciddor 1996, appendix A.
double saturation_pressure(double temperature) {
    if (temperature < zero_celsius) return std::pow(10.0, -2663.5 / temperature + 12.537);
    return std::exp(1.2378847e-5 * temperature * temperature - 1.9121316e-2 * temperature + 33.93711047 -
                    6.3431645e3 / temperature);
}

// Share of water vapour by amount, with the enhancement factor of Ciddor 1996, appendix A.
double vapour_share(const Air& air) {
    const double celsius = air.temperature - zero_celsius;
    const double enhancement = 1.00062 + 3.14e-8 * air.pressure + 5.6e-7 * celsius * celsius;
    const double share = enhancement * air.humidity * saturation_pressure(air.temperature) / air.pressure;
    if (!(share <= 1.0)) throw base::DomainError("humidity", air.humidity, "no more vapour than air of that pressure");
    return share;
}

// Amount of gas in a volume, up to the gas constant: p / (Z T), Z the compressibility of moist air with the share x of
// vapour. [Pa/K] Source: Ciddor 1996, appendix A (the formula of BIPM 1981/91).
double amount_density(double temperature, double pressure, double x) {
    const double t = temperature - zero_celsius;
    const double ratio = pressure / temperature;
    const double first = 1.58123e-6 + t * (-2.9331e-8 + t * 1.1043e-10) + (5.707e-6 - 2.051e-8 * t) * x +
                         (1.9898e-4 - 2.376e-6 * t) * x * x;
    const double second = 1.83e-11 - 0.765e-8 * x * x;
    return ratio / (1.0 - ratio * first + ratio * ratio * second);
}

void require_within(const char* name, double value, double least, double greatest, const char* allowed) {
    if (!(value >= least && value <= greatest)) throw base::DomainError(name, value, allowed);
}

void require_valid(const Air& air, double wavelength) {
    require_within("wavelength", wavelength, 300.0 * nm, 1690.0 * nm, "300 nm to 1690 nm");
    require_within("temperature", air.temperature, zero_celsius - 40.0, zero_celsius + 120.0, "-40 C to 120 C");
    require_within("pressure", air.pressure, 50.0 * kPa, 120.0 * kPa, "50 kPa to 120 kPa");
    require_within("humidity", air.humidity, 0.0, 1.0, "0 to 1");
    require_within("carbon_dioxide_fraction", air.carbon_dioxide_fraction, 0.0, 0.01, "0 to 0.01");
}

// Ciddor 1996, equation 5: refractivities of both parts, each in proportion to its density. Molar masses cancel.
double refractivity(const Air& air, const Refractivities& reference) {
    const double x = vapour_share(air);
    const double amount = amount_density(air.temperature, air.pressure, x);
    const double dry = (1.0 - x) * amount / amount_density(288.15, 101325.0, 0.0);
    const double vapour = x * amount / amount_density(293.15, 1333.0, 1.0);
    const double carbon_dioxide = 1.0 + 0.534 * (air.carbon_dioxide_fraction - 450e-6);
    return dry * reference.dry * carbon_dioxide + vapour * reference.vapour;
}

double squared_wavenumber(double wavelength) {
    return (um / wavelength) * (um / wavelength);
}

}  // namespace

// Equation (phase.15).
double phase_index(const Air& air, double wavelength) {
    require_valid(air, wavelength);
    return 1.0 + refractivity(air, phase_refractivities(squared_wavenumber(wavelength)));
}

// Equation (phase.16).
double group_index(const Air& air, double wavelength) {
    require_valid(air, wavelength);
    return 1.0 + refractivity(air, group_refractivities(squared_wavenumber(wavelength)));
}

}  // namespace spotwright::flight
