// The fast speckle model against the coherent one.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/receiver/coherent_speckle.hpp"
#include "sim/receiver/speckle_field.hpp"

using namespace spotwright;

namespace {

constexpr double um = 1e-6;
constexpr int patterns = 500;

// A round footprint of this radius, seen 26 deg from the side through an aperture of NA 0.04: a speckle is 9.3 um wide
// on the part along x, and 4.7 um on the array, whose pixels are 4 um wide.
receiver::SpeckleView view_of(double radius, receiver::ApertureShape shape, double height) {
    constexpr double distance = 50e-3;
    receiver::SpeckleView view;
    view.irradiance = Eigen::Matrix2d::Identity() / (radius * radius);
    view.direction = {0.44, 0.0};
    view.direction_per_place = Eigen::Vector2d(0.9, 1.0).asDiagonal() * Eigen::Matrix2d::Identity() / distance;
    view.aperture = {shape, 0.04 * distance, 0.04 * distance};
    view.du_dx = 0.5;
    view.dv_dy = 0.5;
    view.row = {401, 4.0 * um, height, 0.0, 0.0};
    return view;
}

// Statistics over patterns: of pixels more than half as bright as the brightest, and of the whole image's centroid.
class Statistics {
public:
    explicit Statistics(const std::vector<float>& mean)
        : mean_(mean), sum_(mean.size()), square_(mean.size()), product_(mean.size()) {}

    void add(const float* relative) {
        double light = 0.0;
        double moment = 0.0;
        for (std::size_t k = 0; k < mean_.size(); ++k) {
            const auto w = static_cast<double>(relative[k]);
            sum_[k] += w;
            square_[k] += w * w;
            if (k + 1 < mean_.size()) product_[k] += w * static_cast<double>(relative[k + 1]);
            light += w * static_cast<double>(mean_[k]);
            moment += w * static_cast<double>(mean_[k]) * static_cast<double>(k);
        }
        ++count_;
        centroid_ += moment / light;
        centroid_square_ += moment / light * moment / light;
    }

    [[nodiscard]] double contrast() const {
        return std::sqrt(over_bright([&](std::size_t k) { return variance(k); }));
    }
    [[nodiscard]] double neighbour_correlation() const {
        return over_bright([&](std::size_t k) {
            const double covariance = product_[k] / count_ - sum_[k] * sum_[k + 1] / (count_ * count_);
            return covariance / std::sqrt(variance(k) * variance(k + 1));
        });
    }
    [[nodiscard]] double centroid_scatter() const {
        return std::sqrt(centroid_square_ / count_ - centroid_ * centroid_ / (count_ * count_));
    }

private:
    [[nodiscard]] double variance(std::size_t k) const {
        return square_[k] / count_ - sum_[k] * sum_[k] / (count_ * count_);
    }
    template <class Value>
    [[nodiscard]] double over_bright(const Value& value) const {
        const float brightest = *std::max_element(mean_.begin(), mean_.end());
        double sum = 0.0;
        int pixels = 0;
        for (std::size_t k = 0; k + 1 < mean_.size(); ++k) {
            if (mean_[k] < 0.5F * brightest) continue;
            sum += value(k);
            ++pixels;
        }
        return sum / pixels;
    }

