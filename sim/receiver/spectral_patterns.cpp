#include "sim/receiver/spectral_patterns.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <numeric>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/linear.hpp"
#include "sim/receiver/diffraction.hpp"

namespace spotwright::receiver {

namespace {

// Difference of wavenumbers that moves a pattern by the whole width of the aperture, along the direction of view;
// none where the part is lit and seen along one line.
double wavenumber_across_aperture(const SpeckleView& view) {
    const double slope = view.direction.norm();
    if (slope <= 0.0) return 0.0;
    const Eigen::Vector2d place = view.direction_per_aperture_position.inverse() * (view.direction / slope);
    const Eigen::Vector2d half(view.aperture.half_in_plane, view.aperture.half_out_of_plane);
    const Eigen::Vector2d unit = place.cwiseQuotient(half);
    const double widths = view.aperture.shape == ApertureShape::round ? unit.norm() : unit.cwiseAbs().maxCoeff();
    return 2.0 * base::pi / view.wavelength * 2.0 / (widths * slope);
}

// Share of the aperture that a pattern keeps when it moves by so many widths.
double overlap(const SpeckleView& view, double widths) {
    if (widths >= 1.0) return 0.0;
    return view.aperture.shape == ApertureShape::round ? round_aperture_transfer(widths) : 1.0 - widths;
}

std::vector<double> equal_shares(double contrast) {
    constexpr double most = 4096.0;
    const double count = std::clamp(std::round(1.0 / (contrast * contrast)), 1.0, most);
    return std::vector<double>(static_cast<std::size_t>(count), 1.0 / count);
}

// Shares of the wavelengths times how alike they are, for `2 side + 1` of them out to `reach` deviations.
Eigen::MatrixXd weighed_alikeness(const SpeckleView& view, int side, double reach, double across) {
    const int count = 2 * side + 1;
    Eigen::VectorXd root(count);
    for (int i = 0; i < count; ++i) root[i] = std::exp(-0.25 * std::pow(reach * (i - side) / side, 2));
    root.normalize();
    const double step = reach * view.coherence.wavenumber_deviation / side;
    Eigen::MatrixXd matrix(count, count);
    for (int i = 0; i < count; ++i) {
        for (int j = 0; j < count; ++j) {
            const double apart = std::abs(i - j) * step;
            const double phase = apart * view.coherence.path_deviation;
            const double moved = across > 0.0 ? apart / across : 0.0;
            matrix(i, j) = root[i] * root[j] * std::exp(-0.5 * phase * phase) * overlap(view, moved);
        }
    }
    return matrix;
}

}  // namespace

// Equation (speckle.7).
std::vector<double> spectral_patterns(const SpeckleView& view) {
    const double deviation = view.coherence.wavenumber_deviation;
    const double path = view.coherence.path_deviation;
    const double across = wavenumber_across_aperture(view);
    const double phase = deviation * std::hypot(path, across > 0.0 ? 2.0 / across : 0.0);
    constexpr double alike = 0.02;  // below it contrast falls by less than 1e-3
    if (phase < alike) return {1.0};
    constexpr double most = 16.0;  // radians, beyond which patterns are so many that their shares hardly matter
    if (phase > most) return equal_shares(spectral_contrast(deviation, path));

    // Wavelengths at most two thirds of a radian apart, out to where they carry a thousandth of the middle's light.
    constexpr double reach = 3.7;
    const int side = std::max(4, static_cast<int>(std::ceil(1.5 * reach * phase)));
    const Eigen::MatrixXd matrix = weighed_alikeness(view, side, reach, across);
    const Eigen::VectorXd shares = base::symmetric_eigenvalues(matrix);
    constexpr double faint = 1e-4;
    std::vector<double> result;
    for (Eigen::Index i = shares.size() - 1; i >= 0 && shares[i] > faint; --i) result.push_back(shares[i]);
    const double sum = std::accumulate(result.begin(), result.end(), 0.0);
    for (double& share : result) share /= sum;
    return result;
}

double pattern_contrast(const SpeckleView& view) {
    const std::vector<double> shares = spectral_patterns(view);
    const double square = std::inner_product(shares.begin(), shares.end(), shares.begin(), 0.0);
    return polarisation_contrast(view.coherence.polarisation_degree) * std::sqrt(square);
}

}  // namespace spotwright::receiver
