#include "sim/target/fresnel.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <algorithm>
#include <cmath>
#include <utility>

namespace spotwright::target {

// Equation (target.10).
Fresnel fresnel(std::complex<double> index, double cosine) {
    const double c = std::clamp(cosine, 0.0, 1.0);
    const double sine2 = 1.0 - c * c;
    const double n = index.real();
    const double k = index.imag();
    const double d = n * n - k * k - sine2;
    const double m = std::sqrt(d * d + 4.0 * n * n * k * k);
    // The greater of both by its sum, the other by their product: neither loses its digits.
    double a = std::sqrt(0.5 * (m + std::abs(d)));
    double b = a > 0.0 ? std::abs(n * k) / a : 0.0;
    if (d < 0.0) std::swap(a, b);
    const auto squared = [](double x) { return x * x; };
    const double s = (squared(a - c) + b * b) / (squared(a + c) + b * b);
    const double turned = (squared(a * c - sine2) + squared(b * c)) / (squared(a * c + sine2) + squared(b * c));
    return {s, s * turned};
}

// Equation (target.11).
double diffuse_fresnel(std::complex<double> index) {
    const auto weighted = [index](double c) { return 2.0 * c * fresnel(index, c).unpolarised(); };
    return boost::math::quadrature::gauss_kronrod<double, 31>::integrate(weighted, 0.0, 1.0, 8, 1e-10);
}

}  // namespace spotwright::target
