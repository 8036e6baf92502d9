// Reflection at a smooth interface between air and a material of complex refractive index.
#pragma once

#include <complex>

namespace spotwright::target {

/// Power reflectances of both polarisations.
struct Fresnel {
    double s = 0.0;  ///< electric field square to the plane of incidence. [1]
    double p = 0.0;  ///< in it. [1]

    [[nodiscard]] double unpolarised() const { return 0.5 * (s + p); }
    /// Of light with a share of its power in s, the rest in p; see `s_share`. Equation (target.35).
    [[nodiscard]] double mean(double s_share) const { return s_share * s + (1.0 - s_share) * p; }
};

/// r_s = (cos t - n cos t') / (cos t + n cos t'), r_p = (n cos t - cos t') / (n cos t + cos t'),
/// cos t' = sqrt(1 - sin^2 t / n^2), R = |r|^2.
/// Source: M. Born, E. Wolf, Principles of Optics, ch. 1 and 14. In real numbers, with a + i b = n cos t':
/// R_s = ((a - cos t)^2 + b^2) / ((a + cos t)^2 + b^2), and R_p is R_s times the same with a cos t, sin^2 t and b cos t
/// in place of a, cos t and b. Derived; it takes a fraction of the time, and there is a call for every ray.
/// @param index  n + i k with k >= 0, of the material against air. [1]
/// @param cosine  Of the angle of incidence, 0 to 1. [1]
[[nodiscard]] Fresnel fresnel(std::complex<double> index, double cosine);

/// Mean of the unpolarised reflectance over diffuse light, 2 int_0^1 R(c) c dc. [1]
[[nodiscard]] double diffuse_fresnel(std::complex<double> index);

}  // namespace spotwright::target
