// The hot loop of the program: noisy frames, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/detector/frames_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/base/random_kernel-inl.hpp"

#include <algorithm>

#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using base::HWY_NAMESPACE::box_muller_rows;
using base::HWY_NAMESPACE::open_uniform;
using base::HWY_NAMESPACE::philox_block;
using base::HWY_NAMESPACE::philox_blocks;
using base::HWY_NAMESPACE::PhiloxKeys;

constexpr std::size_t block = base::block_pixels;
constexpr std::size_t unit = base::unit_pixels;
constexpr std::size_t lanes_at_most = unit;  // so that a vector lies within a unit

using Floats = hn::CappedTag<float, lanes_at_most>;

// With a mean below 24 a count of 100 has a probability far below the resolution of a uniform number.
constexpr std::size_t largest_count = 100;

// Smallest k with P(N <= k) >= u, by summing the Poisson probabilities upwards. Several vectors go up together: each
// waits for its own divisions, and the others fill the time. `at` tells where each of them begins.
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
        uniform[v] = open_uniform(d, hn::LoadU(du, words + at[v]));
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

// Wanted pixels of one block of counters, [first, last), and what their counts are made of. A pixel is dim, and its
// count found by inversion, where `dimness` is below the limit. Arrays are filled for wanted pixels only.
struct BlockMeans {  // NOLINT(cppcoreguidelines-pro-type-member-init): only what is wanted is filled
    std::size_t first = 0;
    std::size_t last = block;
    HWY_ALIGN float mean[block];
    HWY_ALIGN float dimness[block];           // the mean itself, but where a mean below the limit is to be expanded
    HWY_ALIGN float zero_probability[block];  // of dim pixels, else 1
    HWY_ALIGN float expanded[block];          // mean, not below the least that is expanded
    HWY_ALIGN float root[block];              // of it
    HWY_ALIGN float inverse_root[block];
    HWY_ALIGN float inverse[block];
    std::uint8_t dim_at[block];     // where vectors with a dim pixel begin
    std::uint8_t bright_at[block];  // where vectors with any other pixel begin
    std::size_t dim_count = 0;
    std::size_t bright_count = 0;
};

// Sorts the vectors of a block, and finds what all counts of the same means share.
HWY_INLINE void prepare_counts(double least_expanded, BlockMeans& b) {
    const Floats d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    const auto least = hn::Set(d, static_cast<float>(least_expanded));
    b.dim_count = 0;
    b.bright_count = 0;
    for (std::size_t i = b.first; i < b.last; i += hn::Lanes(d)) {
        const auto dim = hn::Lt(hn::Load(d, b.dimness + i), limit);
        if (!hn::AllFalse(d, dim)) b.dim_at[b.dim_count++] = static_cast<std::uint8_t>(i);
        if (!hn::AllTrue(d, dim)) {
            const auto mean = hn::Max(hn::Load(d, b.mean + i), least);
            hn::Store(mean, d, b.expanded + i);
            const auto root = hn::Sqrt(mean);
            hn::Store(root, d, b.root + i);
            hn::Store(hn::Div(hn::Set(d, 1.0F), root), d, b.inverse_root + i);
            hn::Store(hn::Div(hn::Set(d, 1.0F), mean), d, b.inverse + i);
            b.bright_at[b.bright_count++] = static_cast<std::uint8_t>(i);
        }
        const auto zero_probability = hn::Load(d, b.zero_probability + i);
        hn::Store(hn::IfThenElse(dim, zero_probability, hn::Set(d, 1.0F)), d, b.zero_probability + i);
    }
}

// Standard normal numbers of the wanted pixels of blocks of words, and of the partners of their words. Blocks begin
// `stride` words apart. Many go at a time: each takes long, and the next begins before it ends.
HWY_INLINE void wanted_normals(const BlockMeans& b, const std::uint32_t* HWY_RESTRICT words, std::size_t blocks,
                               std::size_t stride, float* HWY_RESTRICT normals) {
    constexpr std::size_t pair = 2 * unit;
    for (std::size_t at = 0; at < blocks * stride; at += stride) {
        for (std::size_t i = at + b.first / pair * pair; i < at + b.last; i += pair) {
            box_muller_rows(words + i, words + i + unit, normals + i, normals + i + unit);
        }
    }
}

