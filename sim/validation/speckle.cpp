#include <boost/math/distributions/gamma.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/speckle.hpp"
#include "sim/validation/support.hpp"

namespace spotwright::validation {

namespace {

using namespace base;
using receiver::ApertureShape, receiver::SpeckleView, receiver::SpecklePlan;

// Mean of the overlap of an aperture with itself, over shifts as the footprint's transform weighs them: the factor F
// of a footprint that is not large against a speckle.
double finite_spot_factor(ApertureShape shape, double na, double sigma) {
    const double kappa = 2.0 * base::pi * base::pi * sigma * sigma;
    const double widest = 2.0 * na / worked_speckle_wavelength;
    using Rule = boost::math::quadrature::gauss_kronrod<double, 31>;
    if (shape == ApertureShape::round) {
        const auto overlap = [&](double shift) {
            const double q = shift / widest;
            const double o = 2.0 / base::pi * (std::acos(q) - q * std::sqrt(1.0 - q * q));
            return 4.0 * kappa * o * std::exp(-2.0 * kappa * shift * shift) * shift;
        };
        return Rule::integrate(overlap, 0.0, std::min(widest, 6.0 / std::sqrt(kappa)), 12, 1e-9);
    }
    const auto overlap = [&](double shift) {
        return 2.0 * std::sqrt(2.0 * kappa / base::pi) * (1.0 - shift / widest) *
               std::exp(-2.0 * kappa * shift * shift);
    };
    const double one_axis = Rule::integrate(overlap, 0.0, std::min(widest, 6.0 / std::sqrt(kappa)), 12, 1e-9);
    return one_axis * one_axis;
}

struct Spot {
    double angle;
    double radius;  // 1/e^2, as the receiver sees it. [m]
};

// Displacement scatter of three spots and angles through one aperture, over the closed form of a large spot.
Check scatter_check(ApertureShape shape, double na, const std::array<Spot, 3>& spots, int threads) {
    constexpr std::int64_t patterns = 240;
    const bool round = shape == ApertureShape::round;
    double squares = 0.0;
    for (const Spot& spot : spots) {
        const SpecklePlan plan = receiver::plan_speckle(plain_speckle_view(shape, na, spot.angle, spot.radius));
        const double large = (round ? 1.0 / std::sqrt(2.0) : std::sqrt(base::pi / 8.0)) * worked_speckle_wavelength /
                             (2.0 * base::pi * na * std::sin(spot.angle));
        const double finite = std::sqrt(finite_spot_factor(shape, na, spot.radius / 2.0));
        const double got =
            deviation_of(centroids(plan, separate_places(plan, patterns), threads)) / std::sin(spot.angle);
        squares += got * got / (large * large * finite * finite) / static_cast<double>(spots.size());
    }
    const double error = 4.0 * relative_error_of_deviation(patterns * static_cast<double>(spots.size()));
    return {fmt::format("speckle.scatter_{}_{:g}", round ? "round" : "square", na),
            fmt::format("scatter of displacement of three Gaussian spots at three angles, {} aperture of NA {:g}, over "
                        "lambda / (2 pi NA sin(theta)) times {}",
                        round ? "round" : "square", na, round ? "1/sqrt(2)" : "sqrt(pi/8)"),
            "derived; R. G. Dorsch, G. Haeusler, J. M. Herrmann, Appl. Opt. 33, 1306 (1994) for the form; finite spots "
            "by the overlap of the aperture with itself",
            "1",
            1.0,
            std::sqrt(squares),
            error,
            "four standard errors of the deviations, 720 patterns"};
}

std::vector<Check> scatter_checks(int threads) {
    std::vector<Check> checks;
    const std::array<double, 3> angles{20.0 * degree, 30.0 * degree, 45.0 * degree};
    const std::array<double, 3> radii{60.0 * um, 100.0 * um, 150.0 * um};
    const std::array<double, 3> apertures{0.03, 0.05, 0.08};
    for (const ApertureShape shape : {ApertureShape::round, ApertureShape::rectangular}) {
        for (std::size_t i = 0; i < apertures.size(); ++i) {
            std::array<Spot, 3> spots{};
            for (std::size_t k = 0; k < spots.size(); ++k) spots[k] = {angles[k], radii[(k + i) % radii.size()]};
            checks.push_back(scatter_check(shape, apertures[i], spots, threads));
        }
    }
    return checks;
}

// The published limit without its factor, as an order of magnitude: between half and twice.
Check rule_of_thumb(int threads) {
    constexpr std::int64_t patterns = 200;
    constexpr double na = 0.0665;
    const double angle = 30.0 * degree;
    const SpecklePlan plan = receiver::plan_speckle(plain_speckle_view(ApertureShape::round, na, angle, 60.0 * um));
    const double published = worked_speckle_wavelength / (2.0 * base::pi * na * std::sin(angle));
    return {"speckle.rule_of_thumb",
            "scatter of displacement over the published C lambda / (2 pi sin(u) sin(theta)), logarithm to the base 2",
            "R. G. Dorsch, G. Haeusler, J. M. Herrmann, Appl. Opt. 33, 1306 (1994)",
            "1",
            0.0,
            std::log2(deviation_of(centroids(plan, separate_places(plan, patterns), threads)) / std::sin(angle) /
                      published),
            1.0,
            "a rule for the order of magnitude: within a factor of two"};
}

Check scatter_of_patterns(int threads) {
    constexpr std::int64_t patterns = 600;
    SpeckleView view = plain_speckle_view(ApertureShape::round, 0.05, 30.0 * degree, 80.0 * um);
    const auto scatter = [&] {
        const SpecklePlan plan = receiver::plan_speckle(view);
        return deviation_of(centroids(plan, separate_places(plan, patterns), threads));
    };
    const double one = scatter();
    view.coherence.polarisation_degree = 0.0;
    const double two = scatter();
    return {"speckle.scatter_two_patterns",
            "scatter of the centroid with two polarisations over that with one: 1/sqrt(M), M = 2",
            std::string(goodman) + "; derived for the centroid",
            "1",
            1.0 / std::sqrt(2.0),
            two / one,
            4.0 * std::sqrt(2.0) * relative_error_of_deviation(patterns) / std::sqrt(2.0),
            "four standard errors of the ratio, 600 patterns each"};
}

// Largest distance between the distribution of samples and a gamma law of mean 1, times the root of their number.
double kolmogorov_distance(std::vector<double> samples, double shape) {
    std::sort(samples.begin(), samples.end());
    const boost::math::gamma_distribution<double> law(shape, 1.0 / shape);
    const auto n = static_cast<double>(samples.size());
    double distance = 0.0;
    for (std::size_t i = 0; i < samples.size(); ++i) {
        const double expected = boost::math::cdf(law, samples[i]);
        distance = std::max({distance, std::abs(expected - static_cast<double>(i) / n),
                             std::abs(static_cast<double>(i + 1) / n - expected)});
    }
    return distance * std::sqrt(n);
}

std::vector<Check> density_checks(int threads) {
    constexpr std::int64_t patterns = 1500;
    SpeckleView view = plain_speckle_view(ApertureShape::round, 0.05, 0.0, 40.0 * um);
    const SpecklePlan polarised = receiver::plan_speckle(view);
    view.coherence.polarisation_degree = 0.0;
    const SpecklePlan unpolarised = receiver::plan_speckle(view);
    constexpr double critical = 1.95;  // chance of 1e-3
    const std::string why = "Kolmogorov's statistic exceeds 1.95 by chance once in a thousand";
    const std::vector<double> one = middle_intensities(polarised, separate_places(polarised, patterns), threads);
    const std::vector<double> two = middle_intensities(unpolarised, separate_places(unpolarised, patterns), threads);
    return {{"speckle.density_polarised",
             "Kolmogorov-Smirnov distance of intensity from the negative exponential, times sqrt(1500)", goodman, "1",
             critical, kolmogorov_distance(one, 1.0), 0.0, why, Relation::at_most},
            {"speckle.density_two_patterns",
             "Kolmogorov-Smirnov distance of intensity from the gamma law of M = 2, times sqrt(1500)", goodman, "1",
             critical, kolmogorov_distance(two, 2.0), 0.0, why, Relation::at_most},
            {"speckle.contrast_polarised", "contrast at the middle of a spot, one polarisation", goodman, "1", 1.0,
             deviation_of(one), 4.0 * std::sqrt(2.0 / patterns),
             "four standard errors: sqrt(8 / n) / 2 of a negative exponential's deviation"},
            {"speckle.contrast_unpolarised", "contrast at the middle of a spot, unpolarised (X3.08)", goodman, "1",
             0.7071068, deviation_of(two), 4.0 * 0.7071068 * std::sqrt(1.25 / patterns),
             "four standard errors: sqrt(5 / n) / 2 of that gamma law's deviation"}};
}

}  // namespace

std::vector<Check> speckle_checks(int threads) {
    return joined({density_checks(threads),
                   speckle_pattern_checks(threads),
                   speckle_motion_checks(threads),
                   scatter_checks(threads),
                   {scatter_of_patterns(threads), rule_of_thumb(threads)}});
}

}  // namespace spotwright::validation
