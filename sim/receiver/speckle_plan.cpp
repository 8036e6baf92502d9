#include "sim/receiver/speckle_plan.hpp"

#include <boost/math/special_functions/sinc.hpp>

#include <algorithm>
#include <cmath>
#include <numeric>

#include <Eigen/LU>
#include <unsupported/Eigen/FFT>

#include "sim/base/constants.hpp"
#include "sim/receiver/phasor.hpp"
#include "sim/receiver/spectral_patterns.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d;
using Complex = std::complex<float>;

// Beyond this many 1/e^2 radii lies 1e-4 of the footprint's light.
constexpr double footprint_reach = 2.2;
// Beyond this many lambda / (2 reach) from a point's image lies some hundredth of its light, spread thinly.
constexpr double image_margin = 5.0;

// The next even size of small factors only.
int transform_size(double least) {
    for (int size = std::max(8, 2 * static_cast<int>(std::ceil(least / 2.0)));; size += 2) {
        int rest = size;
        for (const int factor : {2, 3, 5}) {
            while (rest % factor == 0) rest /= factor;
        }
        if (rest == 1) return size;
    }
}

// Number of a sample's frequency, negative in the upper half.
int frequency(int index, int size) {
    return index < size - index ? index : index - size;
}

// Share of an interval about `centre` that lies within +-`half`.
double share_inside(double centre, double width, double half) {
    const double inside = std::min(centre + 0.5 * width, half) - std::max(centre - 0.5 * width, -half);
    return std::clamp(inside / width, 0.0, 1.0);
}

// Amplitude that passes the aperture about a place: the root of the share of the cell that lies inside.
double passes(const Aperture& aperture, const Vector2d& place, const Vector2d& cell) {
    if (aperture.shape == ApertureShape::rectangular) {
        return std::sqrt(share_inside(place.x(), cell.x(), aperture.half_in_plane) *
                         share_inside(place.y(), cell.y(), aperture.half_out_of_plane));
    }
    const Vector2d half(aperture.half_in_plane, aperture.half_out_of_plane);
    const Vector2d unit = place.cwiseQuotient(half);
    const double radius = unit.norm();
    if (radius == 0.0) return 1.0;
    const double cell_along_radius = unit.cwiseProduct(cell.cwiseQuotient(half)).norm() / radius;
    return std::sqrt(std::clamp((1.0 - radius) / cell_along_radius + 0.5, 0.0, 1.0));
}

using Grid = Eigen::ArrayXXcd;

void transform(Grid& grid, bool inverse) {
    Eigen::FFT<double> fft;
    fft.SetFlag(Eigen::FFT<double>::Unscaled);
    for (int pass = 0; pass < 2; ++pass) {
        Grid result(grid.rows(), grid.cols());
        for (Eigen::Index i = 0; i < grid.cols(); ++i) {
            if (inverse) {
                fft.inv(result.col(i).data(), grid.col(i).data(), grid.rows());
            } else {
                fft.fwd(result.col(i).data(), grid.col(i).data(), grid.rows());
            }
        }
        grid = result.transpose();
    }
}

void set_pupil(SpecklePlan& plan) {
    const SpeckleView& view = plan.view;
    const Eigen::Matrix2d to_place = view.direction_per_place.inverse() * view.wavelength;
    const Vector2d step(1.0 / (plan.grid.columns * plan.grid.pitch), 1.0 / (plan.grid.rows * plan.grid.pitch));
    const Vector2d cell = to_place.cwiseAbs() * step;
    std::vector<Complex> column(plan.rows());
    for (int m = 0; m < plan.grid.columns; ++m) {
        bool any = false;
        for (int n = 0; n < plan.grid.rows; ++n) {
            const Vector2d place = to_place * Vector2d(frequency(m, plan.grid.columns) * step.x(),
                                                       frequency(n, plan.grid.rows) * step.y());
            const double amplitude = passes(view.aperture, place, cell);
            const double phase = base::pi / view.wavelength * view.defocus.dot(place.cwiseProduct(place));
            column[static_cast<std::size_t>(n)] = Complex(phasor(amplitude, phase));
            any = any || amplitude > 0.0;
        }
        if (!any) continue;
        plan.pupil_columns.push_back(static_cast<std::size_t>(m));
        plan.pupil.insert(plan.pupil.end(), column.begin(), column.end());
    }
}

