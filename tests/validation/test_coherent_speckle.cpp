// The coherent speckle model: what must hold whatever the numbers.
#include <catch2/catch.hpp>

#include <hwy/highway.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/coherent_speckle.hpp"
#include "sim/receiver/pattern_measures.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/validation/speckle.hpp"
#include "sim/sensor/speckle.hpp"
#include "sim/target/part.hpp"
#include "sim/sensor/stations.hpp"

using namespace spotwright;
using namespace spotwright::base;
using Eigen::Vector2d;
using receiver::ApertureShape, receiver::SpecklePlan, receiver::SpecklePattern, receiver::SpeckleView;

namespace {

SpeckleView view_of(double radius = 40.0 * um) {
    return validation::plain_speckle_view(ApertureShape::round, 0.05, 30.0 * degree, radius);
}

SpecklePattern pattern_of(const SpecklePlan& plan, const Vector2d& place, std::uint64_t seed = 5) {
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    return receiver::speckle_pattern(plan, seed, place, workspace);
}

// Root mean square difference of two patterns on pixels that the mean lights well, over the patterns' own deviation.
double difference(const SpecklePlan& plan, const SpecklePattern& a, const SpecklePattern& b, std::ptrdiff_t shift = 0) {
    const float bright = 0.3F * *std::max_element(plan.mean_on_pixels.begin(), plan.mean_on_pixels.end());
    double squares = 0.0;
    double own = 0.0;
    for (std::size_t k = 0; k < plan.mean_on_pixels.size(); ++k) {
        if (plan.mean_on_pixels[k] < bright) continue;
        const auto other = static_cast<std::size_t>(static_cast<std::ptrdiff_t>(k) + shift);
        squares += std::pow(static_cast<double>(a.intensity[k] - b.intensity[other]), 2);
        own += std::pow(static_cast<double>(a.intensity[k]) - 1.0, 2);
    }
    return std::sqrt(squares / own);
}

SpeckleView view_of_part(const std::vector<std::string>& settings) {
    const scenario::Scenario s =
        scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml", settings);
    const emitter::Beam beam = sensor::beam_of(s);
    const auto view =
        receiver::make_speckle_view(beam, sensor::part_of(s, s.target.displacement), sensor::receiver_of(s), {});
    REQUIRE(view);
    return *view;
}

}  // namespace

TEST_CASE("a place of the part shows the same pattern whenever it is lit, another place another", "[speckle][unit]") {
    const SpecklePlan plan = receiver::plan_speckle(view_of());
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    const Vector2d place(1.234 * mm, -0.3 * mm);
    const SpecklePattern first = receiver::speckle_pattern(plan, 5, place, workspace);
    const SpecklePattern other = receiver::speckle_pattern(plan, 5, {7.0 * mm, 0.0}, workspace);
    CHECK(receiver::speckle_pattern(plan, 5, place, workspace).intensity == first.intensity);
    CHECK(pattern_of(plan, place).intensity == first.intensity);
    // Unlike patterns differ by the root of two of their own deviation: half of that is far from chance.
    CHECK(difference(plan, first, other) > 0.7);
    CHECK(difference(plan, first, pattern_of(plan, place, 6)) > 0.7);
}

TEST_CASE("a part moved by far less than a speckle shows nearly the same pattern", "[speckle][physics]") {
    const SpecklePlan plan = receiver::plan_speckle(view_of());
    const SpecklePattern here = pattern_of(plan, {0.0, 0.0});
    // Speckles move with the part. Their covariance is about exp(-4 ln 2 (x / FWHM)^2), FWHM 6.7 um, so a move of 0.1
    // um changes a pattern by sqrt(2 (1 - that)) = 3.5 % of its deviation, on the lattice as well as off it.
    const double pitch = plan.grid.pitch;
    CHECK(difference(plan, here, pattern_of(plan, {0.03 * pitch, 0.0})) < 0.05);
    const SpecklePattern between = pattern_of(plan, {0.49 * pitch, 0.3 * pitch});
    CHECK(difference(plan, between, pattern_of(plan, {0.52 * pitch, 0.3 * pitch})) < 0.05);
}