// Counts by inversion of all vectors with a dim pixel.
HWY_INLINE void dim_counts(const BlockMeans& b, const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    const Floats d;
    std::size_t v = 0;
    for (; v + 4 <= b.dim_count; v += 4) invert_poisson<4>(d, b.dim_at + v, b.mean, b.zero_probability, words, counts);
    for (; v + 2 <= b.dim_count; v += 2) invert_poisson<2>(d, b.dim_at + v, b.mean, b.zero_probability, words, counts);
    if (v < b.dim_count) invert_poisson<1>(d, b.dim_at + v, b.mean, b.zero_probability, words, counts);
}

// P(N <= k) of the dim pixels of a block, for many readings of the same means: the sums that `invert_poisson` goes
// through. Rows beyond what any uniform number reaches are left out.
struct CountSums {  // NOLINT(cppcoreguidelines-pro-type-member-init): only what is wanted is filled
    static constexpr std::size_t at_once = 4;
    HWY_ALIGN float sum[largest_count][block];
    std::uint8_t rows[block];  // of each vector with a dim pixel; a multiple of `at_once`

    HWY_INLINE void fill(const BlockMeans& b) {
        const Floats d;
        const auto one = hn::Set(d, 1.0F);
        for (std::size_t v = 0; v < b.dim_count; ++v) {
            const std::size_t at = b.dim_at[v];
            auto probability = hn::Load(d, b.zero_probability + at);
            auto cumulative = probability;
            std::size_t k = 0;
            // The last count is never passed.
            while (k + 1 < largest_count && !hn::AllFalse(d, hn::Lt(cumulative, one))) {
                hn::Store(cumulative, d, sum[k] + at);
                ++k;
                probability =
                    hn::Div(hn::Mul(probability, hn::Load(d, b.mean + at)), hn::Set(d, static_cast<float>(k)));
                cumulative = hn::Add(cumulative, probability);
            }
            for (; k % at_once != 0; ++k) hn::Store(one, d, sum[k] + at);
            rows[v] = static_cast<std::uint8_t>(k);
        }
    }
};

