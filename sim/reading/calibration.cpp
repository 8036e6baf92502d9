#include "sim/reading/calibration.hpp"

// Boost 1.74 calls `isnan` unqualified in the interpolator; the C header declares it so.
#include <math.h>  // NOLINT(modernize-deprecated-headers,hicpp-deprecated-headers)

#include <boost/math/interpolators/pchip.hpp>

#include <algorithm>

#include "sim/base/border.hpp"
#include "sim/base/errors.hpp"

namespace spotwright::reading {

Calibration::Calibration(const std::vector<CalibrationPoint>& points) {
    std::vector<CalibrationPoint> sorted = points;
    if (sorted.size() >= 2 && sorted.front().position > sorted.back().position) {
        std::reverse(sorted.begin(), sorted.end());
    }
    std::vector<double> positions;
    std::vector<double> displacements;
    for (const CalibrationPoint& point : sorted) {
        if (!positions.empty() && point.position <= positions.back()) {
            throw base::DomainError("spot position along the calibration", point.position,
                                    "positions that rise or fall all along the range");
        }
        positions.push_back(point.position);
        displacements.push_back(point.displacement);
    }
    if (positions.size() < 4) {
        throw base::DomainError("number of calibration points", static_cast<double>(positions.size()), "4 or more");
    }
    lowest_ = positions.front();
    highest_ = positions.back();
    using Interpolator = boost::math::interpolators::pchip<std::vector<double>>;
    std::vector<double> abscissas = positions;
    std::vector<double> ordinates = displacements;
    const Interpolator interpolator(std::move(abscissas), std::move(ordinates));
    auto curve = std::make_shared<Curve>();
    curve->end = displacements.back();
    for (std::size_t i = 0; i + 1 < positions.size(); ++i) {
        curve->segments.push_back({positions[i],
                                   positions[i + 1] - positions[i],
                                   {displacements[i], displacements[i + 1]},
                                   {interpolator.prime(positions[i]), interpolator.prime(positions[i + 1])}});
    }
    constexpr std::size_t cells_per_segment = 4;
    const std::size_t cells = cells_per_segment * curve->segments.size();
    curve->cells_per_pixel = static_cast<double>(cells) / (highest_ - lowest_);
    for (std::size_t cell = 0; cell < cells; ++cell) {
        const double begin = lowest_ + static_cast<double>(cell) / curve->cells_per_pixel;
        const auto next = std::upper_bound(positions.begin(), positions.end() - 1, begin);
        const std::ptrdiff_t segment = std::max<std::ptrdiff_t>(next - positions.begin() - 1, 0);
        curve->at_cell.push_back(static_cast<std::uint32_t>(segment));
    }
    curve_ = std::move(curve);
}

// The segment of the cell is the right one, or one next to it on either side of a rounded border is, or one of the few
// that begin within the cell.
double Calibration::at(double x) const {
    const Curve& curve = *curve_;
    if (x >= highest_) return curve.end;
    const auto cell = static_cast<std::size_t>((x - lowest_) * curve.cells_per_pixel);
    const Segment* segment = &curve.segments[curve.at_cell[std::min(cell, curve.at_cell.size() - 1)]];
    const Segment* last = &curve.segments.back();
    while (segment < last && x >= segment[1].position) ++segment;
    while (x < segment->position) --segment;
    // Cubic Hermite form, t = (x - x0) / dx: (1-t)^2 (y0 (1 + 2t) + s0 (x - x0)) + t^2 (y1 (3 - 2t) + dx s1 (t - 1)).
    const double along = x - segment->position;
    const double t = along / segment->length;
    return (1 - t) * (1 - t) * (segment->value[0] * (1 + 2 * t) + segment->slope[0] * along) +
           t * t * (segment->value[1] * (3 - 2 * t) + segment->length * segment->slope[1] * (t - 1));
}

// Equation (reading.7).
std::optional<double> Calibration::displacement(double position) const {
    if (!(position >= lowest_ && position <= highest_)) return std::nullopt;
    return at(position);
}

std::optional<double> Calibration::position(double displacement) const {
    const double at_low = at(lowest_);
    const double at_high = at(highest_);
    const double side = at_high > at_low ? 1.0 : -1.0;
    if (!(side * displacement >= side * at_low && side * displacement <= side * at_high)) return std::nullopt;
    constexpr double close = 1e-6;
    constexpr int most = 100;
    const auto is_before = [&](double position) { return side * at(position) <= side * displacement; };
    const auto [before, after] = base::border_between(lowest_, highest_, is_before, most, close);
    return 0.5 * (before + after);
}

}  // namespace spotwright::reading
