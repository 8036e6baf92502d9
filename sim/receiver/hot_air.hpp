// Hot air between sensor and part: its eddies bend the light, and the spot wanders.
#pragma once

#include <cstdint>
#include <vector>

namespace spotwright::receiver {

/// Air over the part whose refractive index varies at random, alike at every height.
struct HotAir {
    double structure_constant = 0.0;  ///< C_n^2. [m^(-2/3)]
    double height = 0.0;              ///< over the part. [m]
    double inner_scale = 0.0;         ///< l_0; 0: none. [m]
    double outer_scale = 0.0;         ///< L_0; 0: endless. [m]
};

/// Light through that air, to the part and back.
struct AirPaths {
    double beam_radius = 0.0;      ///< 1/e^2, all along the air. [m]
    double aperture_radius = 0.0;  ///< of the lens. [m]
    double lens_distance = 0.0;    ///< from the part. [m]
    double beam_angle = 0.0;       ///< from the normal of the part. [rad]
    double view_angle = 0.0;       ///< of the receiver, likewise. [rad]
};

/// Spectrum of the refractive index by von Karman with an inner scale,
/// Phi(k) = 0.033 C_n^2 exp(-k^2 / k_m^2) (k^2 + k_0^2)^(-11/6), k_m = 5.92 / l_0, k_0 = 2 pi / L_0. [m^3]
/// Source: L. C. Andrews, R. L. Phillips, Laser Beam Propagation through Random Media, 2nd ed., ch. 3, from memory.
/// Equation (air.1).
/// @param wavenumber  Of the eddies, > 0. [rad/m]
[[nodiscard]] double index_spectrum(const HotAir& air, double wavenumber);

/// What of the wander of a reading comes from eddies of one wavenumber: its variance is the integral of this over the
/// wavenumber. Geometrical optics, Markov's approximation; beam and view bend each by themselves over their width, and
/// together where they lie nearer to each other than an eddy is wide: what bends both alike cancels, as light that goes
/// back where it came from shows no wander. Derived. [m^2 per rad/m]
/// Equation (air.2).
[[nodiscard]] double wander_density(const HotAir& air, const AirPaths& paths, double wavenumber);

/// Variance of a reading by hot air: of displacement along the normal. [m^2]
[[nodiscard]] double wander_variance(const HotAir& air, const AirPaths& paths);

/// Variance, along one axis, of the place where a beam lands that crosses the air: the same with the beam alone. [m^2]
[[nodiscard]] double beam_wander_variance(const HotAir& air, double beam_radius);

/// Variance, along one axis, of the angle under which a round aperture sees a point at the other side of the air.
/// [rad^2]
[[nodiscard]] double arrival_variance(const HotAir& air, double aperture_radius);

/// A part of the wander: an eddy that drifts through the light.
struct Drift {
    double angular_frequency = 0.0;  ///< [rad/s]
    double amplitude = 0.0;          ///< of displacement. [m]
    double phase = 0.0;              ///< [rad]
};

/// Wander in time, as a sum of drifts of equal amplitude: their wavenumbers divide `wander_density` evenly, frozen
/// eddies drift past with the speed, in any direction (Taylor's hypothesis). Over many seeds the sum has the variance
/// of `wander_variance` and the spectrum that goes with it. Empty in calm air. Equation (air.4).
[[nodiscard]] std::vector<Drift> wander_in_time(const HotAir& air, const AirPaths& paths, double speed,
                                                std::uint64_t seed);

}  // namespace spotwright::receiver
