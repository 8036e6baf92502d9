// Distance of the readings over a range from a straight line, by the definitions of IEC 61298-2.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

struct NonLinearity {
    double offset = 0.0;   ///< of the line, at reference 0. [m]
    double slope = 0.0;    ///< of the line, error over reference. [1]
    double largest = 0.0;  ///< distance of an error from the line. [m]
};

/// Of one error curve. Independent is never above the others. Definitions: IEC 61298-2, from memory.
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
/// @throws DomainError  Of different lengths, empty, or not finite.
[[nodiscard]] double hysteresis_of(std::span<const double> rising, std::span<const double> falling);

/// Readings of one material over the range, without noise and speckle.
struct LinearityCurve {
    std::string material;
    std::vector<double> displacement;         ///< where it can be read. [m]
    std::vector<double> error;                ///< reading less truth. [m]
    std::size_t unread = 0;                   ///< displacements that cannot be read
    std::optional<LinearityFigures> figures;  ///< none where fewer than three places can be read
};

/// Materials of the library that differ in their effect: matt white, grey and black, a matt metal and one with lay,
/// glossy paint, a smooth plastic, and one that light enters.
[[nodiscard]] std::vector<std::string> materials_compared();

/// Points over a range, both ends included.
inline constexpr int places_over_range = 21;

/// The part's own material first, then others of the library. Each of these stands squarely as a plane; the part's own
/// keeps its tilt and shape. Each is exposed as suits it (pulsed light: as the scenario says). The calibration stays.
/// Materials of which the library knows nothing at the wavelength are left out.
/// @param places  Over the range, ends included.  @param progress  Curves so far, on the calling thread; may be empty.
/// @throws DomainError  Fewer than three places.
[[nodiscard]] std::vector<LinearityCurve> linearity_study(
    const sensor::Setup& setup, std::span<const std::string> others, int places, int threads,
    const std::function<void(std::int64_t done, std::int64_t all)>& progress = {});

}  // namespace spotwright::study
