#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/sinc.hpp>
#include <boost/math/statistics/bivariate_statistics.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/pattern_measures.hpp"
#include "sim/validation/speckle.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using Eigen::Vector2d;
using receiver::ApertureShape, receiver::SpeckleView, receiver::SpecklePlan;

constexpr double na = 0.05;

// Speckle size in units of lambda / NA, from groups of patterns, whose scatter gives its error.
Check size_check(ApertureShape shape, std::string id, std::string claim, double expected) {
    const SpeckleView view = plain_speckle_view(shape, na, 0.0, 60.0 * um);
    const SpecklePlan plan = receiver::plan_speckle(view, {receiver::coarsest_pitch(view) / 2.0, 1.0});
    constexpr std::uint64_t groups = 12;
    std::vector<double> sizes;
    for (std::uint64_t group = 0; group < groups; ++group) {
        constexpr std::int64_t patterns = 16;
        const std::uint64_t seed = 100 + group;
        sizes.push_back(receiver::measure_patterns(plan, seed, patterns).size * na / worked_speckle_wavelength);
    }
    const double error = deviation_of(sizes) / std::sqrt(static_cast<double>(groups));
    return {std::move(id),
            std::move(claim),
            goodman,
            "1",
            expected,
            boost::math::statistics::mean(sizes),
            4.0 * error + 0.01 * expected,
            "four standard errors of twelve groups of sixteen patterns; 1 % for the shape of the covariance between "
            "places and for the finite spot"};
}

// Patterns that a length of pixel adds up, M = [2/L int_0^L (1 - x/L) sinc^2(x/l) dx]^-1.
double patterns_over(double length) {
    const auto integrand = [length](double x) {
        const double s = boost::math::sinc_pi(base::pi * x);
        return 2.0 / length * (1.0 - x / length) * s * s;
    };
    return 1.0 / boost::math::quadrature::gauss_kronrod<double, 61>::integrate(integrand, 0.0, length, 12, 1e-9);
}

// Contrast of pixels near the middle of a spot that is wide against them.
double pixel_contrast(const SpeckleView& view, std::int64_t patterns, int threads, double& samples) {
    const SpecklePlan plan = receiver::plan_speckle(view);
    constexpr std::size_t pixels = 5;
    std::vector<double> all(static_cast<std::size_t>(patterns) * pixels);
    constexpr std::int64_t chunk = 20;
    base::parallel_for((patterns + chunk - 1) / chunk, threads, [&](std::int64_t part) {
        receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
        for (std::int64_t i = part * chunk; i < std::min(patterns, (part + 1) * chunk); ++i) {
            const receiver::SpecklePattern pattern =
                receiver::speckle_pattern(plan, 3, receiver::separate_patch(plan, i), workspace);
            const std::size_t first = static_cast<std::size_t>(view.row.pixels) / 2 - pixels / 2 - pattern.first;
            for (std::size_t k = 0; k < pixels; ++k) {
                all[static_cast<std::size_t>(i) * pixels + k] = static_cast<double>(pattern.intensity[first + k]);
            }
        }
    });
    samples = static_cast<double>(all.size());
    return deviation_of(all);
}

Check pixel_check(double width, double height, std::string id, std::string claim, double patterns_across, int threads) {
    const double length = worked_speckle_wavelength / (2.0 * na);
    SpeckleView view = plain_speckle_view(ApertureShape::rectangular, na, 0.0, 200.0 * um);
    view.row.pixels = 101;
    view.row.pitch = width * length;
    view.row.height = height * length;
    double samples = 0.0;
    const double expected = 1.0 / std::sqrt(patterns_over(width) * patterns_across);
    const double got = pixel_contrast(view, 300, threads, samples);
    return {std::move(id),
            std::move(claim),
            goodman,
            "1",
            expected,
            got,
            4.0 * expected * relative_error_of_deviation(samples),
            "four standard errors of the deviation of 1500 pixels"};
}

// Contrast that linewidth and roughness leave.
Check roughness_check(double linewidth, double rms_height, std::string id, double expected, const std::string& unit_row,
                      int threads) {
    SpeckleView view = plain_speckle_view(ApertureShape::round, na, 0.0, 40.0 * um);
    view.coherence.wavenumber_deviation = receiver::wavenumber_deviation(worked_speckle_wavelength, linewidth);
    view.coherence.path_deviation = (1.0 + std::cos(30.0 * degree)) * rms_height;
    const SpecklePlan plan = receiver::plan_speckle(view);
    constexpr std::int64_t patterns = 1000;
    const double got = deviation_of(middle_intensities(plan, separate_places(plan, patterns), threads));
    return {std::move(id),
            "contrast of light of a finite linewidth on a rough part, " + unit_row,
            std::string(goodman) + "; G. Parry in J. C. Dainty (ed.), Laser Speckle (1975) for the form, from memory",
            "1",
            expected,
            got,
            4.0 * expected * std::sqrt(2.0 / patterns),
            "four standard errors, those of a negative exponential's deviation at most"};
}

}  // namespace

