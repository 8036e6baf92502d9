#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <functional>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/detector/frames.hpp"
#include "sim/reading/peak.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using reading::PeakWindow;
using scenario::PeakMethod;

// Light of a Gaussian spot on pixels without gaps: differences of the error function.
std::vector<float> gaussian_pixels(double deviation, double centre, std::size_t pixels, double electrons) {
    std::vector<float> result(pixels);
    for (std::size_t k = 0; k < pixels; ++k) {
        const auto x = static_cast<double>(k) - centre;
        const double scale = 1.0 / (std::sqrt(2.0) * deviation);
        result[k] = static_cast<float>(0.5 * electrons * (std::erf((x + 0.5) * scale) - std::erf((x - 0.5) * scale)));
    }
    return result;
}

PeakWindow window_about_highest(std::span<const float> samples, std::size_t half_width) {
    const auto highest = static_cast<std::size_t>(std::max_element(samples.begin(), samples.end()) - samples.begin());
    return {highest - half_width, highest + half_width + 1, highest};
}

double located(PeakMethod method, double deviation, double centre, std::size_t half_width) {
    const std::vector<float> samples = gaussian_pixels(deviation, centre, 41, 1e6);
    const PeakWindow window = window_about_highest(samples, half_width);
    return reading::locate_peak(method, samples, window, 0.0F, 1.0).value();
}

// Largest systematic error over all places of the spot within a pixel.
double largest_bias(PeakMethod method, double deviation, std::size_t half_width) {
    double largest = 0.0;
    for (int i = -500; i <= 500; ++i) {
        const double centre = 20.0 + i * 0.000999;  // short of the edge of the pixel, where the window would jump
        largest = std::max(largest, std::abs(located(method, deviation, centre, half_width) - centre));
    }
    return largest;
}

std::vector<Check> bias_checks() {
    constexpr const char* single = "D. K. Naidu, R. B. Fisher, BMVC (1991) for the estimators; worked value";
    constexpr const char* blais = "F. Blais, M. Rioux, Signal Processing 11, 145 (1986); worked value";
    constexpr const char* table = "largest error over pixel phase, computed independently; worked value";
    constexpr const char* phase_step = "phases to +-0.4995 px in other steps, and float samples: 1e-3 of the value";
    const auto biased = [&](const char* id, const char* claim, PeakMethod method, double deviation,
                            std::size_t half_width, double expected) {
        return Check{
            id, claim, table, "px", expected, largest_bias(method, deviation, half_width), 1e-3 * expected, phase_step};
    };
    const auto once = [](const char* id, const char* claim, const char* source, PeakMethod method,
                         std::size_t half_width, double expected) {
        Check check = worked(id, claim, source, "px", expected, located(method, 1.0, 20.3, half_width) - 15.0);
        check.tolerance += 3e-7;
        check.why += ", and float samples: 6e-8 of the highest, over a curvature of about 0.3 of it";
        return check;
    };
    return {
        once("peak.gauss3", "log-parabola on a pixel-integrated spot, sigma 1 px at 5.3 px", single, PeakMethod::gauss3,
             3, 5.300127),
        once("peak.parabola3", "parabola on the same samples", single, PeakMethod::parabola3, 3, 5.256198),
        once("peak.centroid3", "centroid of three pixels on the same samples", single, PeakMethod::centroid, 1,
             5.152822),
        once("peak.zero_crossing", "filtered zero crossing on the same samples", blais, PeakMethod::zero_crossing, 3,
             5.315310),
        biased("peak.bias.centroid7", "centroid of seven pixels, sigma 1 px", PeakMethod::centroid, 1.0, 3,
               0.004612727),
        biased("peak.bias.parabola3", "parabola, sigma 1 px", PeakMethod::parabola3, 1.0, 3, 0.04380622),
        biased("peak.bias.gauss3", "log-parabola, sigma 0.6 px", PeakMethod::gauss3, 0.6, 3, 0.002194037),
        biased("peak.bias.zero_crossing", "filtered zero crossing, sigma 1 px", PeakMethod::zero_crossing, 1.0, 4,
               0.01786009),
        biased("peak.s_curve", "pixel-phase error of the whole centroid, sigma 0.5 px", PeakMethod::centroid, 0.5, 12,
               0.002289248),
    };
}