    std::vector<float> mean_;
    std::vector<double> sum_;
    std::vector<double> square_;
    std::vector<double> product_;
    double count_ = 0.0;
    double centroid_ = 0.0;
    double centroid_square_ = 0.0;
};

// Half the coarsest pitch: pixels are added up from whole columns of the image, and should be wide against them.
Statistics coherent(const receiver::SpecklePlan& plan) {
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    Statistics statistics(plan.mean_on_pixels);
    for (int i = 0; i < patterns; ++i) {
        statistics.add(
            receiver::speckle_pattern(plan, 7, receiver::separate_place(plan, i), workspace).intensity.data());
    }
    return statistics;
}

Statistics fast(const receiver::SpecklePlan& plan, const receiver::SpeckleField& field) {
    Statistics statistics(plan.mean_on_pixels);
    std::vector<float> relative((plan.mean_on_pixels.size() / 64 + 1) * 64);
    for (int i = 0; i < 20 * patterns; ++i) {
        receiver::draw_speckle(field, 7, i, 0, relative);
        statistics.add(relative.data());
    }
    return statistics;
}

// What the models differ by, over and above chance. [1]
struct Apart {
    double contrast = 0.0;
    double correlation = 0.0;
    double scatter = 0.0;
};

void compare(const receiver::SpeckleView& view, const Apart& apart) {
    const receiver::SpecklePlan plan = receiver::plan_speckle(view, {0.5 * receiver::coarsest_pitch(view), 1.0});
    const receiver::SpeckleField field = receiver::make_speckle_field(view);
    const Statistics a = coherent(plan);
    const Statistics b = fast(plan, field);
    // Three standard errors of the coherent model's own: of contrast with gamma's kurtosis, as of one pixel; of the
    // scatter as of normal numbers.
    const double n = patterns;
    const double contrast_error = 3.0 * std::sqrt((2.0 + 6.0 * field.contrast * field.contrast) / (4.0 * n));
    CHECK(b.contrast() / a.contrast() == Approx(1.0).margin(contrast_error + apart.contrast));
    CHECK(b.neighbour_correlation() ==
          Approx(a.neighbour_correlation()).margin(3.0 / std::sqrt(n) + apart.correlation));
    CHECK(b.centroid_scatter() / a.centroid_scatter() == Approx(1.0).margin(3.0 / std::sqrt(2.0 * n) + apart.scatter));
    // The field says what it draws.
    CHECK(b.contrast() == Approx(field.contrast).epsilon(0.02));
    CHECK(b.neighbour_correlation() == Approx(field.correlation[1]).margin(0.02));
}

}  // namespace

// Found with 3000 patterns each: contrast within 3 %, neighbours' correlation within 0.06, all lower in the fast model;
// the centroid's scatter within 5 % where the footprint is at least twice as wide as a speckle (25 um: 1/e^2 diameter
// 50 um, speckle 9 um). A footprint of 12 um makes only a speckle or two, which the fast model's even statistics tell
// less well: the centroid scatters up to 17 % too much.
TEST_CASE("the fast model agrees with the coherent one: round aperture, tall pixels", "[receiver][statistical]") {
    compare(view_of(50.0 * um, receiver::ApertureShape::round, 200.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(25.0 * um, receiver::ApertureShape::round, 200.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(12.0 * um, receiver::ApertureShape::round, 200.0 * um), {0.03, 0.06, 0.17});
}

TEST_CASE("the fast model agrees with the coherent one: round aperture, low pixels", "[receiver][statistical]") {
    compare(view_of(50.0 * um, receiver::ApertureShape::round, 4.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(25.0 * um, receiver::ApertureShape::round, 4.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(12.0 * um, receiver::ApertureShape::round, 4.0 * um), {0.03, 0.06, 0.17});
}

TEST_CASE("the fast model agrees with the coherent one: rectangular aperture, tall pixels", "[receiver][statistical]") {
    compare(view_of(50.0 * um, receiver::ApertureShape::rectangular, 200.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(25.0 * um, receiver::ApertureShape::rectangular, 200.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(12.0 * um, receiver::ApertureShape::rectangular, 200.0 * um), {0.03, 0.06, 0.17});
}

TEST_CASE("the fast model agrees with the coherent one: rectangular aperture, low pixels", "[receiver][statistical]") {
    compare(view_of(50.0 * um, receiver::ApertureShape::rectangular, 4.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(25.0 * um, receiver::ApertureShape::rectangular, 4.0 * um), {0.03, 0.06, 0.05});
    compare(view_of(12.0 * um, receiver::ApertureShape::rectangular, 4.0 * um), {0.03, 0.06, 0.17});
}

TEST_CASE("the fast model follows a part that is tilted out of the plane", "[receiver][statistical]") {
    receiver::SpeckleView view = view_of(25.0 * um, receiver::ApertureShape::round, 200.0 * um);
    view.du_dy = 0.3;
    compare(view, {0.03, 0.06, 0.05});
}
