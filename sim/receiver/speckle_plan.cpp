#include "sim/receiver/speckle_plan.hpp"

#include <boost/math/special_functions/sinc.hpp>

#include <algorithm>
#include <cmath>
#include <complex>

#include <Eigen/LU>
#include <unsupported/Eigen/FFT>

#include "sim/base/constants.hpp"
#include "sim/receiver/phasor.hpp"
#include "sim/receiver/spectral_patterns.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d;

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

void set_wave(WaveGrid& grid, std::size_t at, const std::complex<double>& wave) {
    grid.re[at] = static_cast<float>(wave.real());
    grid.im[at] = static_cast<float>(wave.imag());
}

// Without the standard's care for infinities, which costs a factor of some.
std::complex<double> product(const std::complex<double>& a, const std::complex<double>& b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

void multiply_wave(WaveGrid& grid, std::size_t at, const std::complex<float>& by) {
    const float re = grid.re[at] * by.real() - grid.im[at] * by.imag();
    grid.im[at] = grid.re[at] * by.imag() + grid.im[at] * by.real();
    grid.re[at] = re;
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

// Amplitude and phase at one frequency. Equation (instrument.4).
std::complex<double> opening_at(const SpeckleView& view, const Vector2d& place, const Vector2d& cell) {
    double phase = base::pi / view.wavelength * view.defocus.dot(place.cwiseProduct(place));
    if (!view.aberrations.is_ideal()) {
        phase -= 2.0 * base::pi / view.wavelength * lead_at(view.aberrations, place.x(), place.y());
    }
    return phasor(passes(view.aperture, place, cell), phase);
}

void set_pupil(SpecklePlan& plan) {
    const SpeckleView& view = plan.view;
    const Eigen::Matrix2d to_place = view.direction_per_aperture_position.inverse() * view.wavelength;
    const Vector2d step(1.0 / (plan.grid.columns * plan.grid.pitch), 1.0 / (plan.grid.rows * plan.grid.pitch));
    const Vector2d cell = to_place.cwiseAbs() * step;
    const auto location_of = [&](std::size_t m, std::size_t n) -> Vector2d {
        return to_place * Vector2d(frequency(static_cast<int>(m), plan.grid.columns) * step.x(),
                                   frequency(static_cast<int>(n), plan.grid.rows) * step.y());
    };
    std::vector<char> takes_column(plan.columns(), 0);
    std::vector<char> takes_row(plan.rows(), 0);
    for (std::size_t m = 0; m < plan.columns(); ++m) {
        for (std::size_t n = 0; n < plan.rows(); ++n) {
            if (passes(view.aperture, location_of(m, n), cell) > 0.0) takes_column[m] = takes_row[n] = 1;
        }
    }
    WaveTrain& train = plan.train;
    train.along = make_wave_transform(plan.columns());
    train.across = make_wave_transform(plan.rows());
    for (std::size_t m = 0; m < plan.columns(); ++m) {
        if (takes_column[m] != 0) train.pupil_columns.push_back(m);
    }
    for (std::size_t n = 0; n < plan.rows(); ++n) {
        if (takes_row[n] != 0) train.pupil_rows.push_back(n);
    }
    train.pupil = make_wave_grid(train.pupil_columns.size(), train.pupil_rows.size());
    for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
        for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
            const Vector2d place = location_of(train.pupil_columns[m], train.pupil_rows[n]);
            set_wave(train.pupil, m * train.pupil.stride + n, opening_at(view, place, cell));
        }
    }
}

