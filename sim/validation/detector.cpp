#include <boost/math/statistics/linear_regression.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>
#include <utility>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/detector/frames.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

constexpr const char* emva = "EMVA 1288 release 3.1, linear signal and noise model; worked value";
constexpr double system_gain = 0.05;  // DN/e

// The array of the worked values, with equal pixels: 25 e read noise, 500 e/s dark current, gain 0.05 DN/e.
scenario::Detector equal_pixels() {
    scenario::Detector d;
    d.pixels = 1024;
    d.bits = 12;
    d.full_well = (4095.0 - 64.0) / system_gain;
    d.read_noise = 25.0;
    d.dark_current = 500.0;
    d.response_nonuniformity = 0.0;
    d.offset_nonuniformity = 0.0;
    return d;
}

struct FrameMoments {
    double mean;
    double variance;
    double count;
};

// Grey values of all pixels of many frames under even light of `electrons` per pixel and millisecond.
FrameMoments grey_values(const scenario::Detector& d, double electrons, std::int64_t frames) {
    const detector::FixedPattern pattern = detector::make_fixed_pattern(d);
    const detector::ExpectedFrame expected =
        detector::expose(d, pattern, {}, electrons / ms, 1.0 * ms, 20.0 + zero_celsius);
    std::vector<float> frame(static_cast<std::size_t>(d.pixels));
    std::vector<double> all;
    for (std::int64_t i = 0; i < frames; ++i) {
        detector::draw_frame(expected, {7}, i, 0, frame);
        all.insert(all.end(), frame.begin(), frame.end());
    }
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(all);
    return {mean, variance, static_cast<double>(all.size())};
}

// Slope of variance over mean above dark, EMVA's photon transfer: the system gain.
double photon_transfer_slope(const scenario::Detector& d, const FrameMoments& dark) {
    std::vector<double> means;
    std::vector<double> variances;
    for (int level = 1; level <= 14; ++level) {
        const FrameMoments lit = grey_values(d, 0.05 * level * d.full_well, 100);
        means.push_back(lit.mean - dark.mean);
        variances.push_back(lit.variance - dark.variance);
    }
    return boost::math::statistics::simple_ordinary_least_squares(means, variances).second;
}

}  // namespace

std::vector<Check> detector_checks() {
    const scenario::Detector d = equal_pixels();
    constexpr std::int64_t frames = 400;
    const FrameMoments dark = grey_values(d, 0.0, frames);
    const FrameMoments lit = grey_values(d, 11000.0, frames);
    const double mean_error = standard_errors * std::sqrt(lit.variance / lit.count);
    const double variance_error = standard_errors * 2.0 * relative_error_of_deviation(lit.count);
    const FrameMoments saturated = grey_values(d, 1.1 * d.full_well, 10);
    const double black = detector::make_digitiser(d).black_level;
    return {
        {"detector.grey_value", "mean grey value of 11000 e at 0.05 DN/e, dark level removed", emva, "DN", 550.025,
         lit.mean - black, mean_error, "5 standard errors of the mean of 409600 pixels"},
        {"detector.variance", "temporal variance: read, quantisation and shot noise", emva, "DN^2", 29.14708,
         lit.variance, 29.14708 * variance_error, "5 standard errors of the variance of 409600 pixels"},
        {"detector.snr", "signal over noise at 20000 photons", emva, "1", 101.8744,
         (lit.mean - dark.mean) / std::sqrt(lit.variance), 101.8744 * 0.5 * variance_error,
         "5 standard errors of the standard deviation"},
        {"detector.photon_transfer", "variance over mean, 5 to 70 % of full well, has the slope K",
         "EMVA 1288 release 3.1, photon transfer", "DN/e", system_gain, photon_transfer_slope(d, dark),
         system_gain * standard_errors * 2.0 * relative_error_of_deviation(102400.0),
         "5 standard errors of one level's variance; fourteen levels together do better"},
        {"detector.saturation", "beyond full well the variance is zero", "EMVA 1288 release 3.1, saturation", "DN^2",
         0.0, saturated.variance, 0.0, "exact"},
        {"detector.saturated_value", "beyond full well the grey value is the top digit", "12 bits, by definition", "DN",
         4095.0, saturated.mean, 0.0, "exact"},
        worked("detector.dark_current", "500 e/s at 20 C doubled every 8 K, at 40 C", emva, "e/s", 2828.427,
               detector::dark_current_at(d, 40.0 + zero_celsius)),
    };
}

}  // namespace spotwright::validation