std::vector<Check> speckle_pattern_checks(int threads) {
    constexpr double tall = 8.0;
    return {
        size_check(ApertureShape::round, "speckle.size_round",
                   "full width at half maximum of a speckle over lambda / NA, round aperture (X3.16)", 0.5144970),
        size_check(ApertureShape::rectangular, "speckle.size_rectangular",
                   "full width at half maximum of a speckle over lambda / NA, rectangular aperture (X3.18 over 2)",
                   0.8858929 / 2.0),
        pixel_check(4.0355337, tall, "speckle.pixel_wide",
                    "contrast of a pixel 4.04 correlation lengths wide (X3.20) and 8 tall", patterns_over(tall),
                    threads),
        pixel_check(1.0, 2.0 * tall, "speckle.pixel_tall",
                    "contrast of a pixel one correlation length wide (X3.26) and 16 tall", patterns_over(2.0 * tall),
                    threads),
        roughness_check(1.0 * nm, 50.0 * um, "speckle.linewidth_1nm", 0.8079405, "1 nm and 50 um rms (X3.12)", threads),
        roughness_check(5.0 * nm, 50.0 * um, "speckle.linewidth_5nm",
                        receiver::spectral_contrast(receiver::wavenumber_deviation(worked_speckle_wavelength, 5.0 * nm),
                                                    (1.0 + std::cos(30.0 * degree)) * 50.0 * um),
                        "5 nm and 50 um rms", threads)};
}

namespace {

Check correlation_check(std::string id, std::string claim, std::string source, double expected,
                        const std::vector<double>& a, const std::vector<double>& b, double error) {
    return {std::move(id),
            std::move(claim),
            std::move(source),
            "1",
            expected,
            boost::math::statistics::correlation_coefficient(a, b),
            error,
            "three standard errors of a correlation of this many pairs, at least"};
}

// Variance of the mean over a scan, over that of single readings.
Check scan_check(const SpecklePlan& plan, double step, double sigma, int threads) {
    constexpr std::int64_t scans = 160;
    const int steps = static_cast<int>(std::lround(10.0 * sigma / step));
    std::vector<double> mean(scans, 0.0);
    std::vector<double> single;
    for (int i = 0; i <= steps; ++i) {
        // Scans must not meet each other: they run across their own row of places.
        std::vector<Vector2d> places;
        for (std::int64_t k = 0; k < scans; ++k) {
            places.emplace_back(step * i, static_cast<double>(k * plan.grid.rows) * plan.grid.pitch);
        }
        const std::vector<double> found = centroids(plan, places, threads);
        const double weight = (i == 0 || i == steps ? 0.5 : 1.0) / steps;
        for (std::size_t k = 0; k < found.size(); ++k) mean[k] += weight * found[k];
        single.insert(single.end(), found.begin(), found.end());
    }
    const double ratio =
        boost::math::statistics::sample_variance(mean) / boost::math::statistics::sample_variance(single);
    return {"speckle.scan_average",
            "variance of the centroid averaged over a scan of 10 sigma along the measuring direction",
            "derived (X3.36)",
            "1",
            0.04,
            ratio,
            4.0 * 0.04 * std::sqrt(2.0 / scans),
            "four standard errors of a variance of 160 scans"};
}

}  // namespace

std::vector<Check> speckle_motion_checks(int threads) {
    const double sigma = 30.0 * um;
    const double pitch = sigma / 10.0;
    SpeckleView view = plain_speckle_view(ApertureShape::round, na, 0.0, 2.0 * sigma);
    const SpecklePlan plan = receiver::plan_speckle(view, {pitch, 1.0});
    constexpr std::int64_t pairs = 2000;
    constexpr double error = 0.05;
    const std::vector<Vector2d> places = separate_places(plan, pairs);
    const std::vector<double> still = centroids(plan, places, threads);
    const auto after = [&](double x, double y) { return centroids(plan, moved(places, {x, y}), threads); };
    const std::vector<double> still_middle = middle_intensities(plan, places, threads);
    const double quarter = 0.25 * 2.0 * na;
    view.direction.x() += quarter;
    const SpecklePlan turned = receiver::plan_speckle(view, {pitch, 1.0});
    return {correlation_check("speckle.moved_sigma",
                              "correlation of the centroid after the part moved by sigma along the measuring direction",
                              "derived (X3.33)", 0.3894004, still, after(sigma, 0.0), error),
            correlation_check("speckle.moved_two_sigma", "the same after 2 sigma", "derived (X3.34)", -0.3678794, still,
                              after(2.0 * sigma, 0.0), error),
            correlation_check("speckle.moved_across", "the same after sigma across it: exp(-1/4)", "derived", 0.7788008,
                              still, after(0.0, sigma), error),
            correlation_check("speckle.returned", "the same after the part came back", "the surface is the same", 1.0,
                              still, after(0.0, 0.0), 1e-12),
            scan_check(plan, 5.0 * pitch, sigma, threads),
            correlation_check(
                "speckle.turned_intensity",
                "correlation of intensity after a turn that moves the pattern by a quarter of the aperture",
                "derived (X3.40)", 0.4692766, still_middle, middle_intensities(turned, places, threads), 3.0 * error),
            correlation_check("speckle.turned_centroid", "correlation of the centroid after that turn",
                              "derived (X3.50)", 0.6850376, still, centroids(turned, places, threads), error)};
}

}  // namespace spotwright::validation
