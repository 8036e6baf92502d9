#include "sim/reading/calibration.hpp"

// Boost 1.74 calls `isnan` unqualified in the interpolator; the C header declares it so.
#include <math.h>  // NOLINT(modernize-deprecated-headers,hicpp-deprecated-headers)

#include <boost/math/interpolators/pchip.hpp>

#include <algorithm>

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
                                    "positions that run one way along the range");
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
    const Interpolator interpolator(std::move(positions), std::move(displacements));
    inverse_ = std::make_shared<const std::function<double(double)>>(
        [interpolator](double position) { return interpolator(position); });
}

std::optional<double> Calibration::displacement(double position) const {
    if (!(position >= lowest_ && position <= highest_)) return std::nullopt;
    return (*inverse_)(position);
}

std::optional<double> Calibration::position(double displacement) const {
    double low = lowest_;
    double high = highest_;
    const double at_low = (*inverse_)(low);
    const double at_high = (*inverse_)(high);
    const double side = at_high > at_low ? 1.0 : -1.0;
    if (!(side * displacement >= side * at_low && side * displacement <= side * at_high)) return std::nullopt;
    constexpr double close = 1e-6;
    while (high - low > close) {
        const double middle = 0.5 * (low + high);
        (side * (*inverse_)(middle) <= side * displacement ? low : high) = middle;
    }
    return 0.5 * (low + high);
}

}  // namespace spotwright::reading
