// Contrast and correlation of pixels, from the aperture, the footprint's image and the pixels' size. The equations are
// derived in docs/theory/speckle.md, whose numbers stand in brackets here.
#include "sim/receiver/speckle_field.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <boost/math/special_functions/bessel.hpp>

#include "sim/base/border.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/quadrature.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Matrix2d, Eigen::Vector2d;

// Places in units of wavelength over the aperture's half-width, seen from the part: speckle is alike along all axes
// there, and both kinds of |mu|^2 have zeros half a unit apart.
constexpr double lobe = 0.5;
// From here on |mu|^2 is told by its mean over a lobe: 12.5 lobes, where the sine of what is left out passes zero.
constexpr double smooth_from = 6.25;

// |mu|^2 along one axis, tabulated: Bessel functions are slow.
class LobeTable {
public:
    template <class Function>
    explicit LobeTable(const Function& exact) {
        for (std::size_t i = 0; i < values_.size(); ++i) values_[i] = exact(static_cast<double>(i) / per_unit);
    }

    // For 0 <= e < smooth_from.
    [[nodiscard]] double at(double e) const {
        const double place = e * per_unit;
        const auto i = static_cast<std::size_t>(place);
        const double share = place - static_cast<double>(i);
        return values_[i] + share * (values_[i + 1] - values_[i]);
    }

private:
    static constexpr double per_unit = 512.0;  // linear interpolation errs by less than 1e-5
    std::array<double, static_cast<std::size_t>(smooth_from* per_unit) + 2> values_{};
};

// [2 J1(2 pi e) / (2 pi e)]^2; its mean 4 / (pi rho^3), rho = 2 pi e, far out.
double round_lobes(double e) {
    static const LobeTable table([](double at) {
        const double rho = 2.0 * base::pi * at;
        const double amplitude = rho > 0.0 ? 2.0 * boost::math::cyl_bessel_j(1, rho) / rho : 1.0;
        return amplitude * amplitude;
    });
    if (e < smooth_from) return table.at(e);
    const double rho = 2.0 * base::pi * e;
    return 4.0 / (base::pi * rho * rho * rho);
}

// sinc^2(2 e); its mean 1 / (2 pi^2 (2 e)^2) far out.
double slit_lobes(double e) {
    static const LobeTable table([](double at) {
        const double phase = 2.0 * base::pi * at;
        const double amplitude = phase > 0.0 ? std::sin(phase) / phase : 1.0;
        return amplitude * amplitude;
    });
    if (e < smooth_from) return table.at(e);
    const double phase = 2.0 * base::pi * e;
    return 0.5 / (phase * phase);
}

// |mu|^2 of the aperture at a distance in the units above. (speckle.11)
double squared_coherence(ApertureShape shape, const Vector2d& e) {
    if (shape == ApertureShape::round) return round_lobes(e.norm());
    return slit_lobes(std::abs(e.x())) * slit_lobes(std::abs(e.y()));
}

// Of |mu|^2 along one axis, in the units above: integral 2 sqrt(pi) times this. 16 / (3 pi^2) of a round aperture, 1/2
// of a slit.
double point_deviation(ApertureShape shape) {
    const double length = shape == ApertureShape::round ? 16.0 / (3.0 * base::pi * base::pi) : 0.5;
    return length / (2.0 * std::sqrt(base::pi));
}

// What decides the correlation of light at two places of the array.
struct ArrayStatistics {
    ApertureShape shape = ApertureShape::round;
    Matrix2d to_units;  // from a distance on the array to that which |mu|^2 takes
    Matrix2d unstretched_to_units;
    double along_deviation = 0.0;   // of the mean image along the array. [m]
    double across_deviation = 0.0;  // of a column of it, across the array. [m]
    double shear = 0.0;             // how far a column's middle moves across per distance along. [1]
    double v0 = 0.0;                // of the image's middle from the pixels'. [m]
    PixelRow row;
    double slant_deviation = 0.0;  // of path, by the footprint's slant within a point's image. [m]
};

