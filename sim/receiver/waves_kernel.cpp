// Transforms of the coherent speckle model, one build per instruction set, chosen at run time. A lane is a column:
// lanes never meet, so that every instruction set gives the same bits.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/waves_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include <hwy/highway.h>

#include <algorithm>

#include "sim/receiver/waves.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {
namespace {

namespace hn = hwy::HWY_NAMESPACE;
using Wide = hn::CappedTag<float, wave_columns>;
using Lane = hn::Vec<Wide>;

struct Pair {
    Lane re;
    Lane im;
};

// Places of real and imaginary parts; rows of `wave_columns` stand `stride` apart.
struct Rows {
    float* re;
    float* im;
    std::size_t stride;
};
struct ConstRows {
    ConstRows(const float* real, const float* imaginary, std::size_t apart) : re(real), im(imaginary), stride(apart) {}
    // NOLINTNEXTLINE(google-explicit-constructor): rows may always be read
    ConstRows(const Rows& rows) : re(rows.re), im(rows.im), stride(rows.stride) {}
    const float* re;
    const float* im;
    std::size_t stride;
};

HWY_INLINE Pair operator+(Pair a, Pair b) {
    return {hn::Add(a.re, b.re), hn::Add(a.im, b.im)};
}
HWY_INLINE Pair operator-(Pair a, Pair b) {
    return {hn::Sub(a.re, b.re), hn::Sub(a.im, b.im)};
}
HWY_INLINE Pair scaled(Pair a, Lane by) {
    return {hn::Mul(a.re, by), hn::Mul(a.im, by)};
}
HWY_INLINE Pair minus_i_times(Pair a, Pair b) {
    return {hn::Add(a.re, b.im), hn::Sub(a.im, b.re)};
}
HWY_INLINE Pair plus_i_times(Pair a, Pair b) {
    return {hn::Sub(a.re, b.im), hn::Add(a.im, b.re)};
}
HWY_INLINE Pair times(Pair a, Pair b) {
    return {hn::Sub(hn::Mul(a.re, b.re), hn::Mul(a.im, b.im)), hn::Add(hn::Mul(a.re, b.im), hn::Mul(a.im, b.re))};
}

// Transforms of 2 to 5 numbers, in place.
HWY_INLINE void butterfly(Pair (&a)[2]) {
    const Pair sum = a[0] + a[1];
    a[1] = a[0] - a[1];
    a[0] = sum;
}
HWY_INLINE void butterfly(Pair (&a)[3]) {
    const Wide d;
    const Pair sum = a[1] + a[2];
    const Pair middle = a[0] - scaled(sum, hn::Set(d, 0.5F));
    const Pair turned = scaled(a[1] - a[2], hn::Set(d, 0.866025404F));  // sin(60 deg)
    a[0] = a[0] + sum;
    a[1] = minus_i_times(middle, turned);
    a[2] = plus_i_times(middle, turned);
}
HWY_INLINE void butterfly(Pair (&a)[4]) {
    const Pair even = a[0] + a[2];
    const Pair even_less = a[0] - a[2];
    const Pair odd = a[1] + a[3];
    const Pair odd_less = a[1] - a[3];
    a[0] = even + odd;
    a[1] = minus_i_times(even_less, odd_less);
    a[2] = even - odd;
    a[3] = plus_i_times(even_less, odd_less);
}
HWY_INLINE void butterfly(Pair (&a)[5]) {
    const Wide d;
    const Lane cos_1 = hn::Set(d, 0.309016994F);   // cos(72 deg)
    const Lane cos_2 = hn::Set(d, -0.809016994F);  // cos(144 deg)
    const Lane sin_1 = hn::Set(d, 0.951056516F);
    const Lane sin_2 = hn::Set(d, 0.587785252F);
    const Pair outer = a[1] + a[4];
    const Pair inner = a[2] + a[3];
    const Pair outer_less = a[1] - a[4];
    const Pair inner_less = a[2] - a[3];
    const Pair first = a[0] + scaled(outer, cos_1) + scaled(inner, cos_2);
    const Pair second = a[0] + scaled(outer, cos_2) + scaled(inner, cos_1);
    const Pair first_turned = scaled(outer_less, sin_1) + scaled(inner_less, sin_2);
    const Pair second_turned = scaled(outer_less, sin_2) - scaled(inner_less, sin_1);
    a[0] = a[0] + outer + inner;
    a[1] = minus_i_times(first, first_turned);
    a[2] = minus_i_times(second, second_turned);
    a[3] = plus_i_times(second, second_turned);
    a[4] = plus_i_times(first, first_turned);
}

// One pass over 16 columns. Only the first, whose butterflies share no factors, may find its rows apart.
template <std::size_t radix>
HWY_INLINE void pass(const WaveTransform::Pass& plan, const float* HWY_RESTRICT twiddles, const ConstRows& from,
                     const Rows& to) {
    const Wide d;
    const std::size_t length = plan.stride * wave_columns;
    const float* factor = twiddles + plan.first_twiddle;
    for (std::size_t p = 0; p < plan.count; ++p, factor += 2 * (radix - 1)) {
        for (std::size_t i = 0; i < length; i += hn::Lanes(d)) {
            Pair a[radix];
            for (std::size_t k = 0; k < radix; ++k) {
                const std::size_t at = plan.stride * (p + plan.count * k) * from.stride + i;
                a[k] = {hn::Load(d, from.re + at), hn::Load(d, from.im + at)};
            }
            butterfly(a);
            if (p > 0) {
                for (std::size_t k = 1; k < radix; ++k) {
                    a[k] = times(a[k], {hn::Set(d, factor[2 * k - 2]), hn::Set(d, factor[2 * k - 1])});
                }
            }
            for (std::size_t k = 0; k < radix; ++k) {
                const std::size_t at = plan.stride * (radix * p + k) * wave_columns + i;
                hn::Store(a[k].re, d, to.re + at);
                hn::Store(a[k].im, d, to.im + at);
            }
        }
    }
}

// All passes over 16 columns, by turns into two places; returns the one that holds the result. The first may be where
// they come from.
HWY_INLINE ConstRows transform_stretch(const WaveTransform& transform, ConstRows from, Rows one, Rows other) {
    const float* twiddles = transform.twiddles.data();
    for (const WaveTransform::Pass& plan : transform.passes) {
        switch (plan.radix) {
            case 2:
                pass<2>(plan, twiddles, from, one);
                break;
            case 3:
                pass<3>(plan, twiddles, from, one);
                break;
            case 4:
                pass<4>(plan, twiddles, from, one);
                break;
            default:
                pass<5>(plan, twiddles, from, one);
        }
        from = one;
        std::swap(one, other);
    }
    return from;
}

// Back instead of forward: real and imaginary parts change their parts, before and after.
HWY_INLINE Rows exchanged(const Rows& rows) {
    return {rows.im, rows.re, rows.stride};
}

HWY_INLINE ConstRows exchanged(const ConstRows& rows) {
    return {rows.im, rows.re, rows.stride};
}

HWY_INLINE ConstRows stretch_of(const WaveGrid& grid, std::size_t first_row, std::size_t first_column) {
    const std::size_t at = first_row * grid.stride + first_column;
    return {grid.re.data() + at, grid.im.data() + at, grid.stride};
}
HWY_INLINE Rows stretch_of(WaveGrid& grid, std::size_t first_row, std::size_t first_column) {
    const std::size_t at = first_row * grid.stride + first_column;
    return {grid.re.data() + at, grid.im.data() + at, grid.stride};
}

HWY_INLINE void copy_row(const ConstRows& from, std::size_t row, const Rows& to, std::size_t other_row) {
    std::copy_n(from.re + row * from.stride, wave_columns, to.re + other_row * to.stride);
    std::copy_n(from.im + row * from.stride, wave_columns, to.im + other_row * to.stride);
}

HWY_INLINE void clear_rows(const Rows& rows, std::size_t count) {
    std::fill_n(rows.re, count * rows.stride, 0.0F);
    std::fill_n(rows.im, count * rows.stride, 0.0F);
}

void transform_columns_kernel(const WaveTransform& transform, bool back, WaveGrid& grid) {
    WaveGrid work = make_wave_grid(2 * transform.size, wave_columns);
    for (std::size_t x = 0; x < grid.stride; x += wave_columns) {
        const Rows place = stretch_of(grid, 0, x);
        const ConstRows from = back ? exchanged(place) : place;
        const ConstRows found =
            transform_stretch(transform, from, stretch_of(work, 0, 0), stretch_of(work, transform.size, 0));
        if (transform.passes.empty()) continue;
        const ConstRows result = back ? exchanged(found) : found;
        for (std::size_t row = 0; row < transform.size; ++row) copy_row(result, row, place, row);
    }
}

// 16 columns of the field to as many rows of its transform across, as far as the pupil takes it.
HWY_INLINE void go_across(const WaveTrain& train, const ConstRows& field, WaveGrid& work, const Rows& between) {
    const Rows one = stretch_of(work, 0, 0);
    const ConstRows found = transform_stretch(train.across, field, one, stretch_of(work, train.across.size, 0));
    for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
        const std::size_t from = train.pupil_rows[n] * found.stride;
        for (std::size_t i = 0; i < wave_columns; ++i) {
            between.re[i * between.stride + n] = found.re[from + i];
            between.im[i * between.stride + n] = found.im[from + i];
        }
    }
}

