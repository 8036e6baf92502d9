// The patterns of a line's wavelengths, told as independent ones.
#pragma once

#include <vector>

#include "sim/receiver/speckle_view.hpp"

namespace spotwright::receiver {

/// Shares of the light in independent patterns that add up to the same intensity as the patterns of all wavelengths of
/// a Gaussian line, largest first, 1 in all; contrast is the root of the sum of their squares.
///
/// The fields of two wavelengths dk apart are alike by exp(-(dk sigma_L)^2 / 2), sigma_L the deviation of path from
/// scatterer to scatterer, times the overlap of the aperture with itself moved by dk / k times the direction of view:
/// the shift of their patterns over the aperture. With w the shares of the wavelengths, sum w |E|^2 is a sum of
/// independent patterns whose shares are the eigenvalues of sqrt(w_i) chi_ij sqrt(w_j).
/// Source: Karhunen and Loeve's expansion; J. W. Goodman, Speckle Phenomena in Optics, 2nd ed. (SPIE 2020), on sums of
/// correlated patterns, from memory. Drawing it so stands for very many scatterers in each resolution cell; heights
/// drawn place by place on the lattice would leave wavelengths too alike.
[[nodiscard]] std::vector<double> spectral_patterns(const SpeckleView& view);

/// Contrast before any pixel: of the polarisations, and of these patterns. [1]
[[nodiscard]] double pattern_contrast(const SpeckleView& view);

}  // namespace spotwright::receiver