TEST_CASE("patterns of many places average to the mean image", "[speckle][physics]") {
    SpeckleView view = view_of();
    view.du_dy = 0.3;  // rows of the image may lie shifted
    const SpecklePlan plan = receiver::plan_speckle(view);
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    constexpr int patterns = 300;
    std::vector<double> sum(plan.mean_on_pixels.size(), 0.0);
    std::vector<double> squares(sum.size(), 0.0);
    for (int i = 0; i < patterns; ++i) {
        const SpecklePattern p = receiver::speckle_pattern(plan, 5, receiver::separate_patch(plan, i), workspace);
        for (std::size_t k = 0; k < sum.size(); ++k) {
            sum[k] += static_cast<double>(p.intensity[k]);
            squares[k] += std::pow(static_cast<double>(p.intensity[k]) - 1.0, 2);
        }
    }
    for (std::size_t k = 0; k < sum.size(); ++k) {
        if (plan.mean_on_pixels[k] < 0.01F) continue;
        const double error = std::sqrt(squares[k]) / patterns;
        CHECK(std::abs(sum[k] / patterns - 1.0) < 5.0 * error);
    }
}

TEST_CASE("a wider window shows the same pattern: nothing wraps around", "[speckle][physics]") {
    const SpeckleView view = view_of();
    const SpecklePlan plan = receiver::plan_speckle(view);
    const SpecklePlan wide = receiver::plan_speckle(view, {0.0, 2.0});
    REQUIRE(wide.grid.columns >= 2 * plan.grid.columns - 8);
    const auto shift = static_cast<std::ptrdiff_t>(plan.first_pixel) - static_cast<std::ptrdiff_t>(wide.first_pixel);
    for (int i = 0; i < 3; ++i) {
        const Vector2d place = receiver::separate_patch(plan, i);
        // What the smaller window leaves out, 1e-4 of the footprint's light and a hundredth of a point's image, is
        // spread over the pattern as fields: a few per cent of its deviation.
        CHECK(difference(plan, pattern_of(plan, place), pattern_of(wide, place), shift) < 0.05);
    }
}

TEST_CASE("a finer lattice gives the same contrast and speckle size", "[speckle][physics]") {
    const SpeckleView view = view_of();
    const auto measure = [&](double share) {
        return receiver::measure_patterns(receiver::plan_speckle(view, {share * receiver::coarsest_pitch(view), 1.0}),
                                          5, 60);
    };
    const receiver::PatternMeasures coarse = measure(1.0);
    const receiver::PatternMeasures fine = measure(0.5);
    // 60 patterns of some 30 speckles each: 1 / sqrt(1800) of relative error, twice.
    CHECK(fine.contrast == Approx(coarse.contrast).epsilon(4.0 * std::sqrt(2.0 / 1800.0)));
    CHECK(fine.size == Approx(coarse.size).epsilon(0.07));
}

TEST_CASE("a spot that the lens does not resolve is uncertain by its own size", "[speckle][physics]") {
    // The image is a point's, of amplitude A h(x) - B h'(x): A is the sum of the spot's random numbers, B the same
    // weighed by place. It is shifted by Re(B / A). A and B are independent circular normal numbers with a ratio of
    // variances of w^2 / 4, so the shift is w / (2 sqrt(2)) times Student's t with two degrees of freedom, whose median
    // magnitude is sqrt(2 / 3). Derived.
    const double radius = 1.0 * um;  // the lens tells apart 6.6 um
    const SpecklePlan plan = receiver::plan_speckle(view_of(radius));
    constexpr int patterns = 1001;
    std::vector<double> shifts = validation::centroids(plan, validation::separate_places(plan, patterns), 1);
    for (double& shift : shifts) shift = std::abs(shift);
    std::nth_element(shifts.begin(), shifts.begin() + patterns / 2, shifts.end());
    const double median = shifts[patterns / 2];
    // The median of 1001 has a standard error of 4 %, by the density of t there; the lens is not infinitely coarse.
    CHECK(median == Approx(radius / (2.0 * std::sqrt(2.0)) * std::sqrt(2.0 / 3.0)).epsilon(0.15));
}

