#include "sim/receiver/coherent_speckle.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/phasor.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d;
using Complex = std::complex<float>;

// Where a place of the part falls on the lattice.
struct LatticePlace {
    std::int64_t column = 0;
    std::int64_t row = 0;
    Vector2d shift = Vector2d::Zero();  // of the lit point from there. [m]
};

LatticePlace on_lattice(const Vector2d& place, double pitch) {
    constexpr double farthest = 1e9;  // places, within what the random numbers tell apart
    const Vector2d cells = place / pitch;
    if (!(cells.array().abs() < farthest).all()) {
        throw base::DomainError("place on the part", cells.cwiseAbs().maxCoeff() * pitch,
                                "a place less than 1e9 times the pitch of the lattice away");
    }
    const Vector2d whole = cells.array().round();
    Vector2d shift = place - whole * pitch;
    constexpr double on_it = 1e-6;
    if (shift.cwiseAbs().maxCoeff() < on_it * pitch) shift.setZero();
    return {static_cast<std::int64_t>(whole.x()), static_cast<std::int64_t>(whole.y()), shift};
}

// Normal numbers of a stretch of a row of the lattice, two for a place; returns where they begin. Each pattern has
// rows of its own.
const float* normals_of_row(base::RandomKey key, std::size_t pattern, std::int64_t row, std::int64_t first,
                            std::vector<float>& normals) {
    constexpr std::int64_t middle = std::int64_t{1} << 31;  // so that places to the left count too
    const std::int64_t begin = (first + middle) * 2;
    const std::int64_t block = begin / base::block_pixels;
    const std::int64_t own_row = (static_cast<std::int64_t>(pattern) << 33U) + row + middle;
    base::fill_normals(key, own_row, block, normals);
    return normals.data() + (begin - block * base::block_pixels);
}

// The surface's own numbers over the patch, for one of the patterns that add up.
void draw_surface(const SpecklePlan& plan, base::RandomKey key, std::size_t pattern, const LatticePlace& at,
                  SpeckleWorkspace& work) {
    const std::int64_t first_column = at.column - plan.grid.columns / 2;
    const std::int64_t first_row = at.row - plan.grid.rows / 2;
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        if (plan.lit[j] == 0) continue;
        const std::int64_t row = first_row + static_cast<std::int64_t>(j);
        const float* drawn = normals_of_row(key, pattern, row, first_column, work.normals);
        Complex* surface = work.surface.data() + j * plan.columns();
        for (std::size_t i = 0; i < plan.columns(); ++i) surface[i] = {drawn[2 * i], drawn[2 * i + 1]};
    }
}

// A product of complex numbers without the standard's care for infinities, which costs a factor of some.
Complex times(const Complex& a, const Complex& b) {
    return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

// The field through the aperture, as far as columns of its transform by rows of the image.
void pass_aperture(const SpecklePlan& plan, const std::vector<Complex>& illumination, const std::vector<Complex>& pupil,
                   SpeckleWorkspace& work) {
    const std::size_t columns = plan.columns();
    const std::size_t rows = plan.rows();
    for (std::size_t j = 0; j < rows; ++j) {
        if (plan.lit[j] == 0) {
            for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) work.aperture[m * rows + j] = 0.0F;
            continue;
        }
        for (std::size_t i = 0; i < columns; ++i) {
            work.line_in[i] = times(work.surface[j * columns + i], illumination[j * columns + i]);
        }
        work.transform.fwd(work.line_out.data(), work.line_in.data(), static_cast<Eigen::Index>(columns));
        for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) {
            work.aperture[m * rows + j] = work.line_out[plan.pupil_columns[m]];
        }
    }
    for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) {
        Complex* column = work.aperture.data() + m * rows;
        work.transform.fwd(work.line_out.data(), column, static_cast<Eigen::Index>(rows));
        for (std::size_t n = 0; n < rows; ++n) work.line_in[n] = times(work.line_out[n], pupil[m * rows + n]);
        work.transform.inv(column, work.line_in.data(), static_cast<Eigen::Index>(rows));
    }
}

// The field along one row of the image.
const Complex* image_row(const SpecklePlan& plan, std::size_t row, SpeckleWorkspace& work) {
    std::fill_n(work.line_in.begin(), plan.columns(), Complex{});
    for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) {
        work.line_in[plan.pupil_columns[m]] = work.aperture[m * plan.rows() + row];
    }
    work.transform.inv(work.line_out.data(), work.line_in.data(), static_cast<Eigen::Index>(plan.columns()));
    return work.line_out.data();
}

// The aperture for a lattice that stands off the lit point: the image is asked for where the plan has its own places.
std::vector<Complex> moved_pupil(const SpecklePlan& plan, const Vector2d& shift) {
    const auto turn = [&](std::size_t index, int size, double by) {
        const int i = static_cast<int>(index);
        const int frequency = i < size - i ? i : i - size;
        return Complex(phasor(1.0, 2.0 * base::pi * frequency * by / (size * plan.grid.pitch)));
    };
    std::vector<Complex> pupil = plan.pupil;
    for (std::size_t m = 0; m < plan.pupil_columns.size(); ++m) {
        const Complex along = turn(plan.pupil_columns[m], plan.grid.columns, shift.x());
        for (std::size_t n = 0; n < plan.rows(); ++n) {
            pupil[m * plan.rows() + n] *= along * turn(n, plan.grid.rows, shift.y());
        }
    }
    return pupil;
}

