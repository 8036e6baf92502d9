// The fast speckle model: its law, its statistics on pixels against closed forms, and its draws.
#include <catch2/catch.hpp>

#include <boost/math/distributions/gamma.hpp>
#include <boost/math/distributions/normal.hpp>

#include <hwy/highway.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numeric>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/receiver/speckle_field.hpp"

using namespace spotwright;
using receiver::SpeckleField;

namespace {

constexpr double um = 1e-6;

// A large footprint, seen squarely through the aperture of the worked values X3: image-side NA 0.1321637.
receiver::SpeckleView worked_view(receiver::ApertureShape shape) {
    constexpr double na = 0.1321637;
    receiver::SpeckleView view;
    view.wavelength = 655e-9;
    view.irradiance = Eigen::Matrix2d::Identity() / (20e-3 * 20e-3);
    view.direction_per_aperture_position = Eigen::Matrix2d::Identity() / 50e-3;
    view.aperture = {shape, na * 50e-3, na * 50e-3};
    view.row = {1024, 10.0 * um, 1e-3 * um, 0.0, 0.0};
    return view;
}

SpeckleField field_of(double contrast, std::vector<float> taps) {
    SpeckleField field;
    field.contrast = contrast;
    field.cube_root = receiver::cube_root_of(contrast);
    field.taps = std::move(taps);
    return field;
}

// Neighbours that share much.
const std::vector<double> shared{1.0, 0.8, 0.5, 0.2, 0.05};

std::vector<float> draw(const SpeckleField& field, std::int64_t reading, std::int64_t first, std::size_t blocks) {
    std::vector<float> relative(64 * blocks);
    receiver::draw_speckle(field, 11, reading, first, relative);
    return relative;
}

double lagged(const std::vector<float>& taps, std::size_t lag) {
    double sum = 0.0;
    for (std::size_t k = 0; k + lag < taps.size(); ++k) {
        sum += static_cast<double>(taps[k]) * static_cast<double>(taps[k + lag]);
    }
    return sum;
}

}  // namespace

TEST_CASE("the cube of a normal number keeps gamma's law as closely as is claimed", "[receiver][unit]") {
    // Largest distance of the distributions by shape. At shape 1 it lies at a fiftieth of the mean, where the cube
    // gives 0.4 % of all pixels exactly zero; elsewhere such dark pixels do not occur.
    const std::vector<std::pair<double, double>> largest{{1.0, 0.013}, {2.0, 0.0034}, {4.0, 0.0017}, {8.0, 0.001}};
    for (const auto& [shape, bound] : largest) {
        const receiver::CubeRoot root = receiver::cube_root_of(1.0 / std::sqrt(shape));
        const boost::math::gamma_distribution<double> gamma(shape, 1.0 / shape);
        const boost::math::normal_distribution<double> normal;
        double worst = 0.0;
        for (double w = 1e-6; w < 10.0; w *= 1.01) {
            worst = std::max(worst, std::abs(cdf(normal, (std::cbrt(w) - root.mean) / root.deviation) - cdf(gamma, w)));
        }
        INFO("shape " << shape);
        CHECK(worst < bound);
        CHECK(worst > 0.4 * bound);  // the claim is not idle
    }
}

TEST_CASE("drawn intensities follow gamma's law", "[receiver][statistical]") {
    const double shape = GENERATE(1.0, 2.0, 5.0, 20.0, 400.0);
    const std::vector<float> drawn = draw(field_of(1.0 / std::sqrt(shape), {1.0F}), 0, 0, 2048);
    std::vector<float> sorted = drawn;
    std::sort(sorted.begin(), sorted.end());
    const boost::math::gamma_distribution<double> gamma(shape, 1.0 / shape);
    const auto n = static_cast<double>(sorted.size());
    double distance = 0.0;
    for (std::size_t i = 0; i < sorted.size(); i += 16) {
        const double w = std::max(static_cast<double>(sorted[i]), 1e-30);
        distance = std::max(distance, std::abs(cdf(gamma, w) - (static_cast<double>(i) + 0.5) / n));
    }
    // Kolmogorov and Smirnov: exceeded once in a million at 2.69 / sqrt(n), here 0.0074. The cube's own distance, see
    // above, falls as 1 over the shape from 4 on.
    const double own = shape < 2.0 ? 0.013 : shape < 4.0 ? 0.0034 : 0.0068 / shape;
    INFO("shape " << shape);
    CHECK(distance < 2.69 / std::sqrt(n) + own);
}