// 16 frequencies across: along, through the pupil, and back.
HWY_INLINE void go_along(const WaveTrain& train, const WaveGrid& pupil, std::size_t first, WaveGrid& work,
                         const Rows& between) {
    const Wide d;
    const std::size_t size = train.along.size;
    const Rows one = stretch_of(work, 0, 0);
    const Rows other = stretch_of(work, size, 0);
    const Rows passed = stretch_of(work, 2 * size, 0);
    const ConstRows found = transform_stretch(train.along, between, one, other);
    clear_rows(passed, size);
    for (std::size_t m = 0; m < train.pupil_columns.size(); ++m) {
        const std::size_t row = train.pupil_columns[m] * wave_columns;
        const std::size_t of_pupil = m * pupil.stride + first;
        for (std::size_t i = 0; i < wave_columns; i += hn::Lanes(d)) {
            const Pair wave{hn::Load(d, found.re + row + i), hn::Load(d, found.im + row + i)};
            const Pair opening{hn::Load(d, pupil.re.data() + of_pupil + i),
                               hn::Load(d, pupil.im.data() + of_pupil + i)};
            const Pair product = times(wave, opening);
            hn::Store(product.re, d, passed.re + row + i);
            hn::Store(product.im, d, passed.im + row + i);
        }
    }
    const ConstRows image =
        exchanged(transform_stretch(train.along, exchanged(passed), exchanged(one), exchanged(other)));
    for (std::size_t row = 0; row < size; ++row) copy_row(image, row, between, row);
}

