// Vector code of Poisson counts, compiled once per instruction set by the files that include it.
// Multiplications and additions stay separate (no fused multiply-add), so every instruction set gives the same bits.

#if defined(SPOTWRIGHT_COUNTS_KERNEL_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SPOTWRIGHT_COUNTS_KERNEL_INL
#undef SPOTWRIGHT_COUNTS_KERNEL_INL
#else
#define SPOTWRIGHT_COUNTS_KERNEL_INL
#endif

#include <hwy/highway.h>

#include "sim/base/random_kernel-inl.hpp"
#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

inline constexpr std::size_t unit = base::unit_pixels;
inline constexpr std::size_t stretch = 4 * unit;  ///< pixels that are worked on together, at most

using Floats = hn::CappedTag<float, unit>;  // so that a vector lies within a unit

/// With a mean below 24 a count of 100 has a probability far below the resolution of a uniform number.
inline constexpr std::size_t largest_count = 100;

/// Mean counts of a stretch of pixels, and what counts are made of. A pixel is dim, and its count found by inversion,
/// where `dimness` is below the limit.
struct StretchMeans {  // NOLINT(cppcoreguidelines-pro-type-member-init): only what is wanted is filled
    std::size_t count = stretch;
    HWY_ALIGN float mean[stretch];
    HWY_ALIGN float dimness[stretch];           // the mean itself, but where a mean below the limit is to be expanded
    HWY_ALIGN float zero_probability[stretch];  // of dim pixels, else 1
    HWY_ALIGN float expanded[stretch];          // mean, not below the least that is expanded
    HWY_ALIGN float root[stretch];              // of it
    HWY_ALIGN float inverse_root[stretch];
    HWY_ALIGN float inverse[stretch];
    std::uint8_t dim_at[stretch];     // where vectors with a dim pixel begin
    std::uint8_t bright_at[stretch];  // where vectors with any other pixel begin
    std::size_t dim_count = 0;
    std::size_t bright_count = 0;
};

/// exp(x) for |x| <= 30, within 2e-7 of itself: a power of two times a polynomial on +-ln(2)/2, and exactly 1 at 0.
/// Source: coefficients of S. L. Moshier, "Methods and Programs for Mathematical Functions" (1989), expf.
template <class D>
HWY_INLINE hn::Vec<D> exponential(D d, hn::Vec<D> x) {
    const hn::RebindToSigned<D> di;
    const auto power = hn::Floor(hn::Add(hn::Mul(x, hn::Set(d, 1.44269504F)), hn::Set(d, 0.5F)));
    const auto rest =
        hn::Sub(hn::Sub(x, hn::Mul(power, hn::Set(d, 0.693359375F))), hn::Mul(power, hn::Set(d, -2.12194440e-4F)));
    constexpr float coefficients[] = {1.3981999507e-3F, 8.3334519073e-3F, 4.1665795894e-2F, 1.6666665459e-1F,
                                      5.0000001201e-1F};
    auto y = hn::Set(d, 1.9875691500e-4F);
    for (const float c : coefficients) y = hn::Add(hn::Mul(y, rest), hn::Set(d, c));
    y = hn::Add(hn::Add(hn::Mul(hn::Mul(rest, rest), y), rest), hn::Set(d, 1.0F));
    const auto exponent = hn::ShiftLeft<23>(hn::Add(hn::ConvertTo(di, power), hn::Set(di, 127)));
    return hn::Mul(y, hn::BitCast(d, exponent));
}

/// Sorts the vectors of a stretch, and finds what all counts of the same means share. An error of exp(-mean) by a share
/// e scales every probability of the inversion by 1 + e and moves the distribution by no more than e, here 1e-6.
HWY_INLINE void prepare_counts(double min_expanded, StretchMeans& m) {
    const Floats d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    const auto least = hn::Set(d, static_cast<float>(min_expanded));
    m.dim_count = 0;
    m.bright_count = 0;
    for (std::size_t i = 0; i < m.count; i += hn::Lanes(d)) {
        const auto dim = hn::Lt(hn::Load(d, m.dimness + i), limit);
        const auto mean = hn::Load(d, m.mean + i);
        auto zero_probability = hn::Set(d, 1.0F);
        if (!hn::AllFalse(d, dim)) {
            m.dim_at[m.dim_count++] = static_cast<std::uint8_t>(i);
            zero_probability = exponential(d, hn::Neg(hn::IfThenElseZero(dim, mean)));
        }
        hn::Store(zero_probability, d, m.zero_probability + i);
        if (hn::AllTrue(d, dim)) continue;
        const auto expanded = hn::Max(mean, least);
        hn::Store(expanded, d, m.expanded + i);
        const auto root = hn::Sqrt(expanded);
        hn::Store(root, d, m.root + i);
        hn::Store(hn::Div(hn::Set(d, 1.0F), root), d, m.inverse_root + i);
        hn::Store(hn::Div(hn::Set(d, 1.0F), expanded), d, m.inverse + i);
        m.bright_at[m.bright_count++] = static_cast<std::uint8_t>(i);
    }
}

