// From the statistics of speckle to what it is drawn with: the cube of normal numbers, and their filter.
#include <algorithm>
#include <cmath>
#include <complex>

#include <unsupported/Eigen/FFT>

#include "sim/receiver/speckle_field.hpp"

namespace spotwright::receiver {

namespace {

// Sum of products of symmetric taps `lag` apart; `half` holds the middle one and those to its right.
double lagged_product(const std::vector<double>& half, std::size_t lag) {
    const auto side = static_cast<std::ptrdiff_t>(half.size()) - 1;
    double sum = 0.0;
    for (std::ptrdiff_t k = -side; k + static_cast<std::ptrdiff_t>(lag) <= side; ++k) {
        sum += half[static_cast<std::size_t>(std::abs(k))] *
               half[static_cast<std::size_t>(std::abs(k + static_cast<std::ptrdiff_t>(lag)))];
    }
    return sum;
}

double sum_both_sides(const std::vector<double>& half) {
    double sum = half[0];
    for (std::size_t k = 1; k < half.size(); ++k) sum += 2.0 * half[k];
    return sum;
}

// The endless filter, by the root of what is not negative of the spectrum: its taps and what correlations it makes.
struct Endless {
    std::vector<double> half;
    std::vector<double> correlation;
};

Endless root_of_spectrum(const std::vector<double>& correlation) {
    std::size_t size = 64;
    while (size < 8 * correlation.size()) size *= 2;
    std::vector<std::complex<double>> even(size, 0.0);
    for (std::size_t m = 0; m < correlation.size(); ++m) even[m] = even[(size - m) % size] = correlation[m];
    Eigen::FFT<double> fft;
    std::vector<std::complex<double>> spectrum(size);
    fft.fwd(spectrum.data(), even.data(), static_cast<Eigen::Index>(size));
    double sum = 0.0;
    for (std::complex<double>& value : spectrum) {
        value = std::max(value.real(), 0.0);
        sum += value.real();
    }
    const auto transformed = [&](std::size_t count) {
        fft.inv(even.data(), spectrum.data(), static_cast<Eigen::Index>(size));
        std::vector<double> first(count);
        for (std::size_t k = 0; k < count; ++k) first[k] = even[k].real();
        return first;
    };
    for (std::complex<double>& value : spectrum) value *= static_cast<double>(size) / sum;
    Endless endless;
    endless.correlation = transformed(correlation.size());
    for (std::complex<double>& value : spectrum) value = std::sqrt(value.real());
    endless.half = transformed(size / 2);
    return endless;
}

// The first taps, scaled to unit power.
std::vector<double> shortened(const std::vector<double>& taps, std::size_t side) {
    std::vector<double> half(taps.begin(), taps.begin() + static_cast<std::ptrdiff_t>(side) + 1);
    const double scale = 1.0 / std::sqrt(lagged_product(half, 0));
    for (double& tap : half) tap *= scale;
    return half;
}

// Whether a filter makes what the endless one makes. The sum over all lags is what a wide spot's centroid feels.
bool is_near(const std::vector<double>& half, const Endless& endless) {
    constexpr double per_lag = 0.005;
    constexpr double of_sum = 0.01;
    const double all = sum_both_sides(endless.half);
    const double sum = sum_both_sides(half);
    if (std::abs(sum * sum - all * all) > of_sum * all * all) return false;
    for (std::size_t m = 0; m < endless.correlation.size(); ++m) {
        if (std::abs(lagged_product(half, m) - endless.correlation[m]) > per_lag) return false;
    }
    return true;
}

}  // namespace

CubeRoot cube_root_of(double contrast) {
    // (c + s z)^3 = h0 + h1 z + h2 (z^2 - 1) + h3 (z^3 - 3 z), h0 = c^3 + 3 c s^2, h1 = 3 c^2 s + 3 s^3, h2 = 3 c s^2,
    // h3 = s^3. With x = (s/c)^2: mean h0 = c^3 (1 + 3 x) = 1, variance h1^2 + 2 h2^2 + 6 h3^2 = contrast^2, which is
    // (9 x + 36 x^2 + 15 x^3) / (1 + 3 x)^2, rising and convex enough for Newton's method from contrast^2 / 9.
    const double wanted = contrast * contrast;
    double x = wanted / 9.0;
    for (int i = 0; i < 20; ++i) {
        const double below = 1.0 + 3.0 * x;
        const double above = x * (9.0 + x * (36.0 + 15.0 * x));
        const double slope = (9.0 + x * (72.0 + 45.0 * x)) / (below * below) - 6.0 * above / (below * below * below);
        const double step = (above / (below * below) - wanted) / slope;
        x -= step;
        if (std::abs(step) <= 1e-15 * x) break;
    }
    const double mean = 1.0 / std::cbrt(1.0 + 3.0 * x);
    return {mean, mean * std::sqrt(x)};
}

std::vector<float> filter_taps(const std::vector<double>& correlation) {
    const Endless endless = root_of_spectrum(correlation);
    const std::size_t most = std::min(most_side_taps, endless.half.size() - 1);
    std::size_t side = 0;
    std::vector<double> half = shortened(endless.half, side);
    while (side < most && !is_near(half, endless)) {
        side = std::min(most, side + 1 + side / 4);
        half = shortened(endless.half, side);
    }
    std::vector<float> taps(2 * side + 1);
    for (std::size_t k = 0; k <= side; ++k) taps[side - k] = taps[side + k] = static_cast<float>(half[k]);
    return taps;
}

}  // namespace spotwright::receiver