Matrix2d root_of(const Matrix2d& positive) {
    Eigen::SelfAdjointEigenSolver<Matrix2d> solver;
    solver.computeDirect(positive);
    return solver.eigenvectors() * solver.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal() *
           solver.eigenvectors().transpose();
}

// Off the diagonal, what only rounding has left there.
void clean(double& value, double against) {
    constexpr double rounding = 1e-6;
    if (std::abs(value) < rounding * std::abs(against)) value = 0.0;
}

ArrayStatistics array_statistics(const SpeckleView& view) {
    ArrayStatistics s;
    s.shape = view.aperture.shape;
    s.row = view.row;
    const Vector2d half(view.aperture.half_in_plane, view.aperture.half_out_of_plane);
    const Matrix2d units = half.asDiagonal() * view.direction_per_aperture_position.transpose() / view.wavelength;
    Matrix2d to_array;
    to_array << view.du_dx, view.du_dy, 0.0, view.dv_dy;
    const Matrix2d from_array = to_array.inverse();

    // Everything is taken for Gaussian here, as in a Gauss-Schell beam: (speckle.13).
    const Matrix2d footprint = units * (0.25 * view.irradiance.inverse()) * units.transpose();
    const double sharp = point_deviation(s.shape);
    const double place_variance = s.shape == ApertureShape::round ? 0.25 : 1.0 / 3.0;
    const Vector2d blur = view.defocus.cwiseProduct(half).cwiseProduct(half) / view.wavelength;
    const Vector2d point = sharp * sharp + place_variance * blur.array().square();
    const Matrix2d point_inverse = point.cwiseInverse().asDiagonal();
    const Matrix2d seen = (point_inverse + footprint.inverse()).inverse();
    const Matrix2d cross = (point.cwiseInverse().array() * (1.0 / (sharp * sharp) - point.cwiseInverse().array()))
                               .cwiseMax(0.0)
                               .sqrt()
                               .matrix()
                               .asDiagonal();
    const Matrix2d image = footprint + Matrix2d(point.asDiagonal());
    const Matrix2d stretch = sharp * root_of(point_inverse - image.inverse() + cross * seen * cross);
    s.unstretched_to_units = units * from_array;
    s.to_units = stretch * s.unstretched_to_units;
    clean(s.to_units(0, 1), s.to_units(1, 1));
    clean(s.to_units(1, 0), s.to_units(0, 0));

    const Matrix2d back = s.unstretched_to_units.inverse();
    const Matrix2d on_array = back * image * back.transpose();
    s.along_deviation = std::sqrt(on_array(0, 0));
    s.shear = on_array(0, 1) / on_array(0, 0);
    clean(s.shear, 1.0);
    s.across_deviation = std::sqrt(on_array(1, 1) - s.shear * on_array(0, 1));
    // Beyond this there is no light to speak of.
    const double farthest = 0.5 * s.row.height + 3.0 * s.across_deviation;
    s.v0 = std::clamp(view.row.v0, -farthest, farthest);
    const Vector2d slant = units.transpose().inverse() * view.direction;
    s.slant_deviation = std::sqrt(slant.dot(seen * slant));
    return s;
}

// Points and weights for an integral over 0 ... end of a product with |mu|^2, that are fine as far as its lobes are.
std::vector<base::QuadratureNode> lobe_nodes(double end, double lobe_width) {
    std::vector<base::QuadratureNode> nodes;
    const auto add_panel = [&nodes](double from, double to) { base::add_gauss_nodes<7>(from, to, nodes); };
    const double fine_end = std::min(end, smooth_from / lobe * lobe_width);
    constexpr double fewest = 3.0;       // for the footprint's own Gaussian
    constexpr double panel_lobes = 2.0;  // the rule errs by 2e-4 of their swing
    const double panels = std::max(fewest, std::ceil(fine_end / (panel_lobes * lobe_width)));
    for (double i = 0.0; i < panels; i += 1.0) add_panel(fine_end * i / panels, fine_end * (i + 1.0) / panels);
    for (double from = fine_end; from < end; from *= 2.0) add_panel(from, std::min(2.0 * from, end));
    return nodes;
}

