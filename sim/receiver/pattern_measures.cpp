#include "sim/receiver/pattern_measures.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace spotwright::receiver {

namespace {

// Sums of products of relative intensities some columns apart, over the bright part of patterns.
class Covariance {
public:
    explicit Covariance(std::size_t lags) : sum_(lags, 0.0), count_(lags, 0.0) {}

    void add(const SpeckleImage& image) {
        constexpr float bright = 0.3F;
        for (Eigen::Index row = 0; row < image.mean.cols(); ++row) {
            for (Eigen::Index i = 0; i < image.mean.rows(); ++i) {
                if (image.mean(i, row) < bright) continue;
                const Eigen::Index end =
                    std::min<Eigen::Index>(image.mean.rows() - i, static_cast<Eigen::Index>(sum_.size()));
                for (Eigen::Index lag = 0; lag < end; ++lag) {
                    if (image.mean(i + lag, row) < bright) break;
                    const double product = change(image, i, row) * change(image, i + lag, row);
                    sum_[static_cast<std::size_t>(lag)] += product;
                    count_[static_cast<std::size_t>(lag)] += 1.0;
                }
            }
        }
    }

    [[nodiscard]] double at(std::size_t lag) const { return count_[lag] > 0.0 ? sum_[lag] / count_[lag] : 0.0; }

    // Columns until it has fallen to a half. Between columns it is taken as a Gaussian from the one next to the half:
    // a speckle's covariance is that near its top, within 1 % for round and rectangular apertures.
    [[nodiscard]] double half_width() const {
        std::size_t nearest = 1;
        for (std::size_t lag = 1; lag < sum_.size(); ++lag) {
            const double share = at(lag) / at(0);
            if (share <= 0.1) break;
            if (std::abs(share - 0.5) < std::abs(at(nearest) / at(0) - 0.5)) nearest = lag;
        }
        const double share = std::clamp(at(nearest) / at(0), 0.01, 0.99);
        return static_cast<double>(nearest) * std::sqrt(std::log(2.0) / -std::log(share));
    }

private:
    static double change(const SpeckleImage& image, Eigen::Index column, Eigen::Index row) {
        return static_cast<double>(image.intensity(column, row) / image.mean(column, row)) - 1.0;
    }

    std::vector<double> sum_;
    std::vector<double> count_;
};

}  // namespace

PatternMeasures measure_patterns(const SpecklePlan& plan, std::uint64_t seed, std::int64_t patterns) {
    SpeckleWorkspace workspace = make_workspace(plan);
    constexpr std::size_t lags = 8;
    Covariance covariance(lags);
    for (std::int64_t i = 0; i < patterns; ++i) {
        covariance.add(speckle_image(plan, seed, separate_patch(plan, i), workspace));
    }
    PatternMeasures measures;
    measures.contrast = std::sqrt(std::max(0.0, covariance.at(0)));
    measures.size = 2.0 * covariance.half_width() * std::abs(plan.view.du_dx) * plan.grid.pitch;
    return measures;
}

}  // namespace spotwright::receiver
