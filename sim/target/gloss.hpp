// The glossy side of a surface: a lobe of tilted mirror facets, and the part that stays a mirror.
#pragma once

#include <complex>

#include <Eigen/Core>

#include "sim/scenario/material.hpp"

namespace spotwright::target {

using scenario::FacetDistribution;

/// Roughness of an interface. One description drives mirror part and lobe: heights weaken the mirror part, slopes
/// widen the lobe. The lay of ground or turned surfaces has different slopes along and across.
struct Gloss {
    std::complex<double> index{1.5, 0.0};  ///< of the material against air. [1]
    FacetDistribution distribution = FacetDistribution::beckmann;
    double rms_height = 0.0;     ///< Rq. [m]
    double slope_along = 0.1;    ///< rms slope along the lay, > 0. [1]
    double slope_across = 0.1;   ///< rms slope across it, > 0. [1]
    double wavelength = 655e-9;  ///< [m]
};

/// Directions in the surface's own axes: x along the lay, y across, z the normal. Unit vectors that leave the surface.
using Local = Eigen::Vector3d;

/// Distribution of facet normals D, alpha = sqrt(2) times the rms slope; int D cos dw = 1. [1/sr]
/// Beckmann: exp(-q) / (pi ax ay cos^4), q = tan^2 (cos^2 phi / ax^2 + sin^2 phi / ay^2);
/// GGX: 1 / (pi ax ay cos^4 (1 + q)^2).
/// Source: B. Walter et al., EGSR (2007); E. Heitz, JCGT 3(2) (2014) for two slopes.
[[nodiscard]] double facet_density(const Gloss& gloss, const Local& half);

/// Smith's Lambda: shadowed over visible facets seen from a direction. [1]  Source: E. Heitz, JCGT 3(2) (2014).
[[nodiscard]] double smith_lambda(const Gloss& gloss, const Local& direction);

/// Share of the reflected light that stays a mirror's: exp(-(4 pi Rq cos / lambda)^2). [1]
/// Source: H. E. Bennett, J. O. Porteus, JOSA 51, 123 (1961).
[[nodiscard]] double mirror_share(const Gloss& gloss, double cosine);

/// Lobe of the facets, F D G / (4 cos_i cos_o), height-correlated G = 1 / (1 + Lambda_i + Lambda_o), times the share of
/// light that is no mirror's, 1 - max(mirror_share_i, mirror_share_o): reciprocal, and never more than F with it.
/// [1/sr] Source: K. Torrance, E. Sparrow, JOSA 57, 1105 (1967); R. Cook, K. Torrance, ACM TOG 1, 7 (1982).
[[nodiscard]] double glossy_scatter(const Gloss& gloss, const Local& to_light, const Local& to_view);

}  // namespace spotwright::target
