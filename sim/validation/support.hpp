// What the published checks share.
#pragma once

#include <string>
#include <vector>

#include "sim/scenario/scenario.hpp"
#include "sim/validation/published.hpp"

namespace spotwright::validation {

/// The sensor on which the worked values of the triangulation notes are computed: 655 nm, receiver at 30 deg, object
/// distance 60 mm, image distance 30 mm, aperture 8 mm, 1024 pixels of 10 um; a white tile; speckle off.
[[nodiscard]] scenario::Scenario worked_example_sensor();

/// Half a unit of the last of `digits` significant digits of a published value.
[[nodiscard]] double half_last_digit(double value, int digits);

/// A check against a published value of so many digits, held to its last one.
[[nodiscard]] Check printed(std::string id, std::string claim, std::string source, std::string unit, double expected,
                            int digits, double got);

/// A check against a worked value of seven digits, held to its last digit.
[[nodiscard]] Check worked(std::string id, std::string claim, std::string source, std::string unit, double expected,
                           double got);

/// Several lists of checks, one after the other.
[[nodiscard]] std::vector<Check> joined(const std::vector<std::vector<Check>>& parts);

/// Tolerance of a check that rests on random numbers: a false alarm has a chance of 6e-7.
inline constexpr double standard_errors = 5.0;

/// Standard error of a standard deviation estimated from n independent normal values, relative: 1 / sqrt(2 (n - 1)).
[[nodiscard]] double relative_error_of_deviation(double count);

}  // namespace spotwright::validation
