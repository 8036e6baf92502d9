#include "sim/reading/peak.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <algorithm>
#include <cmath>

namespace spotwright::reading {

namespace {

struct Three {
    double left;
    double middle;
    double right;
};

std::optional<Three> around_highest(std::span<const float> net, const PeakWindow& window) {
    if (window.highest < 1 || window.highest + 1 >= net.size()) return std::nullopt;
    return Three{static_cast<double>(net[window.highest - 1]), static_cast<double>(net[window.highest]),
                 static_cast<double>(net[window.highest + 1])};
}

// Vertex of the parabola through three equally spaced samples, from the middle one.
std::optional<double> vertex(const Three& f) {
    const double curvature = f.left - 2.0 * f.middle + f.right;
    if (!(curvature < 0.0)) return std::nullopt;
    return 0.5 * (f.left - f.right) / curvature;
}

}  // namespace

// Equation (reading.2).
std::optional<double> centroid(std::span<const float> net, const PeakWindow& window, float floor) {
    // Four sums side by side, since each addition waits for the one before. Weights are multiples of the floor's last
    // bit, so in a window of some 30 samples all sums are exact, and their order does not matter.
    constexpr std::size_t sums = 4;
    double sum[sums] = {};
    double moment[sums] = {};
    double place[sums] = {0.0, 1.0, 2.0, 3.0};
    const float* samples = net.data() + window.first;
    const std::size_t count = window.last - window.first;
    std::size_t k = 0;
    for (; k + sums <= count; k += sums) {
        for (std::size_t i = 0; i < sums; ++i) {
            const double weight = static_cast<double>(std::max(samples[k + i] - floor, 0.0F));
            sum[i] += weight;
            moment[i] += weight * place[i];
            place[i] += static_cast<double>(sums);
        }
    }
    for (std::size_t i = 0; k < count; ++k, ++i) {
        const double weight = static_cast<double>(std::max(samples[k] - floor, 0.0F));
        sum[i] += weight;
        moment[i] += weight * place[i];
    }
    const double all = (sum[0] + sum[1]) + (sum[2] + sum[3]);
    if (!(all > 0.0)) return std::nullopt;
    return static_cast<double>(window.first) + ((moment[0] + moment[1]) + (moment[2] + moment[3])) / all;
}

// Equation (reading.3).
std::optional<double> gauss3(std::span<const float> net, const PeakWindow& window) {
    auto f = around_highest(net, window);
    if (!f || f->left <= 0.0 || f->right <= 0.0) return std::nullopt;
    const auto offset = vertex({std::log(f->left), std::log(f->middle), std::log(f->right)});
    if (!offset) return std::nullopt;
    return static_cast<double>(window.highest) + *offset;
}

// Equation (reading.4).
std::optional<double> parabola3(std::span<const float> net, const PeakWindow& window) {
    const auto f = around_highest(net, window);
    if (!f) return std::nullopt;
    const auto offset = vertex(*f);
    if (!offset) return std::nullopt;
    return static_cast<double>(window.highest) + *offset;
}

// Equation (reading.5).
std::optional<double> zero_crossing(std::span<const float> net, const PeakWindow& window) {
    const auto filtered = [&net](std::size_t i) -> double {
        return static_cast<double>(net[i - 2]) + static_cast<double>(net[i - 1]) - static_cast<double>(net[i + 1]) -
               static_cast<double>(net[i + 2]);
    };
    std::optional<double> best;
    const auto highest = static_cast<double>(window.highest);
    const std::size_t begin = std::max<std::size_t>(window.first, 2);
    for (std::size_t i = begin; i < window.last && i + 3 < net.size(); ++i) {
        const double here = filtered(i);
        const double next = filtered(i + 1);
        if (!(here <= 0.0 && next > 0.0)) continue;
        const double crossing = static_cast<double>(i) + here / (here - next);
        if (!best || std::abs(crossing - highest) < std::abs(*best - highest)) best = crossing;
    }
    return best;
}

// Equation (reading.6).
std::optional<double> gaussian_fit(std::span<const float> net, const PeakWindow& window, double dark_variance) {
    const auto start = centroid(net, window, 0.0F);
    if (!start || window.last - window.first < 3) return std::nullopt;
    // The flanks beyond the window carry light too.
    constexpr std::size_t margin = 3;
    const std::size_t first = window.first > margin ? window.first - margin : 0;
    const std::size_t last = std::min(window.last + margin, net.size());

    double height = static_cast<double>(net[window.highest]);
    double centre = *start;
    double width = static_cast<double>(window.last - window.first) / 5.0;
    constexpr int most_steps = 40;
    constexpr double settled = 1e-6;  // px: far below any noise
    for (int step = 0; step < most_steps; ++step) {
        Eigen::Matrix3d information = Eigen::Matrix3d::Zero();
        Eigen::Vector3d score = Eigen::Vector3d::Zero();
        for (std::size_t k = first; k < last; ++k) {
            const double t = (static_cast<double>(k) - centre) / width;
            const double shape = std::exp(-0.5 * t * t);
            const double model = height * shape;
            const Eigen::Vector3d slope(shape, model * t / width, model * t * t / width);
            const double weight = 1.0 / (model + dark_variance);
            information += weight * slope * slope.transpose();
            score += weight * (static_cast<double>(net[k]) - model) * slope;
        }
        const Eigen::Vector3d change = information.ldlt().solve(score);
        if (!change.allFinite()) return std::nullopt;
        // Steps are held back so that a poor start cannot throw the fit out of its window.
        height = std::max(height + std::clamp(change[0], -0.5 * height, 0.5 * height), 1.0);
        centre += std::clamp(change[1], -width, width);
        width += std::clamp(change[2], -0.3 * width, 0.3 * width);
        width = std::clamp(width, 0.2, static_cast<double>(last - first));
        const bool outside = centre < static_cast<double>(first) || centre > static_cast<double>(last);
        if (outside) return std::nullopt;
        if (std::abs(change[1]) < settled && std::abs(change[2]) < 1e3 * settled) return centre;
    }
    return std::nullopt;
}

std::optional<double> locate_peak(scenario::PeakMethod method, std::span<const float> net, const PeakWindow& window,
                                  float floor, double dark_variance) {
    switch (method) {
        case scenario::PeakMethod::centroid:
            return centroid(net, window, floor);
        case scenario::PeakMethod::gauss3:
            return gauss3(net, window);
        case scenario::PeakMethod::parabola3:
            return parabola3(net, window);
        case scenario::PeakMethod::zero_crossing:
            return zero_crossing(net, window);
        case scenario::PeakMethod::fit:
            return gaussian_fit(net, window, dark_variance);
    }
    return std::nullopt;
}

}  // namespace spotwright::reading
