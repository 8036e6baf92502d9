// Sub-pixel position of one peak by five methods. Input: net signal (background subtracted) in electrons. Result:
// pixels from the first sample; none if the samples do not determine a position.
#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "sim/scenario/scenario.hpp"

namespace spotwright::reading {

/// Samples [first, last) that belong to the peak, and where it is highest.
struct PeakWindow {
    std::size_t first = 0;
    std::size_t last = 0;
    std::size_t highest = 0;
};

/// sum k f_k / sum f_k over the window, with f_k the signal above `floor`, negative values as zero.
/// The threshold is subtracted from the weights, so pixels enter and leave the window without a step.
[[nodiscard]] std::optional<double> centroid(std::span<const float> net, const PeakWindow& window, float floor);

/// Log-parabola through the highest sample and its neighbours: exact for a point-sampled Gaussian without background.
/// Source: D. K. Naidu, R. B. Fisher, BMVC (1991).
[[nodiscard]] std::optional<double> gauss3(std::span<const float> net, const PeakWindow& window);

/// Parabola through the same three samples. Source: as above.
[[nodiscard]] std::optional<double> parabola3(std::span<const float> net, const PeakWindow& window);

/// Zero crossing of g_i = f_{i-2} + f_{i-1} - f_{i+1} - f_{i+2}, interpolated linearly, nearest to the highest sample.
/// Source: F. Blais, M. Rioux, "Real-time numerical peak detector", Signal Processing 11, 145 (1986).
[[nodiscard]] std::optional<double> zero_crossing(std::span<const float> net, const PeakWindow& window);

/// Gaussian of free height, centre and width by maximum likelihood (Fisher scoring): each sample weighs with the
/// inverse of its variance, model electrons + `dark_variance`. Reaches the Cramer-Rao bound for a Gaussian spot.
/// @param dark_variance  Variance of a sample without light, > 0. [e^2]
[[nodiscard]] std::optional<double> gaussian_fit(std::span<const float> net, const PeakWindow& window,
                                                 double dark_variance);

/// The position by a method. Methods that do not need `floor` or `dark_variance` ignore them.
[[nodiscard]] std::optional<double> locate_peak(scenario::PeakMethod method, std::span<const float> net,
                                                const PeakWindow& window, float floor, double dark_variance);

}  // namespace spotwright::reading