// The mean over all surfaces: irradiance convolved with the intensity of a point's image.
void set_mean(SpecklePlan& plan) {
    const SpeckleGrid& grid = plan.grid;
    Grid point = Grid::Zero(grid.columns, grid.rows);
    for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) {
        const auto column = static_cast<Eigen::Index>(plan.pupil_columns[m]);
        for (int n = 0; n < grid.rows; ++n) {
            point(column, n) = std::complex<double>(plan.pupil[m * plan.rows() + static_cast<std::size_t>(n)]);
        }
    }
    transform(point, true);
    point = point.abs2().cast<std::complex<double>>();
    transform(point, false);
    Grid light(grid.columns, grid.rows);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            const Vector2d r(plan.x(column), plan.y(row));
            light(column, row) = std::exp(-2.0 * r.dot(plan.view.irradiance * r));
        }
    }
    transform(light, false);
    light *= point;
    transform(light, true);
    constexpr double mean_square = 2.0;  // of the surface's numbers, real and imaginary part
    const Eigen::ArrayXXd intensity = light.real() * (mean_square / static_cast<double>(light.size()));
    const double brightest = intensity.maxCoeff();
    plan.brightest = static_cast<float>(brightest);
    plan.mean.resize(static_cast<std::size_t>(intensity.size()));
    for (std::size_t i = 0; i < plan.mean.size(); ++i) {
        plan.mean[i] = static_cast<float>(std::max(intensity.data()[i], 0.0) / brightest);
    }
}

// What samples weigh in the integral over an interval, in units of their spacing: exact for a periodic function of the
// samples' bandwidth, whose Fourier terms the interval weakens by sinc.
std::vector<float> weights_within(double centre, double width, int samples) {
    std::vector<std::complex<double>> spectrum(static_cast<std::size_t>(samples));
    for (int f = 0; f < samples; ++f) {
        const double cycles = static_cast<double>(frequency(f, samples)) / samples;
        const double weakened = width * boost::math::sinc_pi(base::pi * cycles * width) / samples;
        spectrum[static_cast<std::size_t>(f)] = phasor(weakened, 2.0 * base::pi * cycles * centre);
    }
    std::vector<std::complex<double>> weights(spectrum.size());
    Eigen::FFT<double> fft;
    fft.fwd(weights.data(), spectrum.data(), samples);
    std::vector<float> result(weights.size());
    for (std::size_t i = 0; i < result.size(); ++i) result[i] = static_cast<float>(weights[i].real());
    return result;
}

// Rows within the height of the pixels. A height beyond the image takes all of it.
void set_rows(SpecklePlan& plan) {
    const PixelRow& row = plan.view.row;
    const double step = plan.view.dv_dy * plan.grid.pitch;
    const double height = row.height / std::abs(step);
    if (height >= static_cast<double>(plan.grid.rows)) {
        plan.row_weight.assign(plan.rows(), 1.0F);
        return;
    }
    plan.row_weight = weights_within(-row.v0 / step + SpecklePlan::middle(plan.grid.rows), height, plan.grid.rows);
}

void set_pixels(SpecklePlan& plan) {
    set_rows(plan);
    const PixelRow& row = plan.view.row;
    const double columns_per_pixel = row.pitch / (plan.view.du_dx * plan.grid.pitch);
    const double last_pixel = static_cast<double>(row.pixels) - 1.0;
    const double middle_pixel = row.u0 / row.pitch + 0.5 * last_pixel;
    const double half = 0.5 * plan.grid.columns / std::abs(columns_per_pixel);
    if (middle_pixel + half < -0.5 || middle_pixel - half > last_pixel + 0.5) return;
    const double first = std::clamp(std::round(middle_pixel - half), 0.0, last_pixel);
    const double last = std::clamp(std::round(middle_pixel + half), 0.0, last_pixel);
    plan.first_pixel = static_cast<std::size_t>(first);
    const auto count = static_cast<std::size_t>(last - first) + 1;
    for (std::size_t pixel = 0; pixel < count; ++pixel) {
        const double from_middle = first + static_cast<double>(pixel) - middle_pixel;
        const double centre = from_middle * columns_per_pixel + SpecklePlan::middle(plan.grid.columns);
        const double width = std::min(std::abs(columns_per_pixel), static_cast<double>(plan.grid.columns));
        const std::vector<float> weights = weights_within(centre, width, plan.grid.columns);
        plan.pixel_weights.insert(plan.pixel_weights.end(), weights.begin(), weights.end());
    }
    plan.mean_on_pixels.resize(count);
    std::vector<float> sums(plan.columns(), 0.0F);
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        add_row(plan, j, plan.row_weight[j], plan.mean.data() + j * plan.columns(), sums);
    }
    plan.mean_on_pixels = over_pixels(plan, sums);
}

}  // namespace