// As many rows of the pupil's frequencies across to 16 columns of the image.
HWY_INLINE void return_across(const WaveTrain& train, const ConstRows& between, WaveGrid& work, const Rows& image) {
    const std::size_t size = train.across.size;
    const Rows one = stretch_of(work, 0, 0);
    const Rows other = stretch_of(work, size, 0);
    const Rows spectrum = stretch_of(work, 2 * size, 0);
    clear_rows(spectrum, size);
    for (std::size_t n = 0; n < train.pupil_rows.size(); ++n) {
        const std::size_t to = train.pupil_rows[n] * wave_columns;
        for (std::size_t i = 0; i < wave_columns; ++i) {
            spectrum.re[to + i] = between.re[i * between.stride + n];
            spectrum.im[to + i] = between.im[i * between.stride + n];
        }
    }
    const ConstRows found =
        exchanged(transform_stretch(train.across, exchanged(spectrum), exchanged(one), exchanged(other)));
    for (std::size_t row = 0; row < size; ++row) copy_row(found, row, image, row);
}

void pass_pupil_kernel(const WaveTrain& train, const WaveGrid& pupil, const WaveGrid& field, WaveScratch& scratch,
                       WaveGrid& image) {
    // Columns beyond the last go across with the others, and are left out along.
    WaveGrid& between = scratch.between;
    for (std::size_t x = 0; x < field.stride; x += wave_columns) {
        go_across(train, stretch_of(field, 0, x), scratch.work, stretch_of(between, x, 0));
    }
    for (std::size_t n = 0; n < between.stride; n += wave_columns) {
        go_along(train, pupil, n, scratch.work, stretch_of(between, 0, n));
    }
    for (std::size_t x = 0; x < field.stride; x += wave_columns) {
        return_across(train, stretch_of(between, x, 0), scratch.work, stretch_of(image, 0, x));
    }
}

