// What the checks of speckle share: plain views and measures of many patterns.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/receiver/coherent_speckle.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::validation {

inline constexpr const char* goodman = "J. W. Goodman, Speckle Phenomena in Optics, 2nd ed. (SPIE 2020), from memory";
inline constexpr double worked_speckle_wavelength = 655e-9;  ///< [m]

/// A spot that is round as the receiver sees it, in focus, on an array that lies square to the view at unit scale and
/// is taller than the image; coherent light of one polarisation.
/// @param na  Sine of the aperture's half-angle (of a rectangular one, along either side). [1]
/// @param angle  Between surface normal and view. [rad]  @param radius  1/e^2. [m]
[[nodiscard]] receiver::SpeckleView plain_speckle_view(receiver::ApertureShape shape, double na, double angle,
                                                       double radius);

/// Centroids of all light on the array, one for each place of the part. [m]
[[nodiscard]] std::vector<double> centroids(const receiver::SpecklePlan& plan,
                                            const std::vector<Eigen::Vector2d>& places, int threads);

/// Intensities at the middle of the spot over their mean, one for each place. [1]
[[nodiscard]] std::vector<double> middle_intensities(const receiver::SpecklePlan& plan,
                                                     const std::vector<Eigen::Vector2d>& places, int threads);

/// Places that have nothing in common.
[[nodiscard]] std::vector<Eigen::Vector2d> separate_places(const receiver::SpecklePlan& plan, std::int64_t count);

/// The same, each moved on. [m]
[[nodiscard]] std::vector<Eigen::Vector2d> moved(std::vector<Eigen::Vector2d> places, const Eigen::Vector2d& by);

[[nodiscard]] double deviation_of(const std::vector<double>& values);

// By subject; `speckle_checks` joins them.
[[nodiscard]] std::vector<Check> speckle_pattern_checks(int threads);
[[nodiscard]] std::vector<Check> speckle_motion_checks(int threads);

}  // namespace spotwright::validation