std::vector<Check> window_checks() {
    // A tenfold finer sampling of the worked spot (1.5 px wide, window 7 px, 0.4 px off centre) comes close to the
    // continuous signal that the formula is written for.
    const std::vector<float> fine = gaussian_pixels(15.0, 154.0, 301, 1e6);
    const double truncated = (reading::centroid(fine, {115, 186, 154}, 0.0F).value() - 154.0) / 10.0;

    std::vector<float> on_background = gaussian_pixels(2.0, 19.0, 31, 1e4);
    for (float& sample : on_background) sample += 5.0F;
    const double pulled = reading::centroid(on_background, {0, 31, 19}, 0.0F).value() - 19.0;
    return {
        {"peak.window", "a centroid window 0.4 px off the spot pulls the centroid back to its own centre",
         "sigma (phi(A) - phi(B)) / (Phi(B) - Phi(A)), derived; evaluated for a window of 7.1 px", "px", -0.04837137,
         truncated, 5e-5, "sampling step h = 0.1 px: h^2 / 12 times the density's step across the window, 2e-5"},
        {"peak.background", "5 e left per pixel pull the centroid of 1e4 e towards the middle of 31 pixels",
         "-B n (x0 - xw) / (N + B n), derived; worked value", "px", -0.06105367, pulled, 1e-6,
         "float samples; the spot's light beyond the window, 1e-8"},
    };
}

struct Scatter {
    double bound;     // Cramer-Rao, standard deviation. [px]
    double fit;       // [px]
    double centroid;  // [px]
    double relative_error;
};

// Var >= 1 / sum (N dp/dx)^2 / (N p + B), by central differences of the pixel-integrated spot.
double cramer_rao(double deviation, double electrons, double variance, double centre, std::size_t pixels) {
    constexpr double step = 1e-3;
    double information = 0.0;
    for (std::size_t k = 0; k < pixels; ++k) {
        const auto light = [&](double at) {
            const double x = static_cast<double>(k) - at;
            const double scale = 1.0 / (std::sqrt(2.0) * deviation);
            return 0.5 * electrons * (std::erf((x + 0.5) * scale) - std::erf((x - 0.5) * scale));
        };
        const double slope = (light(centre + step) - light(centre - step)) / (2.0 * step);
        const double noise = light(centre) + variance;
        if (noise > 0.0) information += slope * slope / noise;
    }
    return 1.0 / std::sqrt(information);
}

// Spots of 1e4 electrons, 1.5 px wide, at 20.0 px, with Poisson counts and normal read noise.
Scatter scatter(double read_noise) {
    constexpr std::size_t pixels = 64;
    constexpr std::int64_t frames = 20000;
    detector::ExpectedFrame expected;
    expected.electrons = gaussian_pixels(1.5, 20.0, pixels, 1e4);
    expected.offset.assign(pixels, 0.0F);
    std::vector<float> counts(pixels);
    std::vector<float> normals(pixels);
    std::vector<double> by_fit;
    std::vector<double> by_centroid;
    for (std::int64_t i = 0; i < frames; ++i) {
        detector::draw_counts(expected, {11}, i, 0, counts);
        base::fill_normals({11, base::Stream::read_noise}, i, 0, normals);
        for (std::size_t k = 0; k < pixels; ++k) counts[k] += static_cast<float>(read_noise) * normals[k];
        const PeakWindow window = window_about_highest(std::span(counts).first(41), 6);
        const auto fit = reading::gaussian_fit(counts, window, read_noise * read_noise + 0.01);
        if (fit) by_fit.push_back(*fit);
        by_centroid.push_back(reading::centroid(counts, window, 0.0F).value_or(0.0));
    }
    const auto deviation = [](const std::vector<double>& v) {
        return std::sqrt(boost::math::statistics::mean_and_sample_variance(v).second);
    };
    return {cramer_rao(1.5, 1e4, read_noise * read_noise, 20.0, pixels), deviation(by_fit), deviation(by_centroid),
            relative_error_of_deviation(static_cast<double>(by_fit.size()))};
}