TEST_CASE("lack of focus widens the spot and leaves contrast and speckle size", "[speckle][physics]") {
    SpeckleView view = view_of();
    const SpecklePlan sharp = receiver::plan_speckle(view);
    // The rim of the aperture images the lit point 20 um beside itself.
    view.defocus =
        Vector2d::Constant(20.0 * um * view.direction_per_aperture_position(1, 1) / view.aperture.half_in_plane);
    const SpecklePlan blurred = receiver::plan_speckle(view);
    const auto width = [](const SpecklePlan& plan) {
        double sum = 0.0;
        double squares = 0.0;
        for (std::size_t k = 0; k < plan.mean_on_pixels.size(); ++k) {
            const double x = static_cast<double>(k + plan.first_pixel) - 511.5;
            sum += static_cast<double>(plan.mean_on_pixels[k]);
            squares += static_cast<double>(plan.mean_on_pixels[k]) * x * x;
        }
        return squares / sum;
    };
    CHECK(width(blurred) > 1.1 * width(sharp));
    const receiver::PatternMeasures a = receiver::measure_patterns(sharp, 5, 60);
    const receiver::PatternMeasures b = receiver::measure_patterns(blurred, 5, 60);
    CHECK(b.contrast == Approx(a.contrast).epsilon(4.0 * std::sqrt(2.0 / 1800.0)));
    CHECK(b.size == Approx(a.size).epsilon(0.07));
}

TEST_CASE("a place too far away to be told is refused", "[speckle][unit]") {
    const SpecklePlan plan = receiver::plan_speckle(view_of());
    CHECK_THROWS_AS(pattern_of(plan, {1e9, 0.0}), base::DomainError);
    CHECK_THROWS_AS(pattern_of(plan, {0.0, std::nan("")}), base::DomainError);
}

TEST_CASE("tilting the part turns its speckle by the tilt times cos(incidence) + cos(view)", "[speckle][published]") {
    // Along the surface the difference of view and beam is sin(o - d) + sin(i + d): d (cos i + cos o) for a small tilt
    // d, which is 1 + cos(i) / cos(o) in angle of view (X3.38). Second order: d^2 / 2 of some 1e-6.
    const double tilt = 0.1 * degree;
    const double change = view_of_part({"target.tilt_deg=[0.1, 0]"}).direction.x() - view_of_part({}).direction.x();
    CHECK(std::abs(change) / (tilt * std::cos(30.0 * degree)) == Approx(2.154701).epsilon(2e-3));
}

TEST_CASE("the view agrees with the receiver's closed forms", "[speckle][unit]") {
    const SpeckleView view = view_of_part({});
    const scenario::Scenario s = scenario::parse("schema = 1\n[target]\nmaterial = \"white-ceramic\"\n", "test.toml");
    const receiver::Receiver r = sensor::receiver_of(s);
    // The image of a move along the surface is m cos(theta) / sin(beta), beta = 90 deg - tilt. The step of the
    // difference quotient leaves 1e-8.
    const double beta = 90.0 * degree - r.detector_tilt;
    CHECK(std::abs(view.du_dx) ==
          Approx(r.image_distance / r.object_distance * std::cos(30.0 * degree) / std::sin(beta)).epsilon(1e-6));
    CHECK(std::abs(view.dv_dy) == Approx(r.image_distance / r.object_distance).epsilon(1e-6));
    CHECK(view.du_dy == Approx(0.0).margin(1e-9));
    // In focus: what is left of the blur is rounding.
    CHECK(view.defocus.cwiseAbs().maxCoeff() * view.aperture.half_in_plane < 1e-6);
    CHECK(receiver::aperture_reach(view).y() ==
          Approx(r.aperture.half_in_plane / std::hypot(r.object_distance, r.aperture.half_in_plane)).epsilon(1e-9));
}

TEST_CASE("light that is partly mirrored has the contrast of a steady field in a random one", "[speckle][physics]") {
    // I = m + d S + 2 sqrt(m d) F has the variance 1 - m^2 for m + d = 1 where a pixel is far smaller than a speckle.
    SpeckleView view = validation::plain_speckle_view(ApertureShape::round, 0.02, 0.0, 120.0 * um);
    view.row.pixels = 101;
    view.row.pitch = 1.0 * um;
    view.row.height = 1.0 * um;
    const SpecklePlan plan = receiver::plan_speckle(view);
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    const float mirrored = GENERATE(0.0F, 0.5F, 0.9F);
    receiver::Profile profile;
    profile.rate.assign(101, 1.0F);
    profile.mirrored.assign(101, mirrored);
    double sum = 0.0;
    double squares = 0.0;
    constexpr int patterns = 600;
    for (int i = 0; i < patterns; ++i) {
        const SpecklePattern p = receiver::speckle_pattern(plan, 5, receiver::separate_patch(plan, i), workspace);
        const double light = static_cast<double>(sensor::under_pattern(profile, p)[50]);
        CHECK(light >= 0.0);
        sum += light;
        squares += (light - 1.0) * (light - 1.0);
    }
    const double variance = 1.0 - static_cast<double>(mirrored) * static_cast<double>(mirrored);
    // A negative exponential's variance is known to sqrt(8 / n), the others' better: four of that.
    CHECK(squares / patterns == Approx(variance).epsilon(4.0 * std::sqrt(8.0 / patterns)));
    CHECK(sum / patterns == Approx(1.0).margin(4.0 * std::sqrt(variance / patterns)));
}

