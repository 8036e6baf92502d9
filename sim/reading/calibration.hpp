// The sensor's calibration: displacement against the spot position read on a matt white reference tile.
#pragma once

#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

namespace spotwright::reading {

/// One calibration point: displacement of the tile and position of its spot.
struct CalibrationPoint {
    double displacement = 0.0;  ///< [m]
    double position = 0.0;      ///< [px]
};

/// Displacement against spot position: monotone cubic through the calibration points.
/// Source of the interpolation: F. N. Fritsch, R. E. Carlson, SIAM J. Numer. Anal. 17, 238 (1980), by Boost.Math.
class Calibration {
public:
    /// @param points  At least four, displacement rising; position falling or rising.
    /// @throws DomainError  Positions neither rise nor fall throughout: the geometry is ambiguous.
    explicit Calibration(const std::vector<CalibrationPoint>& points);

    /// Displacement of a spot position; none outside the calibrated positions. [m]
    [[nodiscard]] std::optional<double> displacement(double position) const;

    /// Inverse of `displacement`, by halving, to a millionth of a pixel; none outside the calibrated displacements.
    /// [px]
    [[nodiscard]] std::optional<double> position(double displacement) const;

    /// Ends of the calibrated positions. [px]
    [[nodiscard]] double lowest() const { return lowest_; }
    [[nodiscard]] double highest() const { return highest_; }

private:
    // Part of the curve between two calibration points.
    struct Segment {
        double position = 0.0;          // where it begins. [px]
        double length = 0.0;            // [px]
        std::array<double, 2> value{};  // displacement at its ends. [m]
        std::array<double, 2> slope{};  // there. [m/px]
    };
    struct Curve {
        std::vector<Segment> segments;
        double end = 0.0;  // displacement at the highest position. [m]
        std::vector<std::uint32_t>
            at_cell;  // index of the segment in which a cell begins; cells share the positions evenly
        double cells_per_pixel = 0.0;
    };

    [[nodiscard]] double at(double position) const;

    double lowest_ = 0.0;
    double highest_ = 0.0;
    std::shared_ptr<const Curve> curve_;
};

}  // namespace spotwright::reading
