// Light that goes into a translucent part and comes back: one scatter on the beam's path, and the glow of many.
//
// Everything here is a share of the power that entered: the loss at the front face, 1 - R of `fresnel` at the angle of
// incidence, comes before it. The volume fills all behind a plane front face, in air, and is the same everywhere.
#pragma once

#include <complex>
#include <limits>

namespace spotwright::target {

/// A translucent volume, by its transport coefficients. A scatter turns light by an angle whose cosine has the mean g,
/// distributed as L. Henyey and J. Greenstein have it, Astrophys. J. 93, 70 (1941).
struct Volume {
    double reduced_scattering = 0.0;  ///< sigma_s' = sigma_s (1 - g), g the mean cosine of a scatter, > 0. [1/m]
    double absorption = 0.0;          ///< sigma_a, >= 0. [1/m]
    double index = 1.5;               ///< real refractive index against air, >= 1. [1]
    double anisotropy = 0.0;          ///< g, between -1 and 1; 0: to all sides alike. [1]
    double thickness = std::numeric_limits<double>::infinity();  ///< of a layer, > 0. [m]
    double backing = 0.0;  ///< diffuse reflectance of what lies below a layer, in contact with it, 0 to 1. [1]

    friend bool operator==(const Volume&, const Volume&) = default;
};

/// Reduced extinction sigma_t' = sigma_s' + sigma_a: the beam fades as exp(-sigma_t' length). [1/m]
[[nodiscard]] double extinction(const Volume& volume);

/// sigma_s = sigma_s' / (1 - g): how often light is scattered on its way. [1/m]
[[nodiscard]] double scattering(const Volume& volume);

/// Whether the volume ends at a backing.
[[nodiscard]] bool is_layer(const Volume& volume);

/// Light per steradian that a scatter sends into a direction: p = (1 - g^2) / (4 pi (1 + g^2 - 2 g c)^(3/2)). [1/sr]
/// @param cosine  c, of the angle by which it is turned. [1]
[[nodiscard]] double phase_function(double anisotropy, double cosine);

/// Cosine of the turn of a scatter for a uniform number: the inverse of the distribution, from the same source,
/// c = (1 + g^2 - ((1 - g^2) / (1 - g + 2 g u))^2) / (2 g). [1]
/// @param uniform  In [0, 1].
[[nodiscard]] double scatter_cosine(double anisotropy, double uniform);

/// The glow of light scattered often, as from a source below the face and a sink above it.
/// F_dr = -1.440 / n^2 + 0.710 / n + 0.668 + 0.0636 n, A = (1 + F_dr) / (1 - F_dr), z_r = 1 / sigma_t',
/// z_v = z_r (1 + 4 A / 3), sigma_tr = sqrt(3 sigma_a sigma_t').
/// Source: T. Farrell et al., Med. Phys. 19, 879 (1992), in the form of H. W. Jensen et al., "A practical model for
/// subsurface light transport", SIGGRAPH (2001). A diffusion model: good for sigma_s' >> sigma_a and farther than z_r
/// from where the light enters. For marble and milk its total is 0.01 below that of light traced at random.
struct Dipole {
    double albedo = 0.0;         ///< sigma_s' / sigma_t'. [1]
    double attenuation = 0.0;    ///< sigma_tr. [1/m]
    double real_depth = 0.0;     ///< z_r. [m]
    double virtual_depth = 0.0;  ///< z_v. [m]
};

/// @throws DomainError  A coefficient or the index is out of its bounds.
[[nodiscard]] Dipole make_dipole(const Volume& volume);

/// Exitance at a distance from where the light enters, per entered power: R_d(r) = albedo / (4 pi) times the sum over
/// both depths of z (1 + sigma_tr d) exp(-sigma_tr d) / d^3, d = sqrt(r^2 + z^2). [1/m^2]
[[nodiscard]] double glow(const Dipole& dipole, double radius);

/// All of the glow, albedo / 2 (exp(-sigma_tr z_r) + exp(-sigma_tr z_v)): the diffuse reflectance. [1]
[[nodiscard]] double total_reflectance(const Dipole& dipole);

/// Diffuse reflectance of a volume or a layer: the glow's total of the dipole; for a layer by diffusion with the beam's
/// own first scatters as its source, and Fresnel's and the backing's reflection at its faces:
/// U(0) is the light that comes up to the face, W that goes down, W(0) = F_dr U(0), U(T) = backing (W(T) + e^(-sigma_t'
/// T)), and R = (1 - F_dr) U(0). Of no thickness it is exactly backing (1 - F_dr) / (1 - backing F_dr). [1]
/// Source: derived; tested against published slabs. A diffusion model: within 0.03 of rays for sigma_s' > 10 sigma_a.
/// @throws DomainError  As `make_dipole`.
/// Equation (inside.15).
[[nodiscard]] double diffuse_reflectance(const Volume& volume);

/// Mean of exp(i dk L) over the optical paths L of light that the glow sends back, for a difference dk of wavenumbers
/// in air: how alike the fields of two wavelengths are. A path L = n l that absorption weakens by exp(-sigma_a l) takes
/// the phase dk n l instead, so it is R_d(sigma_a - i n dk) / R_d(sigma_a). [1]  Source: derived.
[[nodiscard]] std::complex<double> path_transform(const Volume& volume, double wavenumber_difference);

/// Share of the glow within a radius; closed form, derived: int z (1 + s d) exp(-s d) / d^2 dd = -z exp(-s d) / d. [1]
[[nodiscard]] double share_within(const Dipole& dipole, double radius);

/// Where the glow is centred for light that comes obliquely: z_r sin t' on from the place of entry, as if the source
/// sat one mean free path along the refracted beam. Without absorption this is exact for all light together, for later
/// steps go to either side alike; absorption shortens it by 1 / (1 + sigma_tr cos t' / sigma_t'), 5 % for marble. [m]
/// Source: L. Wang, S. Jacques, Appl. Opt. 34, 2362 (1995), from memory.
/// @param cosine  Of the angle of incidence in air. [1]
[[nodiscard]] double glow_shift(const Volume& volume, double cosine);

/// Share of light from a depth that reaches the air in a direction without another scatter: exp(-sigma_t depth / cos
/// t') (1 - R), sigma_t = sigma_s + sigma_a and R Fresnel's unpolarised reflectance. [1]
/// @param cosine  Of the direction in air. [1]
[[nodiscard]] double escape(const Volume& volume, double depth, double cosine);

/// Mean depth of the first scatter that is seen: weights fall as exp(-sigma_t' z (1 / cos i' + 1 / cos o')), so
/// 1 / (sigma_t' (1 / cos i' + 1 / cos o')). It looks as deep as `apparent_thickness` of it, and so reads too far. [m]
/// @param incidence, view  Cosines in air. [1]
[[nodiscard]] double seen_depth(const Volume& volume, double incidence, double view);

/// All of the once-scattered light that escapes, R_1. By depth in closed form and by angle, with m the cosine in air,
///     R_1 = albedo / 2 int_0^1 (1 - R(m)) m / (n^2 (cos' + cos i')) dm.
/// Without refraction and straight down (1 - ln 2) albedo / 2. Source: derived; S. Chandrasekhar, Radiative Transfer
/// (1950) for the limit. [1]
/// @param cosine  Of the angle of incidence in air. [1]
/// @throws DomainError  As `make_dipole`.
[[nodiscard]] double single_reflectance(const Volume& volume, double cosine);

}  // namespace spotwright::target
