// A clear plane-parallel plate in air: the powers of its reflections, and how thick it looks.
#pragma once

#include <complex>

#include "sim/target/fresnel.hpp"

namespace spotwright::target {

/// Faces of a plate without absorption.
struct Plate {
    double index = 1.5;                     ///< real refractive index against air, >= 1. [1]
    std::complex<double> behind{1.0, 0.0};  ///< index of what the back face touches, against air; 1: air. [1]
};

/// Power of one reflection, as a share of the incident power of each polarisation. [1]
/// order 0: the front, R1; 1: the back, (1 - R1)^2 R2; k: (1 - R1)^2 R2^k R1^(k-1). Products are formed for each
/// polarisation, so `unpolarised()` averages after them. Sums of powers: spots that lie apart, or a plate much
/// thicker than the coherence length. R1 from inside equals R1 from outside (G. Stokes, 1849).
/// Source: derived; Fresnel's equations as in `fresnel`.
/// @param cosine  Of the angle of incidence in air, 0 to 1. [1]
/// @throws DomainError  Order negative or index below 1.
[[nodiscard]] Fresnel plate_reflection(const Plate& plate, double cosine, int order);

/// Sum of the reflections of all orders, R1 + (1 - R1)^2 R2 / (1 - R1 R2), or as much of it as begins with the given
/// order. [1]
/// @throws DomainError  As `plate_reflection`.
[[nodiscard]] Fresnel plate_reflections_from(const Plate& plate, double cosine, int first_order);

/// Power that passes both faces at the first go, (1 - R1)(1 - R2): what lights a part seen through a cover. [1]
/// @throws DomainError  Index below 1.
[[nodiscard]] Fresnel plate_passed(const Plate& plate, double cosine);

/// Thickness that a triangulating sensor sees between the faces of a plate, exact for thin pencils:
///     t_app = t (tan e' + tan r') / (tan e + tan r),   sin a' = sin a / n.
/// A symmetric mount has e = r = a and t_app = t cos a / sqrt(n^2 - sin^2 a); a beam along the normal e = 0. Also
/// the apparent depth of a scatterer inside a part. Source: derived.
/// @param index  Real, against air, >= 1. [1]
/// @param emitter, receiver  Angles of the two axes from the normal, each positive on its own side of it: negative for
///     one that has crossed over. [rad]
/// @throws DomainError  Index below 1, or an angle not within +-90 deg.
[[nodiscard]] double apparent_thickness(double thickness, double index, double emitter, double receiver);

/// The thickness that looks like `apparent`: its inverse.
/// @throws DomainError  As `apparent_thickness`.
[[nodiscard]] double thickness_from(double apparent, double index, double emitter, double receiver);

}  // namespace spotwright::target