// The mean over all surfaces: irradiance convolved with the intensity of a point's image.
// Equation (speckle.4).
void set_mean(SpecklePlan& plan) {
    const SpeckleGrid& grid = plan.grid;
    Grid point = Grid::Zero(grid.columns, grid.rows);
    const WaveTrain& train = plan.train;
    for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
        for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
            const std::size_t at = m * train.pupil.stride + n;
            point(static_cast<Eigen::Index>(train.pupil_columns[m]), static_cast<Eigen::Index>(train.pupil_rows[n])) =
                std::complex<float>(train.pupil.re[at], train.pupil.im[at]);
        }
    }
    transform(point, true);
    // Both are real and go together, light as the real part, F = L + i P: L P = (F(k)^2 - conj(F(-k))^2) / 4i.
    Grid both(grid.columns, grid.rows);
    for (int row = 0; row < grid.rows; ++row) {
        for (int column = 0; column < grid.columns; ++column) {
            const Vector2d r(plan.x(column), plan.y(row));
            both(column, row) = {std::exp(-2.0 * r.dot(plan.view.irradiance * r)), std::norm(point(column, row))};
        }
    }
    transform(both, false);
    Grid light(grid.columns, grid.rows);
    for (int n = 0; n < grid.rows; ++n) {
        for (int m = 0; m < grid.columns; ++m) {
            const std::complex<double> here = both(m, n);
            const std::complex<double> there =
                std::conj(both((grid.columns - m) % grid.columns, (grid.rows - n) % grid.rows));
            light(m, n) = product(product(here, here) - product(there, there), {0.0, -0.25});
        }
    }
    transform(light, true);
    constexpr double mean_square = 2.0;  // of the surface's numbers, real and imaginary part
    const Eigen::ArrayXXd intensity = light.real() * (mean_square / static_cast<double>(light.size()));
    const double brightest = intensity.maxCoeff();
    plan.brightest = static_cast<float>(brightest);
    plan.mean.resize(static_cast<std::size_t>(intensity.size()));
    for (std::size_t i = 0; i < plan.mean.size(); ++i) {
        plan.mean[i] = static_cast<float>(std::max(intensity.data()[i], 0.0) / brightest);
    }
    plan.root_of_mean = plan.mean;
    for (float& value : plan.root_of_mean) value = std::sqrt(value);
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
    plan.pixel_weights.resize(count * plan.columns());
    for (std::size_t pixel = 0; pixel < count; ++pixel) {
        const double from_middle = first + static_cast<double>(pixel) - middle_pixel;
        const double centre = from_middle * columns_per_pixel + SpecklePlan::middle(plan.grid.columns);
        const double width = std::min(std::abs(columns_per_pixel), static_cast<double>(plan.grid.columns));
        const std::vector<float> weights = weights_within(centre, width, plan.grid.columns);
        for (std::size_t i = 0; i < weights.size(); ++i) plan.pixel_weights[i * count + pixel] = weights[i];
    }
    plan.mean_on_pixels.resize(count);
    std::vector<float> sums(plan.columns(), 0.0F);
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        add_row(plan, j, plan.row_weight[j], plan.mean.data() + j * plan.columns(), sums);
    }
    plan.mean_on_pixels = over_pixels(plan, sums);
}

void set_lit(SpecklePlan& plan) {
    constexpr float dark = 1e-6F;  // of the irradiance
    plan.lit.resize(plan.rows());
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        LitStretch& lit = plan.lit[j];
        for (std::size_t i = 0; i < plan.columns(); ++i) {
            const float re = plan.illumination.re[j * plan.illumination.stride + i];
            const float im = plan.illumination.im[j * plan.illumination.stride + i];
            if (re * re + im * im <= dark) continue;
            const std::size_t whole = i / wave_columns * wave_columns;
            if (lit.end == 0) lit.begin = whole;
            lit.end = std::min(whole + wave_columns, plan.columns());
        }
    }
}

// By which a ray falls at the rim at most. [1]
double steepest_slope(const Wavefront& w) {
    return (4.0 * std::abs(w.spherical) + 3.0 * std::abs(w.coma) + 2.0 * std::abs(w.astigmatism)) / w.rim;
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
        const double blur = std::abs(view.defocus[axis]) * half_aperture[axis] /
                            std::abs(view.direction_per_aperture_position(axis, axis));
        const double bent =
            steepest_slope(view.aberrations) / std::abs(view.direction_per_aperture_position(axis, axis));
        constexpr double most = 1e5;
        return std::min(2.0 * sampling.window * (footprint + margin + blur + bent) / grid.pitch, most);
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
    set_lit(plan);
    set_pupil(plan);
    set_mean(plan);
    set_pixels(plan);
    return plan;
}