void light_row_kernel(const WaveGrid& light, std::size_t row, std::size_t begin, std::size_t end,
                      const float* HWY_RESTRICT surface, WaveGrid& field) {
    const Wide d;
    const std::size_t at = row * light.stride;
    for (std::size_t i = begin; i < end; i += hn::Lanes(d), surface += 2 * hn::Lanes(d)) {
        // NOLINTNEXTLINE(cppcoreguidelines-pro-type-member-init): filled below
        Pair place;
        hn::LoadInterleaved2(d, surface, place.re, place.im);
        const Pair lit = times(place, {hn::Load(d, light.re.data() + at + i), hn::Load(d, light.im.data() + at + i)});
        hn::Store(lit.re, d, field.re.data() + at + i);
        hn::Store(lit.im, d, field.im.data() + at + i);
    }
}

HWY_INLINE Lane intensity_at(const WaveGrid& field, std::size_t at) {
    const Wide d;
    const Lane re = hn::Load(d, field.re.data() + at);
    const Lane im = hn::Load(d, field.im.data() + at);
    return hn::Add(hn::Mul(re, re), hn::Mul(im, im));
}

void row_intensity_kernel(const WaveGrid& field, std::size_t row, float* HWY_RESTRICT intensity) {
    const Wide d;
    for (std::size_t i = 0; i < field.stride; i += hn::Lanes(d)) {
        hn::StoreU(intensity_at(field, row * field.stride + i), d, intensity + i);
    }
}

void add_weighted_rows_kernel(const WaveGrid& field, const float* HWY_RESTRICT weights, std::size_t rows,
                              float* HWY_RESTRICT sums) {
    const Wide d;
    for (std::size_t i = 0; i < field.stride; i += hn::Lanes(d)) {
        Lane sum = hn::LoadU(d, sums + i);
        for (std::size_t row = 0; row < rows; ++row) {
            sum = hn::Add(sum, hn::Mul(hn::Set(d, weights[row]), intensity_at(field, row * field.stride + i)));
        }
        hn::StoreU(sum, d, sums + i);
    }
}

}  // namespace
}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(transform_columns_kernel);
HWY_EXPORT(pass_pupil_kernel);
HWY_EXPORT(light_row_kernel);
HWY_EXPORT(row_intensity_kernel);
HWY_EXPORT(add_weighted_rows_kernel);

void transform_columns(const WaveTransform& transform, bool back, WaveGrid& grid) {
    HWY_DYNAMIC_DISPATCH(transform_columns_kernel)(transform, back, grid);
}

// Equation (speckle.3).
void pass_pupil(const WaveTrain& train, const WaveGrid& pupil, const WaveGrid& field, WaveScratch& scratch,
                WaveGrid& image) {
    HWY_DYNAMIC_DISPATCH(pass_pupil_kernel)(train, pupil, field, scratch, image);
}

void light_row(const WaveGrid& light, std::size_t row, std::size_t begin, std::size_t end, const float* surface,
               WaveGrid& field) {
    HWY_DYNAMIC_DISPATCH(light_row_kernel)(light, row, begin, end, surface, field);
}

void row_intensity(const WaveGrid& field, std::size_t row, float* intensity) {
    HWY_DYNAMIC_DISPATCH(row_intensity_kernel)(field, row, intensity);
}

void add_weighted_rows(const WaveGrid& field, std::span<const float> weights, float* sums) {
    HWY_DYNAMIC_DISPATCH(add_weighted_rows_kernel)(field, weights.data(), weights.size(), sums);
}

}  // namespace spotwright::receiver
#endif
