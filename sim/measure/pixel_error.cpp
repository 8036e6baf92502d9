#include "sim/measure/pixel_error.hpp"

#include <boost/math/statistics/linear_regression.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/receiver/geometry.hpp"

namespace spotwright::measure {

namespace {

constexpr int places = 9;

using Readings = std::vector<std::optional<double>>;

// Of the error of readings at even steps over one pixel. Where too little light passes, between two pixels, a reading
// that noise lets pass stands on either of them: half a pixel off.
// @param width  Of a pixel, in displacement. [m]
double variance_over_pixel(const Readings& read, double width) {
    std::vector<double> errors;
    double squares = 0.0;
    for (int i = 0; i < places; ++i) {
        const std::optional<double>& each = read[static_cast<std::size_t>(i)];
        if (each) {
            errors.push_back(*each - width * i / places);
        } else {
            squares += 0.25 * width * width;
        }
    }
    if (!errors.empty()) {
        squares += boost::math::statistics::variance(errors) * static_cast<double>(errors.size());
    }
    return squares / places;
}

}  // namespace

std::optional<double> pixel_error(const sensor::TriangulationSetup& setup, double displacement) {
    const auto [near, far] = setup.scenario.mount.range;
    const receiver::Receiver& r = setup.instrument.receiver;
    const double travel = sensor::calibration_spacing(near, far) * receiver::sensitivity_at(r, displacement);
    const auto middle = receiver::image_position(r, displacement);
    if (!middle) return std::nullopt;
    std::vector<double> shifts;
    for (int i = 0; i < places; ++i) shifts.push_back(travel * (static_cast<double>(i) / places - 0.5));
    const Readings found = noiseless_readings(setup, displacement, shifts);
    std::vector<double> moved;
    std::vector<double> read;
    for (std::size_t i = 0; i < found.size(); ++i) {
        if (!found[i]) continue;
        moved.push_back(receiver::displacement_at(r, *middle + shifts[i]));
        read.push_back(*found[i]);
    }
    if (read.size() < 3) return std::nullopt;
    // Against where a spot of that image would stand. A mirrored one moves a little farther or less far: a straight
    // line through both takes that up, and what is left is the error.
    const auto [offset, slope] = boost::math::statistics::simple_ordinary_least_squares(moved, read);
    double squares = 0.0;
    for (std::size_t i = 0; i < read.size(); ++i) {
        const double left = read[i] - (offset + slope * moved[i]);
        squares += left * left;
    }
    return std::sqrt(squares / static_cast<double>(read.size() - 2));
}

// Equation (study.5a).
std::optional<double> faint_spot_error(const sensor::TriangulationSetup& setup, const sensor::Pose& smooth,
                                       const sensor::Pose& pose) {
    constexpr std::size_t few = 4;  // from five pixels on the phase matters as little as it does with light enough
    if (sensor::pixels_read(setup, pose) > few) return std::nullopt;
    const float brightest = *std::max_element(smooth.profile.rate.begin(), smooth.profile.rate.end());
    if (!(brightest > 0.0F)) return std::nullopt;
    const double pitch = setup.instrument.receiver.pitch;
    std::vector<double> shifts;  // the last closes the pixel
    for (int i = 0; i <= places; ++i) shifts.push_back(pitch * (static_cast<double>(i) / places - 0.5));
    const Readings lit = noiseless_readings(setup, pose.displacement, shifts);
    if (!lit.front() || !lit.back()) return std::nullopt;
    const double width = *lit.back() - *lit.front();
    // A spot without speckle as bright as that of the pose.
    const double exposure = sensor::expected_peak(pose) / static_cast<double>(brightest);
    const Readings faint = noiseless_readings(setup, pose.displacement, shifts, exposure);
    return std::sqrt(std::max(0.0, variance_over_pixel(faint, width) - variance_over_pixel(lit, width)));
}

}  // namespace spotwright::measure