// Equation (speckle.1).
WaveGrid illuminate(const SpecklePlan& plan, const Vector2d& shift) {
    const SpeckleView& view = plan.view;
    const double k = 2.0 * base::pi / view.wavelength;
    const auto wave_at = [&](double x, double y) {
        const Vector2d r = Vector2d(x, y) - shift;
        const double phase = k * (0.5 * r.dot(view.wavefront * r) - view.direction.dot(r));
        return phasor(std::exp(-r.dot(view.irradiance * r)), std::remainder(phase, 2.0 * base::pi));
    };
    // A footprint along the axes is a product of one factor for each column and one for each row.
    const bool along_axes = view.irradiance(0, 1) == 0.0 && view.irradiance(1, 0) == 0.0 &&
                            view.wavefront(0, 1) == 0.0 && view.wavefront(1, 0) == 0.0;
    std::vector<std::complex<double>> along;
    for (int column = 0; along_axes && column < plan.grid.columns; ++column) {
        along.push_back(wave_at(plan.x(column), shift.y()));
    }
    WaveGrid field = make_wave_grid(plan.rows(), plan.columns());
    for (int row = 0; row < plan.grid.rows; ++row) {
        const std::complex<double> across = wave_at(shift.x(), plan.y(row));
        std::size_t i = static_cast<std::size_t>(row) * field.stride;
        for (int column = 0; column < plan.grid.columns; ++column, ++i) {
            set_wave(field, i,
                     along_axes ? product(along[static_cast<std::size_t>(column)], across)
                                : wave_at(plan.x(column), plan.y(row)));
        }
    }
    return field;
}

void illuminate_moved(const SpecklePlan& plan, const Vector2d& shift, WaveGrid& light) {
    const SpeckleView& view = plan.view;
    // On a lattice that is coarse against the footprint the factors would be too large for single precision.
    if (view.irradiance.diagonal().maxCoeff() * plan.grid.pitch * plan.grid.pitch > 4.0) {
        light = illuminate(plan, shift);
        return;
    }
    // (r - s)^T Q (r - s) = r^T Q r - 2 s^T Q r + s^T Q s: what is new is linear in r.
    const double k = 2.0 * base::pi / view.wavelength;
    const Vector2d gain = 2.0 * view.irradiance * shift;
    const Vector2d turn = -k * (view.wavefront * shift);
    const double gain_at_all = -shift.dot(view.irradiance * shift);
    const double turn_at_all = k * (0.5 * shift.dot(view.wavefront * shift) + view.direction.dot(shift));
    std::vector<std::complex<float>> along(plan.columns());
    for (std::size_t i = 0; i < along.size(); ++i) {
        const double x = plan.x(static_cast<int>(i));
        along[i] = std::complex<float>(phasor(std::exp(gain.x() * x), turn.x() * x));
    }
    light = plan.illumination;
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        const double y = plan.y(static_cast<int>(j));
        const std::complex<float> across(phasor(std::exp(gain.y() * y + gain_at_all), turn.y() * y + turn_at_all));
        for (std::size_t i = 0; i < along.size(); ++i) {
            const std::size_t at = j * light.stride + i;
            multiply_wave(light, at, along[i]);
            multiply_wave(light, at, across);
        }
    }
}

void move_pupil(const SpecklePlan& plan, const Vector2d& shift, WaveGrid& pupil) {
    const auto turn = [&](std::size_t index, int size, double by) {
        const int cycles = frequency(static_cast<int>(index), size);
        return std::complex<float>(phasor(1.0, 2.0 * base::pi * cycles * by / (size * plan.grid.pitch)));
    };
    const WaveTrain& train = plan.train;
    std::vector<std::complex<float>> across;
    for (const std::size_t n : train.pupil_rows) across.push_back(turn(n, plan.grid.rows, shift.y()));
    pupil = train.pupil;
    for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
        const std::complex<float> along = turn(train.pupil_columns[m], plan.grid.columns, shift.x());
        for (std::size_t n = 0; n < across.size(); ++n) {
            multiply_wave(pupil, m * pupil.stride + n, along);
            multiply_wave(pupil, m * pupil.stride + n, across[n]);
        }
    }
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
    std::vector<float> pixels(plan.mean_on_pixels.size(), 0.0F);
    const float* weights = plan.pixel_weights.data();
    for (std::size_t i = 0; i < plan.columns(); ++i, weights += pixels.size()) {
        for (std::size_t k = 0; k < pixels.size(); ++k) pixels[k] += weights[k] * sums[i];
    }
    return pixels;
}

double strehl_ratio(const SpecklePlan& plan) {
    const WaveTrain& train = plan.train;
    std::complex<double> sum;
    double amplitude = 0.0;
    for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
        for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
            const std::size_t at = m * train.pupil.stride + n;
            const std::complex<double> wave(static_cast<double>(train.pupil.re[at]),
                                            static_cast<double>(train.pupil.im[at]));
            sum += wave;
            amplitude += std::abs(wave);
        }
    }
    return std::norm(sum) / (amplitude * amplitude);
}

}  // namespace spotwright::receiver