// Smallest k with P(N <= k) >= u, by summing the Poisson probabilities upwards. Several vectors go up together: each
// waits for its own divisions, and the others fill the time. `at` has the start of each.
template <std::size_t vectors, class D>
HWY_INLINE void invert_poisson(D d, const std::uint8_t* HWY_RESTRICT at, const float* HWY_RESTRICT mean,
                               const float* HWY_RESTRICT zero_probability, const std::uint32_t* HWY_RESTRICT words,
                               float* HWY_RESTRICT counts) {
    const hn::RebindToUnsigned<D> du;
    const auto one = hn::Set(d, 1.0F);
    hn::Vec<D> count[vectors];
    hn::Vec<D> probability[vectors];
    hn::Vec<D> cumulative[vectors];
    hn::Vec<D> uniform[vectors];
    for (std::size_t v = 0; v < vectors; ++v) {
        count[v] = hn::Zero(d);
        probability[v] = hn::LoadU(d, zero_probability + at[v]);
        cumulative[v] = probability[v];
        uniform[v] = base::HWY_NAMESPACE::open_uniform(d, hn::LoadU(du, words + at[v]));
    }
    for (float k = 1.0F; k < static_cast<float>(largest_count); k += 1.0F) {
        auto any_below = hn::Lt(cumulative[0], uniform[0]);
        for (std::size_t v = 1; v < vectors; ++v) any_below = hn::Or(any_below, hn::Lt(cumulative[v], uniform[v]));
        if (hn::AllFalse(d, any_below)) break;
        for (std::size_t v = 0; v < vectors; ++v) {
            count[v] = hn::Add(count[v], hn::IfThenElseZero(hn::Lt(cumulative[v], uniform[v]), one));
            probability[v] = hn::Div(hn::Mul(probability[v], hn::LoadU(d, mean + at[v])), hn::Set(d, k));
            cumulative[v] = hn::Add(cumulative[v], probability[v]);
        }
    }
    for (std::size_t v = 0; v < vectors; ++v) hn::StoreU(count[v], d, counts + at[v]);
}

// Powers of a mean that its quantiles are made of.
template <class V>
struct MeanPowers {
    V mean;
    V root;
    V inverse_root;
    V inverse;
};

// floor(m + sqrt(m) w + 1/3 + w^2/6 - (w/36 + w^3/72) / sqrt(m) + (-8/405 + 7 w^2/810 + w^4/270) / m).
template <class D>
HWY_INLINE hn::Vec<D> expand_poisson(D d, hn::Vec<D> w, const MeanPowers<hn::Vec<D>>& m) {
    const auto set = [&](double value) { return hn::Set(d, static_cast<float>(value)); };
    const auto square = hn::Mul(w, w);
    const auto order0 = hn::Add(set(1.0 / 3.0), hn::Mul(square, set(1.0 / 6.0)));
    const auto order1 = hn::Mul(w, hn::Add(set(1.0 / 36.0), hn::Mul(square, set(1.0 / 72.0))));
    const auto order2 =
        hn::Add(set(-8.0 / 405.0), hn::Mul(square, hn::Add(set(7.0 / 810.0), hn::Mul(square, set(1.0 / 270.0)))));
    const auto correction = hn::Add(hn::Sub(order0, hn::Mul(order1, m.inverse_root)), hn::Mul(order2, m.inverse));
    const auto quantile = hn::Add(m.mean, hn::Add(hn::Mul(m.root, w), correction));
    return hn::Max(hn::Floor(quantile), hn::Zero(d));
}

// Counts by inversion of all vectors with a dim pixel.
HWY_INLINE void dim_counts(const StretchMeans& m, const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    const Floats d;
    std::size_t v = 0;
    for (; v + 4 <= m.dim_count; v += 4) invert_poisson<4>(d, m.dim_at + v, m.mean, m.zero_probability, words, counts);
    for (; v + 2 <= m.dim_count; v += 2) invert_poisson<2>(d, m.dim_at + v, m.mean, m.zero_probability, words, counts);
    if (v < m.dim_count) invert_poisson<1>(d, m.dim_at + v, m.mean, m.zero_probability, words, counts);
}

