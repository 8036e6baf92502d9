#include "sim/receiver/coherent_speckle.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "sim/base/errors.hpp"
#include "sim/base/random.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d;

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
                            std::size_t count, std::vector<float>& normals) {
    constexpr std::int64_t middle = std::int64_t{1} << 31;  // so that places to the left count too
    const std::int64_t begin = (first + middle) * 2;
    const std::int64_t block = begin / base::block_pixels;
    const std::int64_t own_row = (static_cast<std::int64_t>(pattern) << 33U) + row + middle;
    const auto before = static_cast<std::size_t>(begin - block * base::block_pixels);
    constexpr std::size_t size = base::block_pixels;
    const std::size_t blocks = (before + 2 * count + size - 1) / size;
    base::fill_normals(key, own_row, block, std::span(normals).first(blocks * size));
    return normals.data() + before;
}

// The surface's own numbers over the patch, for one of the patterns that add up, in its light.
void light_surface(const SpecklePlan& plan, const WaveGrid& light, base::RandomKey key, std::size_t pattern,
                   const LatticePlace& at, SpeckleWorkspace& work) {
    const std::int64_t first_column = at.column - plan.grid.columns / 2;
    const std::int64_t first_row = at.row - plan.grid.rows / 2;
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        const LitStretch lit = plan.lit[j];
        if (lit.begin == lit.end) continue;
        const std::int64_t row = first_row + static_cast<std::int64_t>(j);
        const std::int64_t first = first_column + static_cast<std::int64_t>(lit.begin);
        const float* drawn = normals_of_row(key, pattern, row, first, lit.end - lit.begin, work.normals);
        light_row(light, j, lit.begin, lit.end, drawn, work.surface);
    }
}

// Calls `use(share of the light, whether it is in step with mirrored light)` for each pattern that adds up, with the
// workspace holding the field of its image.
template <class Use>
void for_each_pattern(const SpecklePlan& plan, std::uint64_t seed, const Vector2d& place, SpeckleWorkspace& work,
                      const Use& use) {
    const LatticePlace at = on_lattice(place, plan.grid.pitch);
    const bool off_lattice = !at.shift.isZero();
    if (off_lattice) {
        illuminate_moved(plan, at.shift, work.moved_light);
        move_pupil(plan, at.shift, work.moved_pupil);
    }
    const WaveGrid& light = off_lattice ? work.moved_light : plan.illumination;
    const WaveGrid& pupil = off_lattice ? work.moved_pupil : plan.train.pupil;
    for (std::size_t p = 0; p < plan.polarisation.size(); ++p) {
        if (plan.polarisation[p] <= 0.0) continue;
        const base::RandomKey key{seed, p == 0 ? base::Stream::surface : base::Stream::surface_crossed};
        for (std::size_t i = 0; i < plan.patterns.size(); ++i) {
            light_surface(plan, light, key, i, at, work);
            pass_pupil(plan.train, pupil, work.surface, work.scratch, work.image);
            use(plan.polarisation[p] * plan.patterns[i], p == 0 && i == 0);
        }
    }
}

// Intensity over all rows within the pixels' height.
void add_intensity(const SpecklePlan& plan, float scale, SpeckleWorkspace& work, std::vector<float>& values,
                   std::vector<float>& sums) {
    if (plan.view.du_dy == 0.0) {
        std::vector<float> weights = plan.row_weight;
        for (float& weight : weights) weight *= scale;
        add_weighted_rows(work.image, weights, sums.data());
        return;
    }
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        row_intensity(work.image, j, values.data());
        add_row(plan, j, plan.row_weight[j] * scale, values.data(), sums);
    }
}

// The field in step with mirrored light, likewise.
void add_field(const SpecklePlan& plan, float scale, const SpeckleWorkspace& work, std::vector<float>& values,
               std::vector<float>& sums) {
    for (std::size_t j = 0; j < plan.rows(); ++j) {
        const float weight = plan.row_weight[j] * scale;
        const float* root = plan.root_of_mean.data() + j * plan.columns();
        const float* field = work.image.re.data() + j * work.image.stride;
        if (plan.view.du_dy == 0.0) {
            for (std::size_t i = 0; i < plan.columns(); ++i) sums[i] += weight * (field[i] * root[i]);
            continue;
        }
        for (std::size_t i = 0; i < plan.columns(); ++i) values[i] = field[i] * root[i];
        add_row(plan, j, weight, values.data(), sums);
    }
}

}  // namespace

SpeckleWorkspace make_workspace(const SpecklePlan& plan) {
    SpeckleWorkspace work;
    work.surface = make_wave_grid(plan.rows(), plan.columns());
    work.image = work.surface;
    work.scratch = make_wave_scratch(plan.train);
    constexpr std::size_t block = base::block_pixels;
    work.normals.resize((2 * work.surface.stride / block + 2) * block);
    return work;
}

SpecklePattern speckle_pattern(const SpecklePlan& plan, std::uint64_t seed, const Vector2d& place,
                               SpeckleWorkspace& work) {
    std::vector<float> intensity(work.image.stride, 0.0F);
    std::vector<float> field(work.image.stride, 0.0F);
    std::vector<float> values(work.image.stride);
    for_each_pattern(plan, seed, place, work, [&](double share, bool mirrors) {
        const auto light = static_cast<float>(share);
        add_intensity(plan, light / plan.brightest, work, values, intensity);
        if (mirrors) add_field(plan, light / std::sqrt(plan.brightest), work, values, field);
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
    std::vector<float> values(work.image.stride);
    for_each_pattern(plan, seed, place, work, [&](double share, bool /*mirrors*/) {
        for (std::size_t j = 0; j < plan.rows(); ++j) {
            row_intensity(work.image, j, values.data());
            image.intensity.col(static_cast<Eigen::Index>(j)) +=
                static_cast<float>(share) / plan.brightest *
                Eigen::Map<const Eigen::ArrayXf>(values.data(), plan.grid.columns);
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

Vector2d separate_patch(const SpecklePlan& plan, std::int64_t index) {
    // Along one line of the lattice, to the right and the left by turns.
    const std::int64_t step = plan.grid.columns;
    const std::int64_t side = index % 2 == 0 ? index / 2 : -(index + 1) / 2;
    return {static_cast<double>(side * step) * plan.grid.pitch, 0.0};
}

}  // namespace spotwright::receiver