// Light within the height of a column that stands `along` off the middle, but for a constant factor.
double column_light(const ArrayStatistics& s, double along) {
    const double middle = s.v0 + s.shear * along;
    const double scale = 1.0 / (std::sqrt(2.0) * s.across_deviation);
    return std::sqrt(0.5 * base::pi) * s.across_deviation *
           (std::erf((0.5 * s.row.height - middle) * scale) + std::erf((0.5 * s.row.height + middle) * scale));
}

// Covariance of the light of two columns at +-along/2 off the middle, relative to their means. (speckle.12)
class ColumnCovariance {
public:
    ColumnCovariance(const ArrayStatistics& s, double farthest_along) : s_(s) {
        const double gaussian_end = 9.0 * std::sqrt(2.0) * s.across_deviation;
        const double end = std::min(s.row.height, gaussian_end + std::abs(s.shear) * farthest_along);
        nodes_ = lobe_nodes(end, lobe / s.to_units.col(1).norm());
        both_sides_alike_ = s.shear == 0.0 && s.to_units(0, 1) == 0.0 && s.to_units(1, 0) == 0.0;
        for (base::QuadratureNode& node : nodes_) {
            const double half = 0.5 * (s.row.height - node.at);
            node.weight *=
                0.5 * std::sqrt(base::pi) * s.across_deviation *
                (std::erf((half - s.v0) / s.across_deviation) + std::erf((half + s.v0) / s.across_deviation));
            if (s.shear == 0.0) node.weight *= envelope(node.at);
        }
    }

    [[nodiscard]] double at(double along) const {
        double sum = 0.0;
        for (const base::QuadratureNode& node : nodes_) {
            const double one_side = coherence(along, node.at);
            sum += node.weight * (one_side + (both_sides_alike_ ? one_side : coherence(along, -node.at)));
        }
        const double light = column_light(s_, 0.5 * along) * column_light(s_, -0.5 * along);
        return light > 0.0 ? sum / light : 0.0;
    }

private:
    // Of two columns that stand this much across from each other.
    [[nodiscard]] double envelope(double across) const {
        const double ratio = 0.5 * across / s_.across_deviation;
        return std::exp(-ratio * ratio);
    }

    [[nodiscard]] double coherence(double along, double across) const {
        const double squared = squared_coherence(s_.shape, s_.to_units * Vector2d(along, across));
        return s_.shear == 0.0 ? squared : squared * envelope(across - s_.shear * along);
    }

    const ArrayStatistics& s_;
    std::vector<base::QuadratureNode> nodes_;
    bool both_sides_alike_ = false;
};

