#include "sim/measure/roundness.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/linear.hpp"

namespace spotwright::measure {

namespace {

using base::pi, Eigen::Matrix3d, Eigen::MatrixX3d, Eigen::Vector3d, Eigen::VectorXd;

// A line or circle of three parameters, fitted to many readings.
struct Fit {
    Vector3d parameter;
    Matrix3d covariance;
    VectorXd residual;
    double deviation = 0.0;  // standard deviation of the residual
};

// Correlation of residuals some readings apart.
double correlation_at(const VectorXd& residual, Eigen::Index apart) {
    const Eigen::Index pairs = residual.size() - apart;
    const double all = residual.squaredNorm();
    if (pairs < 1 || !(all > 0.0)) return 0.0;
    return residual.head(pairs).dot(residual.tail(pairs)) / all;
}

// Readings that count as one: 1 + 2 (sum of correlations up to where they have died away). Speckle that passes slowly
// is the same in many of them.
double alike(const VectorXd& residual) {
    constexpr double died_away = 0.05;
    double sum = 1.0;
    for (Eigen::Index apart = 1; apart < residual.size() / 4; ++apart) {
        const double correlation = correlation_at(residual, apart);
        if (correlation < died_away) break;
        sum += 2.0 * correlation;
    }
    return sum;
}

std::optional<Fit> three_parameters(const MatrixX3d& design, const VectorXd& value) {
    const base::LinearFit found = base::fit_linear(design, value);
    if (found.rank < 3 || value.size() < 4) return std::nullopt;
    Fit fit;
    fit.parameter = found.parameters;
    fit.residual = value - design * fit.parameter;
    const double variance = fit.residual.squaredNorm() / static_cast<double>(value.size() - 3);
    fit.deviation = std::sqrt(variance);
    fit.covariance = alike(fit.residual) * variance * base::parameter_covariance(design);
    return fit;
}

// Readings of the first whole turns; a reading at the very end of a turn belongs to the next.
std::vector<std::size_t> in_whole_turns(std::span<const double> angle, double turns) {
    std::vector<std::size_t> inside;
    for (std::size_t i = 0; i < angle.size(); ++i) {
        if (std::abs(angle[i] - angle.front()) < 2.0 * pi * turns * (1.0 - 1e-12)) inside.push_back(i);
    }
    return inside;
}

// Whether some quarter of the turn was never read: then a fit fills it with a guess.
bool leaves_a_gap(std::span<const double> angle, const std::vector<std::size_t>& inside) {
    constexpr std::size_t quarters = 4;
    std::vector<bool> seen(quarters, false);
    for (const std::size_t i : inside) {
        const double turn = angle[i] / (2.0 * pi);
        seen[std::min(static_cast<std::size_t>((turn - std::floor(turn)) * quarters), quarters - 1)] = true;
    }
    return std::find(seen.begin(), seen.end(), false) != seen.end();
}

double spread_of(const VectorXd& values) {
    return values.maxCoeff() - values.minCoeff();
}

}  // namespace

std::optional<RunOut> run_out(std::span<const double> angle, std::span<const double> displacement) {
    if (angle.size() < 4) return std::nullopt;
    // The last reading covers its own share of a turn as well.
    const double step = std::abs(angle.back() - angle.front()) / static_cast<double>(angle.size() - 1);
    const double turns = std::floor((std::abs(angle.back() - angle.front()) + step) / (2.0 * pi) + 1e-9);
    if (!(turns >= 1.0)) return std::nullopt;
    const std::vector<std::size_t> inside = in_whole_turns(angle, turns);
    const auto count = static_cast<Eigen::Index>(inside.size());
    if (count < 4 || leaves_a_gap(angle, inside)) return std::nullopt;
    MatrixX3d design(count, 3);
    VectorXd value(count);
    for (Eigen::Index k = 0; k < count; ++k) {
        const std::size_t i = inside[static_cast<std::size_t>(k)];
        design.row(k) << 1.0, std::cos(angle[i]), std::sin(angle[i]);
        value[k] = displacement[i];
    }
    const auto fit = three_parameters(design, value);
    if (!fit) return std::nullopt;
    const double e = std::hypot(fit->parameter[1], fit->parameter[2]);
    // What comes round with the surface is no new knowledge in the second turn.
    const double round =
        turns > 1.0 ? std::max(0.0, correlation_at(fit->residual, std::lround(static_cast<double>(count) / turns)))
                    : 0.0;
    const double readings = static_cast<double>(count) / (alike(fit->residual) * (1.0 + round * turns));
    const double u = fit->deviation * std::sqrt(2.0 / readings);
    RunOut result;
    result.readings = count;
    result.revolutions = std::llround(turns);
    result.per_revolution = static_cast<double>(count) / turns;
    result.eccentricity = {e, u};
    result.high_spot = {std::atan2(fit->parameter[2], -fit->parameter[1]), e > u ? u / e : pi};
    result.total = spread_of(value);
    result.out_of_roundness = spread_of(fit->residual);
    result.residual_deviation = fit->deviation;
    return result;
}

std::optional<Circle> fit_circle(std::span<const double> x, std::span<const double> z) {
    const auto count = static_cast<Eigen::Index>(x.size());
    if (count < 4) return std::nullopt;
    const VectorXd all_x = Eigen::Map<const VectorXd>(x.data(), count);
    const VectorXd all_z = Eigen::Map<const VectorXd>(z.data(), count);
    // About the middle and in units of the scan's size, so that squares keep their digits.
    const Eigen::Vector2d middle(all_x.mean(), all_z.mean());
    const double unit = std::max(spread_of(all_x), spread_of(all_z));
    if (!(unit > 0.0)) return std::nullopt;
    MatrixX3d design(count, 3);
    design.col(0) = (all_x.array() - middle.x()) * (2.0 / unit);
    design.col(1) = (all_z.array() - middle.y()) * (2.0 / unit);
    design.col(2).setOnes();
    const VectorXd squares = 0.25 * (design.col(0).array().square() + design.col(1).array().square());
    const auto fit = three_parameters(design, squares);
    if (!fit) return std::nullopt;
    const Vector3d& p = fit->parameter;
    const double radius = std::sqrt(p[2] + p[0] * p[0] + p[1] * p[1]);
    if (!std::isfinite(radius) || radius <= 0.0) return std::nullopt;
    const Vector3d slope = Vector3d(p[0], p[1], 0.5) / radius;
    return Circle{
        middle + unit * p.head<2>(), {unit * radius, unit * std::sqrt(slope.dot(fit->covariance * slope))}, count};
}

namespace {

// Index of the first reading beyond the edge: where two levels leave the least squares.
std::size_t edge_of(const std::vector<double>& value, std::size_t fewest) {
    const std::size_t n = value.size();
    const double middle = std::accumulate(value.begin(), value.end(), 0.0) / static_cast<double>(n);
    double before = 0.0;
    double best = -1.0;
    std::size_t edge = fewest;
    for (std::size_t k = 1; k + fewest <= n; ++k) {
        before += value[k - 1] - middle;
        if (k < fewest) continue;
        // What two levels explain: sum(before)^2 / k + sum(beyond)^2 / (n - k), and both sums are equal but for sign.
        const auto left = static_cast<double>(k);
        const double explained = before * before * (1.0 / left + 1.0 / (static_cast<double>(n) - left));
        if (explained > best) {
            best = explained;
            edge = k;
        }
    }
    return edge;
}

struct Plateaus {
    std::vector<double> x;
    std::vector<double> value;
    std::vector<bool> beyond;
};

std::optional<Fit> parallel_lines(const Plateaus& p, double origin, double unit) {
    const auto count = static_cast<Eigen::Index>(p.x.size());
    MatrixX3d design(count, 3);
    for (Eigen::Index k = 0; k < count; ++k) {
        const auto i = static_cast<std::size_t>(k);
        design.row(k) << 1.0, (p.x[i] - origin) / unit, p.beyond[i] ? -1.0 : 0.0;
    }
    return three_parameters(design, Eigen::Map<const VectorXd>(p.value.data(), count));
}

// Leaves out readings far off the lines; whether any were.
bool drop_outliers(Plateaus& p, const VectorXd& residual) {
    std::vector<double> size(p.x.size());
    for (std::size_t i = 0; i < size.size(); ++i) size[i] = std::abs(residual[static_cast<Eigen::Index>(i)]);
    std::vector<double> sorted = size;
    constexpr double deviation_per_median = 1.4826;  // of a normal distribution
    const double limit = 4.0 * deviation_per_median * boost::math::statistics::median(sorted);
    constexpr double rounding = 1e-12;  // m; noiseless plateaus have no outliers
    Plateaus kept;
    for (std::size_t i = 0; i < size.size(); ++i) {
        if (size[i] > limit + rounding) continue;
        kept.x.push_back(p.x[i]);
        kept.value.push_back(p.value[i]);
        kept.beyond.push_back(p.beyond[i]);
    }
    const bool dropped = kept.x.size() < p.x.size();
    p = std::move(kept);
    return dropped;
}

}  // namespace

std::optional<StepScan> step_height(std::span<const double> x, std::span<const double> displacement) {
    constexpr std::size_t fewest = 6;
    if (x.size() < 2 * fewest) return std::nullopt;
    std::vector<std::size_t> order(x.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return x[a] < x[b]; });
    std::vector<double> sorted;
    for (const std::size_t i : order) sorted.push_back(displacement[i]);
    const std::size_t edge = edge_of(sorted, fewest);
    const double first = x[order.front()];
    const double last = x[order.back()];
    const double at = 0.5 * (x[order[edge - 1]] + x[order[edge]]);
    Plateaus plateaus;
    for (std::size_t k = 0; k < order.size(); ++k) {
        const double place = x[order[k]];
        const bool beyond = k >= edge;
        const double side = beyond ? last - at : at - first;
        if (std::abs(place - at) < side / 3.0) continue;
        plateaus.x.push_back(place);
        plateaus.value.push_back(sorted[k]);
        plateaus.beyond.push_back(beyond);
    }
    const double unit = last > first ? last - first : 1.0;
    auto fit = parallel_lines(plateaus, at, unit);
    constexpr int rounds = 10;
    for (int round = 0; fit && round < rounds && drop_outliers(plateaus, fit->residual); ++round) {
        fit = parallel_lines(plateaus, at, unit);
    }
    if (!fit) return std::nullopt;
    return StepScan{
        {fit->parameter[2], std::sqrt(fit->covariance(2, 2))}, at, static_cast<std::int64_t>(plateaus.x.size())};
}

}  // namespace spotwright::measure