// Counts of all vectors with a dim pixel: as many as sums lie below the uniform number.
HWY_INLINE void dim_counts(const BlockMeans& b, const CountSums& sums, const std::uint32_t* HWY_RESTRICT words,
                           float* HWY_RESTRICT counts) {
    const Floats d;
    const hn::RebindToUnsigned<Floats> du;
    const auto one = hn::Set(d, 1.0F);
    for (std::size_t v = 0; v < b.dim_count; ++v) {
        const std::size_t at = b.dim_at[v];
        const auto uniform = open_uniform(d, hn::Load(du, words + at));
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

// Counts of the wanted pixels of a block, from its shot-noise words.
// @param sums  None where too few readings share them.
// @param counts  Holds their normal numbers unless all pixels are dim.
HWY_INLINE void count_block(const BlockMeans& b, const CountSums* sums, const std::uint32_t* HWY_RESTRICT words,
                            float* HWY_RESTRICT counts) {
    const Floats d;
    const auto find_dim = [&](float* HWY_RESTRICT found) HWY_ATTR {
        if (sums != nullptr)
            dim_counts(b, *sums, words, found);
        else
            dim_counts(b, words, found);
    };
    if (b.bright_count == 0) {
        find_dim(counts);
        return;
    }
    for (std::size_t v = 0; v < b.bright_count; ++v) {
        const std::size_t i = b.bright_at[v];
        const MeanPowers<hn::Vec<Floats>> powers{hn::Load(d, b.expanded + i), hn::Load(d, b.root + i),
                                                 hn::Load(d, b.inverse_root + i), hn::Load(d, b.inverse + i)};
        const auto count = expand_poisson(d, hn::Load(d, counts + i), powers);
        hn::Store(count, d, counts + i);
    }
    if (b.dim_count == 0) return;
    HWY_ALIGN float dim[block];
    find_dim(dim);
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    for (std::size_t v = 0; v < b.dim_count; ++v) {
        const std::size_t i = b.dim_at[v];
        const auto is_dim = hn::Lt(hn::Load(d, b.dimness + i), limit);
        hn::Store(hn::IfThenElse(is_dim, hn::Load(d, dim + i), hn::Load(d, counts + i)), d, counts + i);
    }
}

// exp(x) for |x| <= 30, within 2e-7 of itself: a power of two times a polynomial on +-ln(2)/2, and exactly 1 at 0.
// Source: coefficients of S. L. Moshier, "Methods and Programs for Mathematical Functions" (1989), expf.
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

// Means of a block with its light of this reading, and exp(-mean) of the dim ones. The latter starts from that of the
// expected mean, so that nothing changes where the light does not. An error of exp(-mean) by a share e scales every
// probability of the inversion by 1 + e and moves the distribution by no more than e; rounding of the mean adds as much
// as a float tells means below 24 apart, 1e-6. Both are less than the 7e-6 by which counts of larger means differ.
// @param relative  Of the block's first wanted pixel onwards.
HWY_INLINE void relative_means(const BlockMeans& expected, const float* HWY_RESTRICT light,
                               const float* HWY_RESTRICT relative, BlockMeans& out) {
    const Floats d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    const auto least = hn::Set(d, static_cast<float>(changed_count_limit));
    const auto one = hn::Set(d, 1.0F);
    for (std::size_t i = out.first; i < out.last; i += hn::Lanes(d)) {
        const auto old = hn::Load(d, expected.mean + i);
        const auto change = hn::Mul(hn::Load(d, light + i), hn::Sub(hn::LoadU(d, relative + (i - out.first)), one));
        const auto m = hn::Max(hn::Add(old, change), hn::Zero(d));
        const auto dimness = hn::IfThenElse(hn::Or(hn::Lt(old, limit), hn::Lt(m, least)), m, hn::Max(m, limit));
        hn::Store(m, d, out.mean + i);
        hn::Store(dimness, d, out.dimness + i);
        if (hn::AllFalse(d, hn::Lt(dimness, limit))) continue;
        const auto was_dim = hn::Lt(old, limit);
        const auto less = hn::Sub(hn::IfThenElseZero(was_dim, old), m);
        const auto start = hn::IfThenElse(was_dim, hn::Load(d, expected.zero_probability + i), one);
        const auto within = hn::Min(hn::Max(less, hn::Set(d, -30.0F)), hn::Set(d, 30.0F));
        hn::Store(hn::Mul(start, exponential(d, within)), d, out.zero_probability + i);
    }
}

struct Digits {
    float gain;
    float black_and_half;
    float top;
    float read_noise;
};

HWY_INLINE void digitise(const Digits& digits, const BlockMeans& b, const float* HWY_RESTRICT counts,
                         const float* HWY_RESTRICT offset, const float* HWY_RESTRICT read, float* HWY_RESTRICT out) {
    const Floats d;
    for (std::size_t i = b.first; i < b.last; i += hn::Lanes(d)) {
        const auto noise = hn::Mul(hn::Load(d, read + i), hn::Set(d, digits.read_noise));
        const auto electrons = hn::Add(hn::Add(hn::Load(d, counts + i), hn::Load(d, offset + i)), noise);
        const auto value = hn::Add(hn::Mul(electrons, hn::Set(d, digits.gain)), hn::Set(d, digits.black_and_half));
        const auto clipped = hn::Min(hn::Max(hn::Floor(value), hn::Zero(d)), hn::Set(d, digits.top));
        hn::StoreU(clipped, d, out + (i - b.first));
    }
}

// One block of counters of which something is drawn.
struct DrawnBlock {
    std::uint64_t number = 0;
    std::size_t place = 0;    // of its first wanted pixel among all that are drawn
    std::size_t begin = 0;    // of that pixel in the array, not beyond its end
    std::size_t present = 0;  // wanted pixels before the array's end
};

// Wanted pixels of an array of values, and `beyond` for those past its end.
HWY_INLINE void take_wanted(const float* values, const DrawnBlock& drawn, const BlockMeans& b, float beyond,
                            float* HWY_RESTRICT out) {
    std::copy_n(values + drawn.begin, drawn.present, out + b.first);
    std::fill(out + b.first + drawn.present, out + b.last, beyond);
}

// Runs `body(block, means, offset)` on each block of which a unit is wanted. Pixels beyond the array's end are dark.
// The body is called from one place only, so that it is inlined and its constants are set up once.
template <class Body>
HWY_INLINE void for_each_block(const ExpectedFrame& expected, std::size_t first_pixel, std::size_t count,
                               const Body& body) {
    const std::size_t pixels = expected.electrons.size();
    BlockMeans b;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled block by block
    HWY_ALIGN float offset[block];
    for (std::size_t place = 0; place < count; place += b.last - b.first) {
        DrawnBlock drawn{(first_pixel + place) / block, place, std::min(first_pixel + place, pixels), 0};
        b.first = (first_pixel + place) % block;
        b.last = std::min(block, b.first + count - place);
        drawn.present = std::min(pixels - drawn.begin, b.last - b.first);
        take_wanted(expected.electrons.data(), drawn, b, 0.0F, b.mean);
        take_wanted(expected.electrons.data(), drawn, b, 0.0F, b.dimness);
        take_wanted(expected.zero_probability.data(), drawn, b, 1.0F, b.zero_probability);
        take_wanted(expected.offset.data(), drawn, b, 0.0F, offset);
        prepare_counts(exact_count_limit, b);
        body(drawn, b, offset);
    }
}

// Nothing is drawn beyond the array's end.
HWY_INLINE void clear_beyond(const DrawnBlock& drawn, const BlockMeans& b, float* HWY_RESTRICT out) {
    std::fill(out + drawn.present, out + (b.last - b.first), 0.0F);
}

HWY_INLINE Digits digits_of(const ExpectedFrame& expected) {
    return {static_cast<float>(expected.digitiser.gain), static_cast<float>(expected.digitiser.black_level + 0.5),
            static_cast<float>(expected.digitiser.top_digit), static_cast<float>(expected.read_noise)};
}

// Readings that go through each step together.
constexpr std::size_t together = 8;

// Buffers of so many readings: a block of the shot noise and a block of the read noise of each.
struct NoiseBlocks {
    HWY_ALIGN std::uint32_t words[together * 2 * block];
    HWY_ALIGN float normals[together * 2 * block];
};

// Digits of one block of counters of readings, `digits` being those of the first of them.
HWY_INLINE void draw_block(const DrawnBlock& drawn, const BlockMeans& b, const CountSums* sums, const float* offset,
                           const Digits& scale, const FrameNoise& noise, std::uint64_t first_reading,
                           std::size_t readings, std::size_t stride, NoiseBlocks& buffers, float* digits) {
    const std::uint32_t* words = buffers.words;
    float* normals = buffers.normals;
    const PhiloxKeys keys(noise.seed);
    for (std::size_t i = 0; i < readings; ++i) {
        philox_blocks(keys, first_reading + i, {{noise.shot, drawn.number}, {noise.read, drawn.number}},
                      buffers.words + 2 * block * i);
    }
    const bool all_dim = b.bright_count == 0;  // then the shot noise takes no normal numbers
    const std::size_t skipped = all_dim ? block : 0;
    wanted_normals(b, words + skipped, all_dim ? readings : 2 * readings, all_dim ? 2 * block : block,
                   normals + skipped);
    for (std::size_t i = 0; i < readings; ++i) count_block(b, sums, words + 2 * block * i, normals + 2 * block * i);
    for (std::size_t i = 0; i < readings; ++i) {
        const float* counts = normals + 2 * block * i;
        digitise(scale, b, counts, offset, counts + block, digits + stride * i);
        clear_beyond(drawn, b, digits + stride * i);
    }
}

void draw_frames_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t first_reading,
                        std::int64_t first_unit, std::size_t count, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    NoiseBlocks buffers;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled step by step
    CountSums sums;       // NOLINT(cppcoreguidelines-pro-type-member-init): filled block by block
    for_each_block(expected, static_cast<std::size_t>(first_unit) * unit, count,
                   [&](const DrawnBlock& drawn, const BlockMeans& b, const float* offset) {
                       const std::size_t readings = digits.size() / count;
                       // The sums take as long as the counts of a few readings without them.
                       constexpr std::size_t worth_sums = 4;
                       const bool summed = b.dim_count > 0 && readings >= worth_sums;
                       if (summed) sums.fill(b);
                       for (std::size_t i = 0; i < readings; i += together) {
                           draw_block(drawn, b, summed ? &sums : nullptr, offset, scale, noise,
                                      static_cast<std::uint64_t>(first_reading) + i, std::min(together, readings - i),
                                      count, buffers, digits.data() + i * count + drawn.place);
                       }
                   });
}

void draw_relative_frame_kernel(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                                std::int64_t reading, std::int64_t first_unit, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    const auto index = static_cast<std::uint64_t>(reading);
    HWY_ALIGN std::uint32_t words[2 * block];
    HWY_ALIGN float block_light[block];
    BlockMeans changed;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled block by block
    HWY_ALIGN float counts[block];
    HWY_ALIGN float read[block];
    for_each_block(
        expected, static_cast<std::size_t>(first_unit) * unit, digits.size(),
        [&](const DrawnBlock& drawn, const BlockMeans& b, const float* offset) {
            take_wanted(light.electrons.data(), drawn, b, 0.0F, block_light);
            changed.first = b.first;
            changed.last = b.last;
            relative_means(b, block_light, light.relative.data() + drawn.place, changed);
            prepare_counts(changed_count_limit, changed);
            philox_blocks(noise.seed, index, {{noise.shot, drawn.number}, {noise.read, drawn.number}}, words);
            if (changed.bright_count > 0) wanted_normals(b, words, 1, block, counts);
            count_block(changed, nullptr, words, counts);
            wanted_normals(b, words + block, 1, block, read);
            digitise(scale, b, counts, offset, read, digits.data() + drawn.place);
            clear_beyond(drawn, b, digits.data() + drawn.place);
        });
}

void draw_counts_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                        std::int64_t first_unit, std::span<float> counts) {
    HWY_ALIGN std::uint32_t words[block];
    HWY_ALIGN float found[block];
    for_each_block(expected, static_cast<std::size_t>(first_unit) * unit, counts.size(),
                   [&](const DrawnBlock& drawn, const BlockMeans& b, const float* /*offset*/) {
                       philox_block({noise.seed, noise.shot}, static_cast<std::uint64_t>(reading), drawn.number, words);
                       if (b.bright_count > 0) wanted_normals(b, words, 1, block, found);
                       count_block(b, nullptr, words, found);
                       std::copy(found + b.first, found + b.last, counts.data() + drawn.place);
                       clear_beyond(drawn, b, counts.data() + drawn.place);
                   });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::detector {

HWY_EXPORT(draw_frames_kernel);
HWY_EXPORT(draw_relative_frame_kernel);
HWY_EXPORT(draw_counts_kernel);

void draw_frame(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_unit,
                std::span<float> digits) {
    HWY_DYNAMIC_DISPATCH(draw_frames_kernel)(expected, noise, reading, first_unit, digits.size(), digits);
}

void draw_frames(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t first_reading,
                 std::int64_t first_unit, std::int64_t unit_count, std::span<float> digits) {
    const auto count = static_cast<std::size_t>(unit_count * base::unit_pixels);
    HWY_DYNAMIC_DISPATCH(draw_frames_kernel)(expected, noise, first_reading, first_unit, count, digits);
}

void draw_frame(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                std::int64_t reading, std::int64_t first_unit, std::span<float> digits) {
    HWY_DYNAMIC_DISPATCH(draw_relative_frame_kernel)(expected, light, noise, reading, first_unit, digits);
}

void draw_counts(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_unit,
                 std::span<float> counts) {
    HWY_DYNAMIC_DISPATCH(draw_counts_kernel)(expected, noise, reading, first_unit, counts);
}

}  // namespace spotwright::detector
#endif