// Covariances of pixels 0, 1, 2, ... apart, relative to their means: pairs that stand evenly about the spot.
// (speckle.14)
std::vector<double> pixel_covariance(const ArrayStatistics& s) {
    const double pitch = s.row.pitch;
    const double lobe_along = lobe / s.to_units.col(0).norm();
    constexpr double lobes = 6.0;  // the correlation is below 0.003 from there on
    const auto lags = static_cast<std::size_t>(
        std::min(std::ceil(lobes * lobe_along / pitch) + 1.0, 2.0 * static_cast<double>(most_side_taps)));
    const double step = std::min({0.5 * pitch, 0.125 * lobe_along, 0.5 * s.along_deviation});
    constexpr double most_steps = 1024.0;
    const auto half_steps = static_cast<std::size_t>(std::min(std::ceil(0.5 * pitch / step), most_steps));
    const std::size_t steps = 2 * half_steps;  // of a pixel: even, for Simpson's rule
    const double h = pitch / static_cast<double>(steps);
    const ColumnCovariance column(s, pitch * static_cast<double>(lags + 1));
    std::vector<double> columns((lags + 1) * steps + 1);
    for (std::size_t j = 0; j < columns.size(); ++j) columns[j] = column.at(h * static_cast<double>(j));

    const auto covariance = [&](std::size_t lag) {
        double sum = 0.0;
        double weights = 0.0;
        const std::size_t middle = lag * steps;
        const std::size_t first = lag == 0 ? 0 : middle - steps;
        const double nearest = h * static_cast<double>(first) / (2.0 * s.along_deviation);
        for (std::size_t j = first; j <= middle + steps; ++j) {
            const std::size_t off = j > middle ? j - middle : middle - j;
            const double simpson = off == 0 ? (lag == 0 ? 1.0 : 2.0) : off == steps ? 1.0 : off % 2 == 1 ? 4.0 : 2.0;
            const double ratio = h * static_cast<double>(j) / (2.0 * s.along_deviation);
            const double weight = simpson * std::exp(nearest * nearest - ratio * ratio) *
                                  std::erf(h * static_cast<double>(steps - off) / (2.0 * s.along_deviation));
            sum += weight * columns[j];
            weights += weight;
        }
        return sum / weights;
    };
    std::vector<double> covariances(lags);
    for (std::size_t lag = 0; lag < lags; ++lag) covariances[lag] = covariance(lag);
    return covariances;
}

// Full width at half maximum of |mu|^2 along the array, of a footprint that is large against it. [m]
double speckle_size(const ArrayStatistics& s) {
    const Vector2d along = s.unstretched_to_units.col(0).normalized();
    const auto is_above = [&](double lag) { return squared_coherence(s.shape, lag * along) > 0.5; };
    constexpr int halvings = 40;
    // From 0, where |mu|^2 is 1, to where every |mu|^2 is below 1/2; it falls all the way.
    const auto [above, below] = base::border_between(0.0, lobe, is_above, halvings);
    return (above + below) / s.unstretched_to_units.col(0).norm();
}

// Correlation of normal numbers whose cubes are so correlated. (speckle.16)
double correlation_of_normals(const CubeRoot& root, double correlation) {
    const double c = root.mean;
    const double s = root.deviation;
    const double h1 = 3.0 * s * (c * c + s * s);
    const double h2 = 3.0 * c * s * s;
    const double h3 = s * s * s;
    const double one = h1 * h1;
    const double two = 2.0 * h2 * h2;
    const double three = 6.0 * h3 * h3;
    const double wanted = correlation * (one + two + three);
    double r = correlation;
    for (int i = 0; i < 20; ++i) {
        const double step = (r * (one + r * (two + r * three)) - wanted) / (one + r * (2.0 * two + r * 3.0 * three));
        r -= step;
        if (std::abs(step) < 1e-12) break;
    }
    return std::clamp(r, -1.0, 1.0);
}

}  // namespace

// Equation (speckle.15).
SpeckleField make_speckle_field(const SpeckleView& view) {
    const ArrayStatistics s = array_statistics(view);
    SpeckleField field;
    field.pattern_contrast = polarisation_contrast(view.coherence.polarisation_degree) *
                             spectral_contrast(view.coherence.wavenumber_deviation,
                                               std::hypot(view.coherence.path_deviation, s.slant_deviation));
    field.size = speckle_size(s);
    field.correlation = pixel_covariance(s);
    const double share = std::min(field.correlation.front(), 1.0);
    field.contrast = field.pattern_contrast * std::sqrt(share);
    for (double& each : field.correlation) each /= share;
    field.correlation.front() = 1.0;
    field.cube_root = cube_root_of(field.contrast);
    std::vector<double> of_normals;
    for (const double each : field.correlation) of_normals.push_back(correlation_of_normals(field.cube_root, each));
    field.taps = filter_taps(of_normals);
    return field;
}

}  // namespace spotwright::receiver
