#include "sim/sensor/intensity_table.hpp"

#include <boost/math/interpolators/makima.hpp>

#include <algorithm>
#include <functional>
#include <memory>

#include "sim/base/errors.hpp"

namespace spotwright::sensor {

using Interpolator = boost::math::interpolators::makima<std::vector<double>>;

IntensityTable::IntensityTable(std::vector<double> strength, std::vector<double> delay) {
    const bool ascends = std::adjacent_find(strength.begin(), strength.end(), std::greater_equal<>()) == strength.end();
    constexpr std::size_t least_points = 4;
    if (strength.size() < least_points || strength.size() != delay.size() || !ascends) {
        throw base::DomainError("strengths of a table of corrections", static_cast<double>(strength.size()),
                                "four or more that ascend, each with a delay");
    }
    least_ = strength.front();
    greatest_ = strength.back();
    interpolate_ = [cubics = std::make_shared<const Interpolator>(std::move(strength), std::move(delay))](double x) {
        return (*cubics)(x);
    };
}

double IntensityTable::delay_at(double strength) const {
    return interpolate_(std::clamp(strength, least_, greatest_));
}

}  // namespace spotwright::sensor