TEST_CASE("mean and contrast are kept, and correlation is as asked", "[receiver][statistical]") {
    const double contrast = GENERATE(1.0, 0.5, 0.1);
    const SpeckleField field = field_of(contrast, receiver::filter_taps(shared));
    const std::vector<float> drawn = draw(field, 3, 0, 4096);
    const auto n = static_cast<double>(drawn.size());
    double mean = 0.0;
    for (const float w : drawn) mean += static_cast<double>(w) / n;
    const auto covariance = [&](std::size_t lag) {
        double sum = 0.0;
        for (std::size_t i = 0; i + lag < drawn.size(); ++i) {
            sum += (static_cast<double>(drawn[i]) - mean) * (static_cast<double>(drawn[i + lag]) - mean);
        }
        return sum / n;
    };
    const double variance = covariance(0);
    // Neighbours share: as many independent draws as n over the sum of correlations 1 + 2 (0.8 + ... ) = 4.1. Gamma's
    // kurtosis is 3 + 6 / shape. Five standard errors; at contrast 1 they are 0.020 of the mean and 0.028 of contrast.
    const double independent = n / 4.1;
    CHECK(std::abs(mean - 1.0) < 5.0 * contrast / std::sqrt(independent) + 3e-5);
    CHECK(std::sqrt(variance) / contrast ==
          Approx(1.0).margin(5.0 * std::sqrt((2.0 + 6.0 * contrast * contrast) / (4.0 * independent))));
    // Normal numbers so correlated make intensities so correlated but for the cube's bend, which is known: the filter's
    // own correlation r gives (h1^2 r + 2 h2^2 r^2 + 6 h3^2 r^3) / contrast^2.
    const double c = field.cube_root.mean;
    const double s = field.cube_root.deviation;
    const double h1 = 3.0 * c * c * s + 3.0 * s * s * s;
    for (std::size_t lag = 1; lag <= 6; ++lag) {
        const double r = lagged(field.taps, lag);
        const double bent = h1 * h1 * r + 18.0 * c * c * s * s * s * s * r * r + 6.0 * std::pow(s, 6.0) * r * r * r;
        INFO("contrast " << contrast << ", lag " << lag);
        CHECK(covariance(lag) / variance ==
              Approx(bent / (contrast * contrast)).margin(5.0 * 2.0 / std::sqrt(independent)));
    }
}

TEST_CASE("the filter is short, symmetric, of unit power, and makes the correlation asked for", "[receiver][unit]") {
    const std::vector<double> independent{1.0, 0.0};
    CHECK(receiver::filter_taps(independent) == std::vector<float>{1.0F});
    for (const double width : {0.7, 2.0, 8.0, 25.0}) {
        std::vector<double> correlation;
        for (int m = 0; m < 6.0 * width + 2.0; ++m) correlation.push_back(std::exp(-0.5 * m * m / (width * width)));
        const std::vector<float> taps = receiver::filter_taps(correlation);
        CHECK(taps.size() % 2 == 1);
        CHECK(static_cast<double>(taps.size()) < 6.0 * width + 8.0);
        CHECK(std::equal(taps.begin(), taps.end(), taps.rbegin()));
        CHECK(lagged(taps, 0) == Approx(1.0).epsilon(1e-5));  // of floats
        for (std::size_t m = 1; m < correlation.size(); ++m)
            CHECK(lagged(taps, m) == Approx(correlation[m]).margin(0.006));
    }
}

TEST_CASE("any blocks of a pattern, drawn alone, come out as in the whole", "[receiver][determinism]") {
    for (const std::size_t side : {0U, 4U, 20U, 40U, 100U, 256U}) {
        std::vector<float> taps(2 * side + 1, 1.0F / std::sqrt(static_cast<float>(2 * side + 1)));
        const SpeckleField field = field_of(0.4, taps);
        const std::vector<float> whole = draw(field, 7, 0, 12);
        for (std::size_t first = 0; first < 12; ++first) {
            for (std::size_t blocks = 1; first + blocks <= 12; blocks += 2) {
                const std::vector<float> part = draw(field, 7, static_cast<std::int64_t>(first), blocks);
                INFO("side taps " << side << ", blocks " << first << " + " << blocks);
                CHECK(std::equal(part.begin(), part.end(), whole.begin() + static_cast<std::ptrdiff_t>(64 * first)));
            }
        }
        CHECK(draw(field, 8, 0, 12) != whole);
    }
}

