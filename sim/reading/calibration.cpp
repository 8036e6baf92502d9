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

}  // namespace spotwright::reading
