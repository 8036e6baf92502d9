// How coherent scattered light is: what is left of a speckle pattern's contrast.
//
// Source of the forms: J. W. Goodman, Speckle Phenomena in Optics, 2nd ed. (SPIE 2020), ch. 3 and 4, from memory; the
// equations were derived again in docs/theory/speckle.md.
#pragma once

#include <span>

#include <Eigen/Core>

#include "sim/scenario/material.hpp"
#include "sim/target/surface.hpp"
#include "sim/target/volume_paths.hpp"

namespace spotwright::receiver {

/// Light scattered by a rough part, as far as its speckle depends on it.
struct Coherence {
    double polarisation_degree = 1.0;   ///< of the scattered light: 1 one polarisation, 0 two alike. [1]
    double wavenumber_deviation = 0.0;  ///< standard deviation of a Gaussian line, see `wavenumber_deviation`. [1/m]
    double path_deviation = 0.0;        ///< standard deviation of the optical path from scatterer to scatterer. [m]
};

/// Standard deviation of the angular wavenumber of a Gaussian line, 2 pi sigma / lambda^2. [1/m]
/// @param linewidth  Full width at half maximum. [m]
[[nodiscard]] double wavenumber_deviation(double wavelength, double linewidth);

/// sqrt((1 + P^2) / 2): two polarisations that do not interfere. [1]
[[nodiscard]] double polarisation_contrast(double polarisation_degree);

/// [1 + (2 sigma_k sigma_L)^2]^(-1/4): patterns of the line's wavelengths that differ as paths do, both Gaussian. For a
/// surface sigma_L is its rms height times cos(incidence) + cos(view). [1]
[[nodiscard]] double spectral_contrast(double wavenumber_deviation, double path_deviation);

/// Square of the contrast of a line's patterns whose light has these paths: sum_ij w_i w_j exp(-(sigma_k (L_i -
/// L_j))^2) over (sum w)^2, the mean of |chi(dk)|^2 over pairs of wavelengths of a Gaussian line. [1] Source: G. Parry,
/// Opt. Acta 21, 763 (1974) and J. W. Goodman, as above: contrast from the distribution of path lengths; from memory,
/// derived again. Paths are taken on a raster of a twentieth of 1 / sigma_k: 1e-3 of the value. Equation (speckle.17).
[[nodiscard]] double path_contrast_square(std::span<const target::WeighedPath> paths, double wavenumber_deviation);

/// Contrast of a pattern before any pixel adds it up: the product of both. [1]
[[nodiscard]] double pattern_contrast(const Coherence& coherence);

/// Unit vectors that leave the surface, and the light that falls on it.
struct ScatterDirections {
    Eigen::Vector3d to_light = Eigen::Vector3d::UnitZ();
    Eigen::Vector3d to_view = Eigen::Vector3d::UnitZ();
    Eigen::Vector3d normal = Eigen::Vector3d::UnitZ();
    emitter::Polarisation light = {};
};

/// Coherence of the light that a part scatters. Its glossy lobe, reflected once, keeps the polarisation and has the
/// paths of the surface's heights; its base has what the material says; a volume's light is unpolarised, with a path
/// deviation chosen so that `spectral_contrast` gives the contrast of its own distribution of paths on this line: the
/// given paths, or those of the dipole, which also stand for a volume for which a base stands. Base and lobe count by
/// the light that either sends to the view.
/// @param paths  Of a volume, see `target::paths_in_strip`; none: those of the dipole.
[[nodiscard]] Coherence coherence_of(const scenario::Material& material, const target::Surface& surface,
                                     const ScatterDirections& directions, double wavelength, double linewidth,
                                     std::span<const target::WeighedPath> paths = {});

}  // namespace spotwright::receiver