TEST_CASE("every instruction set gives the same bits of a coherent pattern", "[speckle][determinism]") {
    SpeckleView view = view_of();
    view.coherence.polarisation_degree = 0.3;
    const SpecklePlan plan = receiver::plan_speckle(view);
    const Vector2d place(3.0 * plan.grid.pitch, 0.3 * plan.grid.pitch);  // off the lattice
    hwy::SetSupportedTargetsForTest(0);
    const auto offered = static_cast<std::uint64_t>(hwy::SupportedTargets());
    const SpecklePattern usual = pattern_of(plan, place);
    for (std::uint64_t bit = 1; bit != 0 && bit <= offered; bit <<= 1U) {
        if ((offered & bit) == 0) continue;
        hwy::SetSupportedTargetsForTest(static_cast<std::int64_t>(bit));
        hwy::GetChosenTarget().Update(hwy::SupportedTargets());
        const SpecklePattern forced = pattern_of(plan, place);
        INFO(hwy::TargetName(static_cast<std::int64_t>(bit)));
        CHECK(forced.intensity == usual.intensity);
        CHECK(forced.field == usual.field);
    }
    hwy::SetSupportedTargetsForTest(0);
    hwy::GetChosenTarget().Update(hwy::SupportedTargets());
}

TEST_CASE("a lattice off the lit point is lit as if it had been worked out there", "[speckle][unit]") {
    // Aslant, so that light, wavefront and view are not along the axes; narrow and wide against the lattice.
    for (const double radius : {2.0 * um, 8.0 * um, 60.0 * um}) {
        SpeckleView view = view_of(radius);
        view.irradiance(0, 1) = view.irradiance(1, 0) = 0.3 * view.irradiance(0, 0);
        view.wavefront << 30.0, 8.0, 8.0, -12.0;
        const SpecklePlan plan = receiver::plan_speckle(view);
        for (const Vector2d& cells : {Vector2d(0.5, -0.5), Vector2d(-0.2, 0.07)}) {
            const Vector2d shift = cells * plan.grid.pitch;
            const receiver::WaveGrid exact = receiver::illuminate(plan, shift);
            receiver::WaveGrid moved;
            receiver::illuminate_moved(plan, shift, moved);
            REQUIRE(moved.re.size() == exact.re.size());
            float worst = 0.0F;
            for (std::size_t i = 0; i < exact.re.size(); ++i) {
                worst = std::max(worst, std::hypot(moved.re[i] - exact.re[i], moved.im[i] - exact.im[i]));
            }
            INFO("radius " << radius / um << " um, shift " << cells.transpose() << " of the pitch");
            CHECK(worst < 1e-6F);  // roundings of single precision, of a field of at most 1
        }
    }
}

TEST_CASE("light of an upright footprint is the product that it is by its definition", "[speckle][unit]") {
    SpeckleView view = view_of();
    view.wavefront << 30.0, 0.0, 0.0, -12.0;
    SpeckleView nearly = view;
    nearly.wavefront(0, 1) = nearly.wavefront(1, 0) = 1e-9;  // place by place
    const SpecklePlan plan = receiver::plan_speckle(view);
    const SpecklePlan other = receiver::plan_speckle(nearly);
    for (std::size_t i = 0; i < plan.illumination.re.size(); ++i) {
        CHECK(std::abs(plan.illumination.re[i] - other.illumination.re[i]) < 1e-6F);
        CHECK(std::abs(plan.illumination.im[i] - other.illumination.im[i]) < 1e-6F);
    }
}
