#include "sim/receiver/grain.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"

namespace spotwright::receiver {

namespace {

// Normal numbers on the lattice of the part, at steps of a quarter of the length.
constexpr double steps_per_length = 4.0;

double square(double x) {
    return x * x;
}

// The sum over y of the lattice's rows under the strip, column by column.
std::vector<double> columns_under_strip(const GrainView& grain, std::uint64_t seed, std::int64_t first,
                                        std::size_t count, double y) {
    const double step = grain.length / steps_per_length;
    // A kernel exp(-2 y^2 / length^2) under the light's own spread along y.
    const double wide2 = square(grain.length) + 4.0 * square(grain.across);
    const double weight = grain.length / std::sqrt(wide2);
    constexpr double tail = 2.0;  // in `wide`: exp(-8)
    const auto low = static_cast<std::int64_t>(std::ceil((y - tail * std::sqrt(wide2)) / step));
    const auto high = static_cast<std::int64_t>(std::floor((y + tail * std::sqrt(wide2)) / step));
    // Counters begin at nought.
    constexpr std::int64_t middle = std::int64_t{1} << 40;
    const std::int64_t start = (middle + first) / base::block_pixels;
    const std::int64_t end = (middle + first + static_cast<std::int64_t>(count)) / base::block_pixels + 1;
    std::vector<float> normals(static_cast<std::size_t>((end - start) * base::block_pixels));
    std::vector<double> columns(count, 0.0);
    const auto skipped = static_cast<std::size_t>(middle + first - start * base::block_pixels);
    for (std::int64_t row = low; row <= high; ++row) {
        base::fill_normals({seed, base::Stream::grain}, middle + row, start, normals);
        const double at = y - static_cast<double>(row) * step;
        const double share = weight * std::exp(-2.0 * at * at / wide2);
        for (std::size_t i = 0; i < count; ++i) columns[i] += share * static_cast<double>(normals[skipped + i]);
    }
    return columns;
}

}  // namespace

GrainView grain_view(const scenario::Grain& grain, const SpeckleView& view) {
    GrainView result;
    result.row = view.row;
    result.du_dx = view.du_dx;
    const Eigen::Matrix2d spread = 0.25 * view.irradiance.inverse();
    const double half_height = 0.5 * view.row.height / std::max(std::abs(view.dv_dy), 1e-12);
    // A Gaussian cut by an even strip: of about both spreads together.
    result.across = 1.0 / std::sqrt(1.0 / spread(1, 1) + 3.0 / square(half_height));
    const double length = 0.5 * grain.size;
    const double pixel = view.row.pitch / std::max(std::abs(view.du_dx), 1e-12);
    result.length = std::max({length, 0.5 * pixel, result.across / 16.0});
    result.variation = grain.variation * std::min(1.0, length / result.length);
    result.reach = 12.0 * std::max(std::sqrt(spread(0, 0)), result.length);
    return result;
}

std::vector<float> grain_pattern(const GrainView& grain, std::uint64_t seed, const Eigen::Vector2d& place) {
    const auto pixels = static_cast<std::size_t>(grain.row.pixels);
    std::vector<float> pattern(pixels, 1.0F);
    const double middle = 0.5 * (static_cast<double>(grain.row.pixels) - 1.0);
    const auto at = [&](std::size_t k) {
        return ((static_cast<double>(k) - middle) * grain.row.pitch - grain.row.u0) / grain.du_dx;
    };
    const double step = grain.length / steps_per_length;
    constexpr double tail = 2.0;  // of the kernel exp(-2 x^2 / length^2)
    const double reach = grain.reach + tail * grain.length;
    const auto first = static_cast<std::int64_t>(std::floor((place.x() - reach) / step));
    const auto count = static_cast<std::size_t>(std::ceil(2.0 * reach / step)) + 2;
    const std::vector<double> columns = columns_under_strip(grain, seed, first, count, place.y());
    // A sum of n_ij g(x - x_i) g(y - y_j) whose squares add up to 1.
    const double scale = grain.variation * 2.0 / (std::sqrt(base::pi) * steps_per_length);
    for (std::size_t k = 0; k < pixels; ++k) {
        const double x = at(k);
        if (std::abs(x) > grain.reach) continue;
        const double on_lattice = (place.x() + x) / step - static_cast<double>(first);
        const auto from = static_cast<std::size_t>(std::max(0.0, std::ceil(on_lattice - tail * steps_per_length)));
        const auto to = static_cast<std::size_t>(std::floor(on_lattice + tail * steps_per_length));
        double sum = 0.0;
        for (std::size_t i = from; i <= to && i < count; ++i) {
            sum += columns[i] * std::exp(-2.0 * square((on_lattice - static_cast<double>(i)) / steps_per_length));
        }
        pattern[k] = static_cast<float>(std::max(0.0, 1.0 + scale * sum));
    }
    return pattern;
}

// Equation (speckle.18).
double grain_limit(double length, double variation, const Eigen::Vector2d& deviation) {
    const auto alike = [length](double s) { return 1.0 / std::sqrt(1.0 + 4.0 * square(s / length)); };
    const double x = alike(deviation.x());
    const double y = alike(deviation.y());
    return variation * std::sqrt(0.5 * square(deviation.x()) * (x - x * x * x) * y);
}

}  // namespace spotwright::receiver