std::vector<Check> scatter_checks() {
    constexpr const char* winick = "K. A. Winick, JOSA A 3, 1809 (1986), Cramer-Rao bound; worked value";
    const Scatter shot = scatter(0.0);
    const Scatter read = scatter(25.0);
    const auto never_below = [&](const char* id, const char* claim, const Scatter& s, double got) {
        return Check{id,
                     claim,
                     winick,
                     "px",
                     s.bound,
                     got,
                     standard_errors * s.relative_error * s.bound,
                     "5 standard errors of a deviation from 20000 spots",
                     Relation::at_least};
    };
    const auto within_a_tenth = [&](const char* id, const char* claim, const Scatter& s) {
        return Check{id,
                     claim,
                     winick,
                     "px",
                     1.1 * s.bound,
                     s.fit,
                     standard_errors * s.relative_error * s.bound,
                     "10 % above the bound, and 5 standard errors",
                     Relation::at_most};
    };
    return {
        worked("peak.bound", "Cramer-Rao bound of 1e4 electrons, sigma 1.5 px, shot noise alone", winick, "px",
               0.01527525, shot.bound),
        worked("peak.bound.read", "the same with 25 e read noise", winick, "px", 0.02144764, read.bound),
        never_below("peak.fit.not_below", "the fit scatters no less than the bound in shot noise", shot, shot.fit),
        within_a_tenth("peak.fit.efficient", "the fit comes within a tenth of the bound in shot noise", shot),
        within_a_tenth("peak.fit.efficient.read", "and with read noise", read),
        never_below("peak.centroid.not_below", "the centroid scatters no less than the bound in shot noise", shot,
                    shot.centroid),
        never_below("peak.centroid.not_below.read", "and with read noise", read, read.centroid),
    };
}

std::vector<double> smoothed(std::int64_t average, std::int64_t median, std::size_t count,
                             const std::function<double(std::size_t)>& input) {
    scenario::Reading options;
    options.average = average;
    options.median = median;
    reading::Smoother smoother(options);
    std::vector<double> outputs;
    for (std::size_t i = 0; i < count; ++i) {
        const double output = smoother.push(input(i)).value();
        if (smoother.readings_to_settle() == 0) outputs.push_back(output);
    }
    return outputs;
}

std::vector<Check> smoothing_checks() {
    constexpr const char* oppenheim = "A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing; worked value";
    constexpr const char* david = "H. A. David, H. N. Nagaraja, Order Statistics; worked value";
    constexpr std::size_t count = 200000;
    std::vector<float> normals(count / 64 * 64 + 64);
    base::fill_normals({3, base::Stream::read_noise}, 0, 0, normals);
    const auto noise = [&normals](std::size_t i) { return static_cast<double>(normals[i]); };
    const auto variance = [](const std::vector<double>& v) {
        return boost::math::statistics::mean_and_sample_variance(v).second;
    };
    const auto independent = [](double n) { return standard_errors * 2.0 * relative_error_of_deviation(n); };

    // 100 Hz at 1 kHz through an average of 16: the largest output over whole periods is the response, for outputs fall
    // on ten phases of the sine; sine and cosine together take it exactly.
    const double turn = 2.0 * base::pi * 0.1;
    const auto sine = smoothed(16, 1, 26, [turn](std::size_t i) { return std::sin(turn * static_cast<double>(i)); });
    const auto cosine = smoothed(16, 1, 26, [turn](std::size_t i) { return std::cos(turn * static_cast<double>(i)); });
    const auto step = smoothed(16, 1, 39, [](std::size_t i) { return i < 31 ? 0.0 : 1.0; });
    return {
        {"smoothing.average16", "an average of 16 lowers the variance of white noise to 1/16", oppenheim, "1",
         1.0 / 16.0, variance(smoothed(16, 1, count, noise)), independent(count / 16.0) / 16.0,
         "5 standard errors of a variance from 12500 independent outputs"},
        {"smoothing.median3", "a median of 3 lowers the variance of normal noise to 1 - sqrt(3)/pi", david, "1",
         0.448671105, variance(smoothed(1, 3, count, noise)), 0.448671105 * independent(count / 3.0),
         "5 standard errors, at least a third of the outputs being independent"},
        {"smoothing.median5", "and a median of 5", david, "1", 0.286833662, variance(smoothed(1, 5, count, noise)),
         0.286833662 * independent(count / 5.0), "as above, a fifth"},
        worked("smoothing.response", "response of an average of 16 at 1 kHz to 100 Hz", oppenheim, "1", 0.1923552,
               std::hypot(sine.back(), cosine.back())),
        {"smoothing.step", "half of a step is followed after half of the window", oppenheim, "1", 0.5, step.back(),
         1e-15, "rounding"},
    };
}

}  // namespace

std::vector<Check> peak_checks() {
    return joined({bias_checks(), window_checks(), scatter_checks(), smoothing_checks()});
}

}  // namespace spotwright::validation