TEST_CASE("every instruction set draws the same bits of speckle", "[receiver][determinism]") {
    const SpeckleField field = field_of(0.8, receiver::filter_taps(shared));
    hwy::SetSupportedTargetsForTest(0);
    const auto offered = static_cast<std::uint64_t>(hwy::SupportedTargets());
    const std::vector<float> usual = draw(field, 5, 2, 9);
    for (std::uint64_t bit = 1; bit != 0 && bit <= offered; bit <<= 1U) {
        if ((offered & bit) == 0) continue;
        hwy::SetSupportedTargetsForTest(static_cast<std::int64_t>(bit));
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        const std::vector<float> forced = draw(field, 5, 2, 9);
        INFO(hwy::TargetName(static_cast<std::int64_t>(bit)));
        CHECK(std::memcmp(forced.data(), usual.data(), usual.size() * sizeof(float)) == 0);
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

TEST_CASE("a speckle is as wide as the aperture says", "[receiver][unit]") {
    // FWHM of |mu|^2: 0.5144970 lambda/NA' of a round aperture, 0.8858929 lambda/(2 NA') of a slit; root finding on the
    // functions, as the value here, which a table of steps 1/512 tells to 1e-5.
    constexpr double per_na = 655e-9 / 0.1321637;
    CHECK(make_speckle_field(worked_view(receiver::ApertureShape::round)).size ==
          Approx(0.5144970 * per_na).epsilon(2e-5));
    receiver::SpeckleView slit = worked_view(receiver::ApertureShape::rectangular);
    CHECK(make_speckle_field(slit).size == Approx(0.8858929 * 0.5 * per_na).epsilon(2e-5));
    slit.du_dx = -0.4;
    CHECK(make_speckle_field(slit).size == Approx(0.4 * 0.8858929 * 0.5 * per_na).epsilon(2e-5));
}

TEST_CASE("a slit's pixels have the contrast of Goodman's integral over a rectangle", "[receiver][unit]") {
    // M = (4/c^2)[c Si(c) + cos c - 1 - Cin(c)] inverted, c = 2 pi L / l: 4.589658 for 10 um and 81.50941 for 200 um at
    // l = 2.477987 um. Quadrature over lobes and their mean far out errs by less than 1e-3.
    receiver::SpeckleView view = worked_view(receiver::ApertureShape::rectangular);
    CHECK(std::pow(make_speckle_field(view).contrast, -2.0) == Approx(4.589658).epsilon(1e-3));
    view.row.height = 200.0 * um;
    CHECK(std::pow(make_speckle_field(view).contrast, -2.0) == Approx(4.589658 * 81.50941).epsilon(2e-3));
    view.row.pitch = 200.0 * um;
    view.row.height = 10.0 * um;
    CHECK(std::pow(make_speckle_field(view).contrast, -2.0) == Approx(4.589658 * 81.50941).epsilon(2e-3));
}

TEST_CASE("light that is all added up counts the spot's coherence areas, for a round aperture", "[receiver][unit]") {
    // Pixels that take in the whole image: contrast^2 = integral of |mu|^2 times the footprint's autocorrelation,
    // by Parseval that of A_c O(q), O(q) = (2/pi)(acos q - q sqrt(1 - q^2)), over exp(-4 pi^2 sigma^2 nu^2).
    receiver::SpeckleView view = worked_view(receiver::ApertureShape::round);
    const double sigma = 12.5 * um;
    view.irradiance = Eigen::Matrix2d::Identity() / (4.0 * sigma * sigma);
    view.row = {1024, 1000.0 * um, 1000.0 * um, 0.0, 0.0};
    const double cutoff = 2.0 * 0.1321637 / 655e-9;
    double sum = 0.0;
    constexpr int steps = 20000;
    for (int i = 0; i < steps; ++i) {
        const double q = (i + 0.5) / steps;
        const double nu = q * cutoff;
        const double overlap = 2.0 / base::pi * (std::acos(q) - q * std::sqrt(1.0 - q * q));
        sum += overlap * std::exp(-std::pow(2.0 * base::pi * sigma * nu, 2.0)) * 2.0 * base::pi * nu * cutoff / steps;
    }
    // Along the array the model is a Gaussian beam's, which a round aperture is not quite: half a per cent.
    const double coherence_area = std::pow(655e-9 / 0.1321637, 2.0) / base::pi;
    CHECK(std::pow(make_speckle_field(view).contrast, 2.0) == Approx(coherence_area * sum).epsilon(5e-3));
}

TEST_CASE("polarisation, line and roughness lower contrast as they lower the pattern's", "[receiver][unit]") {
    receiver::SpeckleView view = worked_view(receiver::ApertureShape::round);
    const SpeckleField full = make_speckle_field(view);
    view.coherence.polarisation_degree = 0.0;
    CHECK(make_speckle_field(view).contrast == Approx(full.contrast * std::sqrt(0.5)).epsilon(1e-12));
    view.coherence = {1.0, 5e3, 50.0 * um};
    CHECK(make_speckle_field(view).pattern_contrast ==
          Approx(receiver::pattern_contrast(view.coherence)).epsilon(1e-12));  // seen squarely: no slant
    view.direction = {0.7, 0.0};
    CHECK(make_speckle_field(view).pattern_contrast < receiver::pattern_contrast(view.coherence));
}

TEST_CASE("a pixel much smaller than a speckle sees the whole contrast, and its neighbour the same light",
          "[receiver][unit]") {
    receiver::SpeckleView view = worked_view(receiver::ApertureShape::round);
    view.row.pitch = 0.05 * um;
    const SpeckleField field = make_speckle_field(view);
    // |mu|^2 is 1 - pi^2 (d NA / lambda)^2 near 1: less 1e-3 over a pixel, some 1e-3 from pixel to pixel.
    CHECK(field.contrast == Approx(1.0).margin(1e-3));
    CHECK(field.correlation[1] == Approx(1.0).margin(2e-3));
    // 51 pixels, 2.55 um, are the full width at half maximum.
    CHECK(field.correlation[51] < 0.06);
    CHECK(field.correlation[25] == Approx(0.5).margin(0.03));
}
