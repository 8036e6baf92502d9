#include "sim/target/subsurface.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/target/fresnel.hpp"

namespace spotwright::target {

namespace {

void check(const Volume& volume) {
    const auto sound = [](double value, double least) { return value >= least && std::isfinite(value); };
    if (!(sound(volume.reduced_scattering, 0.0) && volume.reduced_scattering > 0.0)) {
        throw base::DomainError("reduced scattering in 1/m", volume.reduced_scattering, "> 0");
    }
    if (!sound(volume.absorption, 0.0)) throw base::DomainError("absorption in 1/m", volume.absorption, ">= 0");
    if (!sound(volume.index, 1.0)) throw base::DomainError("index of a volume", volume.index, ">= 1");
    if (!(std::abs(volume.anisotropy) < 1.0)) {
        throw base::DomainError("anisotropy of a volume", volume.anisotropy, "between -1 and 1");
    }
    if (!(volume.thickness > 0.0)) throw base::DomainError("thickness of a layer in m", volume.thickness, "> 0");
    if (!(volume.backing >= 0.0 && volume.backing <= 1.0)) {
        throw base::DomainError("reflectance below a layer", volume.backing, "from 0 to 1");
    }
}

// F_dr: share of diffuse light inside that the face reflects.
double face_reflectance(double n) {
    return -1.440 / (n * n) + 0.710 / n + 0.668 + 0.0636 * n;
}

// Depth of the sink over that of the source, z_v / z_r.
double depth_ratio(double n) {
    const double reflected = face_reflectance(n);
    return 1.0 + 4.0 / 3.0 * (1.0 + reflected) / (1.0 - reflected);
}

double cosine_inside(const Volume& volume, double cosine) {
    return std::sqrt(cosine * cosine + volume.index * volume.index - 1.0) / volume.index;
}

double sum_over_poles(const Dipole& dipole, double (*term)(double, double, double), double radius) {
    return term(dipole.attenuation, dipole.real_depth, radius) + term(dipole.attenuation, dipole.virtual_depth, radius);
}

}  // namespace

double extinction(const Volume& volume) {
    return volume.reduced_scattering + volume.absorption;
}

double scattering(const Volume& volume) {
    return volume.reduced_scattering / (1.0 - volume.anisotropy);
}

bool is_layer(const Volume& volume) {
    return std::isfinite(volume.thickness);
}

// Equation (inside.12).
double phase_function(double anisotropy, double cosine) {
    const double g2 = anisotropy * anisotropy;
    const double spread = 1.0 + g2 - 2.0 * anisotropy * cosine;
    return (1.0 - g2) / (4.0 * base::pi * spread * std::sqrt(spread));
}

// Equation (inside.12).
double scatter_cosine(double anisotropy, double uniform) {
    // Near g = 0 the closed form loses its digits, and light goes to all sides alike.
    if (std::abs(anisotropy) < 1e-6) return 2.0 * uniform - 1.0;
    const double g2 = anisotropy * anisotropy;
    const double ratio = (1.0 - g2) / (1.0 - anisotropy + 2.0 * anisotropy * uniform);
    return std::clamp((1.0 + g2 - ratio * ratio) / (2.0 * anisotropy), -1.0, 1.0);
}

Dipole make_dipole(const Volume& volume) {
    check(volume);
    Dipole dipole;
    dipole.albedo = volume.reduced_scattering / extinction(volume);
    dipole.attenuation = std::sqrt(3.0 * volume.absorption * extinction(volume));
    dipole.real_depth = 1.0 / extinction(volume);
    dipole.virtual_depth = dipole.real_depth * depth_ratio(volume.index);
    return dipole;
}

// Equations (inside.6) and (inside.7).
double glow(const Dipole& dipole, double radius) {
    const auto term = [](double s, double z, double r) {
        const double d = std::hypot(r, z);
        return z * (1.0 + s * d) * std::exp(-s * d) / (d * d * d);
    };
    return dipole.albedo / (4.0 * base::pi) * sum_over_poles(dipole, term, radius);
}

// Equation (inside.7).
double total_reflectance(const Dipole& dipole) {
    const auto term = [](double s, double z, double) { return std::exp(-s * z); };
    return 0.5 * dipole.albedo * sum_over_poles(dipole, term, 0.0);
}

// Equation (inside.15). In units of the reduced free path: phi = C e^-z + a e^(-k z) + b e^(-k (T - z)), of which a and
// b follow from the two faces; up U = phi / 4 + phi' / 6, down W = phi / 4 - phi' / 6.
double diffuse_reflectance(const Volume& volume) {
    const Dipole dipole = make_dipole(volume);
    if (!is_layer(volume)) return total_reflectance(dipole);
    const double thickness = volume.thickness * extinction(volume);
    // Without absorption the two exponentials would be one; at k = 1 they would be the source's.
    double k = std::max(std::sqrt(3.0 * (1.0 - dipole.albedo)), 1e-5);
    if (std::abs(k - 1.0) < 1e-5) k = 1.0 + 1e-5;
    const double source = 3.0 * dipole.albedo / (k * k - 1.0);
    const auto up = [](double slope) { return 0.25 + slope / 6.0; };
    const auto down = [](double slope) { return 0.25 - slope / 6.0; };
    const double fade = std::exp(-k * thickness);
    const double beam = std::exp(-thickness);
    const double front = face_reflectance(volume.index);
    Eigen::Matrix2d faces;
    faces << down(-k) - front * up(-k), fade * (down(k) - front * up(k)), fade * (up(-k) - volume.backing * down(-k)),
        up(k) - volume.backing * down(k);
    const Eigen::Vector2d given(-source * (down(-1.0) - front * up(-1.0)),
                                beam * (volume.backing - source * (up(-1.0) - volume.backing * down(-1.0))));
    const Eigen::Vector2d amplitude = faces.inverse() * given;
    const double out = source * up(-1.0) + amplitude[0] * up(-k) + amplitude[1] * fade * up(k);
    return std::clamp((1.0 - front) * out, 0.0, 1.0);
}

std::complex<double> path_transform(const Volume& volume, double wavenumber_difference) {
    check(volume);
    const auto reflectance = [&volume](std::complex<double> absorption) {
        const std::complex<double> extinction = volume.reduced_scattering + absorption;
        const std::complex<double> attenuation = std::sqrt(3.0 * absorption * extinction);
        const std::complex<double> depth = attenuation / extinction;
        return volume.reduced_scattering / extinction *
               (std::exp(-depth) + std::exp(-depth_ratio(volume.index) * depth));
    };
    return reflectance({volume.absorption, -volume.index * wavenumber_difference}) / reflectance(volume.absorption);
}

// Equation (inside.7).
double share_within(const Dipole& dipole, double radius) {
    const auto beyond = [](double s, double z, double r) {
        const double d = std::hypot(r, z);
        return z / d * std::exp(-s * d);
    };
    return 1.0 - 0.5 * dipole.albedo * sum_over_poles(dipole, beyond, radius) / total_reflectance(dipole);
}

// Equation (inside.8).
double glow_shift(const Volume& volume, double cosine) {
    return std::sqrt(1.0 - cosine * cosine) / volume.index / extinction(volume);
}

double escape(const Volume& volume, double depth, double cosine) {
    const double passed = 1.0 - fresnel(volume.index, cosine).unpolarised();
    return passed * std::exp(-(scattering(volume) + volume.absorption) * depth / cosine_inside(volume, cosine));
}

// Equation (inside.10).
double seen_depth(const Volume& volume, double incidence, double view) {
    const double passes = 1.0 / cosine_inside(volume, incidence) + 1.0 / cosine_inside(volume, view);
    return 1.0 / (extinction(volume) * passes);
}

// Equation (inside.11).
double single_reflectance(const Volume& volume, double cosine) {
    check(volume);
    const double incident = cosine_inside(volume, cosine);
    const double n2 = volume.index * volume.index;
    const auto ring = [&](double m) {
        const double passed = 1.0 - fresnel(volume.index, m).unpolarised();
        return passed * m / (n2 * (cosine_inside(volume, m) + incident));
    };
    const double albedo = volume.reduced_scattering / extinction(volume);
    return 0.5 * albedo * boost::math::quadrature::gauss_kronrod<double, 31>::integrate(ring, 0.0, 1.0, 8, 1e-10);
}

}  // namespace spotwright::target
