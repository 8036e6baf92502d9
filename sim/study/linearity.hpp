// How far the readings of a range stray from a straight line, by the definitions of IEC 61298-2.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/study/sensor.hpp"

namespace spotwright::study {

struct NonLinearity {
    double offset = 0.0;   ///< of the line, at reference 0. [m]
    double slope = 0.0;    ///< of the line, error over reference. [1]
    double largest = 0.0;  ///< distance of an error from the line. [m]
};

/// Of one error curve. Independent is never above the others but least squares, which is no minimax line at all.
struct LinearityFigures {
    NonLinearity terminal;       ///< line through both ends of the range
    NonLinearity zero;           ///< through the near end, slope for the least largest distance
    NonLinearity independent;    ///< offset and slope for the least largest distance
    NonLinearity least_squares;  ///< common in data sheets
};

/// @param reference  Rising, at least three. [m]  @param error  Reading less reference at each. [m]
/// @throws DomainError  Of different lengths, too few, not rising, or not finite.
[[nodiscard]] LinearityFigures linearity_of(std::span<const double> reference, std::span<const double> error);

/// Largest difference between the errors of falling and rising runs over the same places. [m]
[[nodiscard]] double hysteresis_of(std::span<const double> rising, std::span<const double> falling);

/// Readings of one material over the range, without noise and speckle.
struct LinearityCurve {
    std::string material;
    std::vector<double> displacement;         ///< where it can be read. [m]
    std::vector<double> error;                ///< reading less truth. [m]
    std::size_t unread = 0;                   ///< places at which it cannot
    std::optional<LinearityFigures> figures;  ///< none where fewer than three places can be read
};

/// The part's own material first, then a choice of the library that shows what materials do. Each stands squarely as a
/// plane and is exposed as suits it; the part's own keeps its tilt and shape.
/// @param places  Over the range, ends included, >= 3.
[[nodiscard]] std::vector<LinearityCurve> linearity_study(const Sensor& sensor, int places, int threads);

}  // namespace spotwright::study