/// P(N <= k) of the dim pixels of a stretch, for many readings of the same means: the sums that `invert_poisson` goes
/// through. Rows beyond what any uniform number reaches are left out.
struct CountSums {  // NOLINT(cppcoreguidelines-pro-type-member-init): only what is wanted is filled
    static constexpr std::size_t at_once = 4;
    HWY_ALIGN float sum[largest_count][stretch];
    std::uint8_t rows[stretch];  // of each vector with a dim pixel; a multiple of `at_once`

    HWY_INLINE void fill(const StretchMeans& m) {
        const Floats d;
        const auto one = hn::Set(d, 1.0F);
        for (std::size_t v = 0; v < m.dim_count; ++v) {
            const std::size_t at = m.dim_at[v];
            auto probability = hn::Load(d, m.zero_probability + at);
            auto cumulative = probability;
            std::size_t k = 0;
            // The last count is never passed.
            while (k + 1 < largest_count && !hn::AllFalse(d, hn::Lt(cumulative, one))) {
                hn::Store(cumulative, d, sum[k] + at);
                ++k;
                probability =
                    hn::Div(hn::Mul(probability, hn::Load(d, m.mean + at)), hn::Set(d, static_cast<float>(k)));
                cumulative = hn::Add(cumulative, probability);
            }
            for (; k % at_once != 0; ++k) hn::Store(one, d, sum[k] + at);
            rows[v] = static_cast<std::uint8_t>(k);
        }
    }
};

// Counts of all vectors with a dim pixel: as many as sums lie below the uniform number.
HWY_INLINE void dim_counts(const StretchMeans& m, const CountSums& sums, const std::uint32_t* HWY_RESTRICT words,
                           float* HWY_RESTRICT counts) {
    const Floats d;
    const hn::RebindToUnsigned<Floats> du;
    const auto one = hn::Set(d, 1.0F);
    for (std::size_t v = 0; v < m.dim_count; ++v) {
        const std::size_t at = m.dim_at[v];
        const auto uniform = base::HWY_NAMESPACE::open_uniform(d, hn::Load(du, words + at));
        auto count = hn::Zero(d);
        auto other = hn::Zero(d);
        for (std::size_t k = 0; k < sums.rows[v]; k += CountSums::at_once) {
            const auto first = hn::Lt(hn::Load(d, sums.sum[k] + at), uniform);
            if (hn::AllFalse(d, first)) break;
            count = hn::Add(count, hn::IfThenElseZero(first, one));
            for (std::size_t i = 1; i < CountSums::at_once; ++i) {
                auto& to = i % 2 == 0 ? count : other;
                to = hn::Add(to, hn::IfThenElseZero(hn::Lt(hn::Load(d, sums.sum[k + i] + at), uniform), one));
            }
        }
        hn::Store(hn::Add(count, other), d, counts + at);
    }
}

/// Counts of a stretch, from its shot-noise words.
/// @param sums  None where too few readings share them.
/// @param counts  Holds the normal numbers of these words unless all pixels are dim.
HWY_INLINE void count_stretch(const StretchMeans& m, const CountSums* sums, const std::uint32_t* HWY_RESTRICT words,
                              float* HWY_RESTRICT counts) {
    const Floats d;
    const auto find_dim = [&](float* HWY_RESTRICT found) HWY_ATTR {
        if (sums != nullptr)
            dim_counts(m, *sums, words, found);
        else
            dim_counts(m, words, found);
    };
    if (m.bright_count == 0) {
        find_dim(counts);
        return;
    }
    for (std::size_t v = 0; v < m.bright_count; ++v) {
        const std::size_t i = m.bright_at[v];
        const MeanPowers<hn::Vec<Floats>> powers{hn::Load(d, m.expanded + i), hn::Load(d, m.root + i),
                                                 hn::Load(d, m.inverse_root + i), hn::Load(d, m.inverse + i)};
        const auto count = expand_poisson(d, hn::Load(d, counts + i), powers);
        hn::Store(count, d, counts + i);
    }
    if (m.dim_count == 0) return;
    HWY_ALIGN float dim[stretch];
    find_dim(dim);
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    for (std::size_t v = 0; v < m.dim_count; ++v) {
        const std::size_t i = m.dim_at[v];
        const auto is_dim = hn::Lt(hn::Load(d, m.dimness + i), limit);
        hn::Store(hn::IfThenElse(is_dim, hn::Load(d, dim + i), hn::Load(d, counts + i)), d, counts + i);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#endif