// Calls `use(share of the light, whether it is in step with mirrored light)` for each pattern that adds up, with the
// workspace holding it up to `image_row`.
template <class Use>
void for_each_pattern(const SpecklePlan& plan, std::uint64_t seed, const Vector2d& place, SpeckleWorkspace& work,
                      const Use& use) {
    const LatticePlace at = on_lattice(place, plan.grid.pitch);
    const bool off_lattice = !at.shift.isZero();
    const std::vector<Complex> pupil = off_lattice ? moved_pupil(plan, at.shift) : std::vector<Complex>{};
    const std::vector<Complex> moved = off_lattice ? illuminate(plan, at.shift) : std::vector<Complex>{};
    for (std::size_t p = 0; p < plan.polarisation.size(); ++p) {
        if (plan.polarisation[p] <= 0.0) continue;
        const base::RandomKey key{seed, p == 0 ? base::Stream::surface : base::Stream::surface_crossed};
        for (std::size_t i = 0; i < plan.patterns.size(); ++i) {
            draw_surface(plan, key, i, at, work);
            pass_aperture(plan, off_lattice ? moved : plan.illumination, off_lattice ? pupil : plan.pupil, work);
            use(plan.polarisation[p] * plan.patterns[i], p == 0 && i == 0);
        }
    }
}

}  // namespace

SpeckleWorkspace make_workspace(const SpecklePlan& plan) {
    SpeckleWorkspace work;
    work.transform.SetFlag(Eigen::FFT<float>::Unscaled);
    work.surface.resize(plan.columns() * plan.rows());
    work.aperture.resize(plan.pupil_columns.size() * plan.rows());
    work.line_in.resize(std::max(plan.columns(), plan.rows()));
    work.line_out.resize(work.line_in.size());
    constexpr std::size_t block = base::block_pixels;
    work.normals.resize((2 * plan.columns() / block + 2) * block);
    return work;
}

SpecklePattern speckle_pattern(const SpecklePlan& plan, std::uint64_t seed, const Vector2d& place,
                               SpeckleWorkspace& work) {
    const std::size_t columns = plan.columns();
    std::vector<float> intensity(columns, 0.0F);
    std::vector<float> field(columns, 0.0F);
    std::vector<float> values(columns);
    constexpr float faint = 1e-4F;  // rows beyond the pixels' height, but for the sharpness of its edge
    for_each_pattern(plan, seed, place, work, [&](double share, bool mirrors) {
        for (std::size_t j = 0; j < plan.rows(); ++j) {
            if (std::abs(plan.row_weight[j]) < faint) continue;
            const float weight = plan.row_weight[j] * static_cast<float>(share);
            const Complex* row = image_row(plan, j, work);
            for (std::size_t i = 0; i < columns; ++i) {
                values[i] = row[i].real() * row[i].real() + row[i].imag() * row[i].imag();
            }
            add_row(plan, j, weight / plan.brightest, values.data(), intensity);
            if (!mirrors) continue;
            const float* mean = plan.mean.data() + j * columns;
            for (std::size_t i = 0; i < columns; ++i) values[i] = row[i].real() * std::sqrt(mean[i]);
            add_row(plan, j, weight / std::sqrt(plan.brightest), values.data(), field);
        }
    });
    SpecklePattern pattern{plan.first_pixel, over_pixels(plan, intensity), over_pixels(plan, field)};
    const auto in_step = static_cast<float>(1.0 / std::sqrt(plan.polarisation[0] * plan.patterns[0]));
    constexpr float dark = 1e-6F;  // of the brightest pixel, below which single precision tells nothing
    const float brightest =
        plan.mean_on_pixels.empty() ? 0.0F : *std::max_element(plan.mean_on_pixels.begin(), plan.mean_on_pixels.end());
    for (std::size_t k = 0; k < pattern.intensity.size(); ++k) {
        const float mean = plan.mean_on_pixels[k];
        const bool seen = mean > dark * brightest;
        pattern.intensity[k] = seen ? std::max(0.0F, pattern.intensity[k] / mean) : 1.0F;
        pattern.field[k] = seen ? pattern.field[k] / mean * in_step : 0.0F;
    }
    return pattern;
}

SpeckleImage speckle_image(const SpecklePlan& plan, std::uint64_t seed, const Vector2d& place, SpeckleWorkspace& work) {
    SpeckleImage image;
    image.mean = Eigen::Map<const Eigen::ArrayXXf>(plan.mean.data(), plan.grid.columns, plan.grid.rows);
    image.intensity = Eigen::ArrayXXf::Zero(plan.grid.columns, plan.grid.rows);
    for_each_pattern(plan, seed, place, work, [&](double share, bool /*mirrors*/) {
        for (std::size_t j = 0; j < plan.rows(); ++j) {
            const Eigen::Map<const Eigen::ArrayXcf> row(image_row(plan, j, work), plan.grid.columns);
            image.intensity.col(static_cast<Eigen::Index>(j)) +=
                static_cast<float>(share) / plan.brightest * row.abs2();
        }
    });
    const SpeckleView& view = plan.view;
    image.u_first = view.row.u0 + view.du_dx * plan.x(0);
    image.u_step = view.du_dx * plan.grid.pitch;
    image.u_per_row = view.du_dy * plan.grid.pitch;
    image.v_first = view.row.v0 + view.dv_dy * plan.y(0);
    image.v_step = view.dv_dy * plan.grid.pitch;
    return image;
}

Vector2d separate_place(const SpecklePlan& plan, std::int64_t index) {
    // Along one line of the lattice, to the right and the left by turns.
    const std::int64_t step = plan.grid.columns;
    const std::int64_t side = index % 2 == 0 ? index / 2 : -(index + 1) / 2;
    return {static_cast<double>(side * step) * plan.grid.pitch, 0.0};
}

}  // namespace spotwright::receiver