SpeckleGrid speckle_grid(const SpeckleView& view, const SpeckleSampling& sampling) {
    SpeckleGrid grid;
    grid.pitch = sampling.pitch > 0.0 ? sampling.pitch : coarsest_pitch(view);
    const Eigen::Matrix2d spread = view.irradiance.inverse();
    const Vector2d reach = aperture_reach(view);
    const Vector2d half_aperture(view.aperture.half_in_plane, view.aperture.half_out_of_plane);
    const auto cells = [&](int axis) {
        const double footprint = footprint_reach * std::sqrt(spread(axis, axis));
        const double margin = image_margin * view.wavelength / (2.0 * reach[axis]);
        const double blur =
            std::abs(view.defocus[axis]) * half_aperture[axis] / std::abs(view.direction_per_place(axis, axis));
        constexpr double most = 1e5;
        return std::min(2.0 * sampling.window * (footprint + margin + blur) / grid.pitch, most);
    };
    grid.columns = transform_size(cells(0));
    grid.rows = transform_size(cells(1));
    return grid;
}

SpecklePlan plan_speckle(const SpeckleView& view, const SpeckleSampling& sampling) {
    SpecklePlan plan;
    plan.view = view;
    plan.grid = speckle_grid(view, sampling);
    const Coherence& coherence = view.coherence;
    plan.patterns = spectral_patterns(view);
    plan.polarisation = {0.5 * (1.0 + coherence.polarisation_degree), 0.5 * (1.0 - coherence.polarisation_degree)};
    plan.illumination = illuminate(plan, Vector2d::Zero());
    plan.lit.resize(plan.rows());
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        constexpr float dark = 1e-3F;  // a millionth of the irradiance
        const auto* row = plan.illumination.data() + j * plan.columns();
        const bool any = std::any_of(row, row + plan.columns(), [](const Complex& z) { return std::abs(z) > dark; });
        plan.lit[j] = any ? 1 : 0;
    }
    set_pupil(plan);
    set_mean(plan);
    set_pixels(plan);
    return plan;
}

std::vector<Complex> illuminate(const SpecklePlan& plan, const Vector2d& shift) {
    const SpeckleView& view = plan.view;
    const double k = 2.0 * base::pi / view.wavelength;
    std::vector<Complex> field(plan.columns() * plan.rows());
    std::size_t i = 0;
    for (int row = 0; row < plan.grid.rows; ++row) {
        for (int column = 0; column < plan.grid.columns; ++column, ++i) {
            const Vector2d r = Vector2d(plan.x(column), plan.y(row)) - shift;
            const double amplitude = std::exp(-r.dot(view.irradiance * r));
            const double phase = k * (0.5 * r.dot(view.wavefront * r) - view.direction.dot(r));
            field[i] = Complex(phasor(amplitude, std::remainder(phase, 2.0 * base::pi)));
        }
    }
    return field;
}

void add_row(const SpecklePlan& plan, std::size_t row, float weight, const float* values, std::vector<float>& sums) {
    const double shift = plan.view.du_dy * plan.y(static_cast<int>(row)) / (plan.view.du_dx * plan.grid.pitch);
    const auto size = static_cast<std::ptrdiff_t>(plan.columns());
    const auto whole =
        static_cast<std::ptrdiff_t>(std::clamp(std::floor(shift), -2.0 * double(size), 2.0 * double(size)));
    const float upper = weight * static_cast<float>(shift - std::floor(shift));
    const float lower = weight - upper;
    const auto add = [&](std::ptrdiff_t by, float share) {
        if (share == 0.0F) return;
        const std::ptrdiff_t end = std::min(size, size - by);
        for (std::ptrdiff_t i = std::max<std::ptrdiff_t>(0, -by); i < end; ++i) {
            sums[static_cast<std::size_t>(i + by)] += share * values[i];
        }
    };
    add(whole, lower);
    add(whole + 1, upper);
}

std::vector<float> over_pixels(const SpecklePlan& plan, const std::vector<float>& sums) {
    std::vector<float> pixels(plan.mean_on_pixels.size());
    for (std::size_t k = 0; k < pixels.size(); ++k) {
        const float* weights = plan.pixel_weights.data() + k * plan.columns();
        pixels[k] = std::inner_product(weights, weights + plan.columns(), sums.data(), 0.0F);
    }
    return pixels;
}

}  // namespace spotwright::receiver
