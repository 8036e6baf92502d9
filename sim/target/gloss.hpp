// The glossy side of a surface: a lobe of tilted mirror facets, and the part that stays a mirror.
#pragma once

#include <complex>
#include <optional>

#include <Eigen/Core>

#include "sim/emitter/polarisation.hpp"
#include "sim/scenario/material.hpp"

namespace spotwright::target {

using emitter::Polarisation;
using scenario::FacetDistribution;

/// Fine roughness of an interface at one wavelength, by smooth-surface (Rayleigh-Rice) theory; see `make_haze`.
struct HazeLobe {
    double strength = 0.0;    ///< 8 pi Rq^2 B^2 (C - 1) / lambda^4. [1/sr]
    double waves = 0.0;       ///< B over the wavelength. [1]
    double half_power = 1.5;  ///< (C + 1) / 2. [1]
    double lost = 0.0;        ///< see `haze_share`. [1]
    double lost_square = 0.0;
};

/// Roughness of an interface. One description drives mirror part and lobe: heights weaken the mirror part, slopes
/// widen the lobe. The lay of ground or turned surfaces has different slopes along and across.
struct Gloss {
    std::complex<double> index{1.5, 0.0};  ///< of the material against air. [1]
    FacetDistribution distribution = FacetDistribution::beckmann;
    double rms_height = 0.0;     ///< Rq. [m]
    double slope_along = 0.1;    ///< rms slope along the lay, > 0. [1]
    double slope_across = 0.1;   ///< rms slope across it, > 0. [1]
    double wavelength = 655e-9;  ///< [m]
    std::optional<HazeLobe> haze = std::nullopt;
};

/// Directions in the surface's own axes: x along the lay, y across, z the normal. Unit vectors that leave the surface.
using Local = Eigen::Vector3d;

/// Distribution of facet normals D, alpha = sqrt(2) times the rms slope; int D cos dw = 1. [1/sr]
/// Beckmann: exp(-q) / (pi ax ay cos^4), q = tan^2 (cos^2 phi / ax^2 + sin^2 phi / ay^2);
/// GGX: 1 / (pi ax ay cos^4 (1 + q)^2).
/// Source: B. Walter et al., EGSR (2007); E. Heitz, JCGT 3(2) (2014) for two slopes.
[[nodiscard]] double facet_density(const Gloss& gloss, const Local& half);

/// The facet normal at a quantile of its slope and an azimuth, of the distribution D cos: Beckmann tan^2 = -alpha^2
/// ln(u); GGX alpha^2 (1 - u) / u. Source: B. Walter et al., EGSR (2007).
/// @param u  Share of facets that are steeper, in (0, 1). [1]  @param azimuth  [rad]
[[nodiscard]] Local facet_at(const Gloss& gloss, double u, double azimuth);

/// Smith's Lambda: shadowed over visible facets seen from a direction. [1]  Source: E. Heitz, JCGT 3(2) (2014).
[[nodiscard]] double smith_lambda(const Gloss& gloss, const Local& direction);

/// @param wavelength  [m]
[[nodiscard]] HazeLobe make_haze(const scenario::Haze& haze, double wavelength);

/// Share of the reflected light that is haze: c (lost + lost_square c), c the cosine of incidence. [1]
/// No less than the hemispherical integral of `haze_scatter`, and within 0.06 times (4 pi Rq / lambda)^2 of it.
[[nodiscard]] double haze_share(const Gloss& gloss, double cosine);

/// Haze: strength cos_i cos_o sqrt(R_i R_o) (1 + (B f)^2)^(-(C + 1) / 2), lambda f the sum of both directions along the
/// face. [1/sr] Source: S. O. Rice, Comm. Pure Appl. Math. 4, 351 (1951); E. L. Church, H. A. Jenkinson, J. M. Zavada,
/// Opt. Eng. 18, 125 (1979); J. C. Stover, Optical Scattering, SPIE Press; R Fresnel's reflectance, unpolarised; of
/// polarised light times the face's reflectance for it over R_i.
/// @param light  Its direction in the surface's own axes.
[[nodiscard]] double haze_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view,
                                  const Polarisation& light = {});

/// Share of the reflected light that stays a mirror's: exp(-(4 pi Rq cos / lambda)^2), less the haze's part of it. [1]
/// Source: H. E. Bennett, J. O. Porteus, JOSA 51, 123 (1961).
[[nodiscard]] double mirror_share(const Gloss& gloss, double cosine);

/// Share of the reflected light that the facets' lobe has: neither mirror's nor haze, of both directions the smaller.
/// [1]
[[nodiscard]] double facet_light_share(const Gloss& gloss, double cosine_light, double cosine_view);

/// Lobe of the facets, F D G / (4 cos_i cos_o), height-correlated G = 1 / (1 + Lambda_i + Lambda_o), times
/// `facet_light_share`, 1 - max(mirror_share_i, mirror_share_o) without haze: reciprocal, and never more than F with
/// the mirror part. [1/sr] Source: K. Torrance, E. Sparrow, JOSA 57, 1105 (1967); R. Cook, K. Torrance, ACM TOG 1, 7
/// (1982). F is that of the facet for the light's polarisation.
/// @param light  Its direction in the surface's own axes.
[[nodiscard]] double facet_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view,
                                   const Polarisation& light = {});

/// Facets and haze together. [1/sr]
[[nodiscard]] double glossy_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view,
                                    const Polarisation& light = {});

}  // namespace spotwright::target
