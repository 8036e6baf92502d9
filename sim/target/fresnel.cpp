#include "sim/target/fresnel.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <algorithm>
#include <cmath>

namespace spotwright::target {

Fresnel fresnel(std::complex<double> index, double cosine) {
    const double c = std::clamp(cosine, 0.0, 1.0);
    std::complex<double> inside = std::sqrt(1.0 - (1.0 - c * c) / (index * index));
    if ((index * inside).imag() < 0.0) inside = -inside;  // the wave inside must fade, not grow
    const std::complex<double> s = (c - index * inside) / (c + index * inside);
    const std::complex<double> p = (index * c - inside) / (index * c + inside);
    return {std::norm(s), std::norm(p)};
}

double diffuse_fresnel(std::complex<double> index) {
    const auto weighted = [index](double c) { return 2.0 * c * fresnel(index, c).unpolarised(); };
    return boost::math::quadrature::gauss_kronrod<double, 31>::integrate(weighted, 0.0, 1.0, 8, 1e-10);
}

}  // namespace spotwright::target
