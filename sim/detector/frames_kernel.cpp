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
using base::HWY_NAMESPACE::normal_block;
using base::HWY_NAMESPACE::open_uniform;
using base::HWY_NAMESPACE::philox_block;
using base::HWY_NAMESPACE::philox_blocks;

constexpr std::size_t block = base::block_pixels;

// Smallest k with P(N <= k) >= u, by summing the Poisson probabilities upwards. Several vectors go up together: each
// waits for its own divisions, and the others fill the time.
template <std::size_t vectors, class D>
HWY_INLINE void invert_poisson(D d, const float* HWY_RESTRICT mean, const float* HWY_RESTRICT zero_probability,
                               const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    // With a mean below 24 a count of 100 has a probability far below the resolution of `uniform`.
    constexpr float largest_count = 100.0F;
    const hn::RebindToUnsigned<D> du;
    const std::size_t lanes = hn::Lanes(d);
    const auto one = hn::Set(d, 1.0F);
    hn::Vec<D> count[vectors];
    hn::Vec<D> probability[vectors];
    hn::Vec<D> cumulative[vectors];
    hn::Vec<D> uniform[vectors];
    for (std::size_t v = 0; v < vectors; ++v) {
        count[v] = hn::Zero(d);
        probability[v] = hn::LoadU(d, zero_probability + v * lanes);
        cumulative[v] = probability[v];
        uniform[v] = open_uniform(d, hn::LoadU(du, words + v * lanes));
    }
    for (float k = 1.0F; k < largest_count; k += 1.0F) {
        auto any_below = hn::Lt(cumulative[0], uniform[0]);
        for (std::size_t v = 1; v < vectors; ++v) any_below = hn::Or(any_below, hn::Lt(cumulative[v], uniform[v]));
        if (hn::AllFalse(d, any_below)) break;
        for (std::size_t v = 0; v < vectors; ++v) {
            count[v] = hn::Add(count[v], hn::IfThenElseZero(hn::Lt(cumulative[v], uniform[v]), one));
            probability[v] = hn::Div(hn::Mul(probability[v], hn::LoadU(d, mean + v * lanes)), hn::Set(d, k));
            cumulative[v] = hn::Add(cumulative[v], probability[v]);
        }
    }
    for (std::size_t v = 0; v < vectors; ++v) hn::StoreU(count[v], d, counts + v * lanes);
}

// floor(m + sqrt(m) w + 1/3 + w^2/6 - (w/36 + w^3/72) / sqrt(m) + (-8/405 + 7 w^2/810 + w^4/270) / m).
template <class D>
HWY_INLINE hn::Vec<D> expand_poisson(D d, hn::Vec<D> w, hn::Vec<D> mean) {
    const auto set = [&](double value) { return hn::Set(d, static_cast<float>(value)); };
    const auto root = hn::Sqrt(mean);
    const auto square = hn::Mul(w, w);
    const auto order0 = hn::Add(set(1.0 / 3.0), hn::Mul(square, set(1.0 / 6.0)));
    const auto order1 = hn::Mul(w, hn::Add(set(1.0 / 36.0), hn::Mul(square, set(1.0 / 72.0))));
    const auto order2 =
        hn::Add(set(-8.0 / 405.0), hn::Mul(square, hn::Add(set(7.0 / 810.0), hn::Mul(square, set(1.0 / 270.0)))));
    const auto correction = hn::Add(hn::Sub(order0, hn::Div(order1, root)), hn::Div(order2, mean));
    const auto quantile = hn::Add(mean, hn::Add(hn::Mul(root, w), correction));
    return hn::Max(hn::Floor(quantile), hn::Zero(d));
}

// Where counts come from. A pixel is dim, and its count found by inversion, where `dimness` is below the limit.
struct CountInput {
    const float* mean;
    const float* dimness;           // the mean itself, but where a mean below the limit is to be expanded
    const float* zero_probability;  // of dim pixels
    double least_expanded;          // mean
};

// Counts of a block by inversion; pixels that are not dim get zero.
HWY_INLINE void dim_counts(const CountInput& input, const std::uint32_t* HWY_RESTRICT words,
                           float* HWY_RESTRICT counts) {
    const hn::ScalableTag<float> d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    constexpr std::size_t vectors = 4;
    HWY_ALIGN float first[block];
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto dim = hn::Lt(hn::LoadU(d, input.dimness + i), limit);
        hn::Store(hn::IfThenElse(dim, hn::LoadU(d, input.zero_probability + i), hn::Set(d, 1.0F)), d, first + i);
    }
    for (std::size_t i = 0; i < block; i += vectors * hn::Lanes(d)) {
        invert_poisson<vectors>(d, input.mean + i, first + i, words + i, counts + i);
    }
}

// Counts of a block, from its shot-noise words. Most blocks are all dim or all bright and take one branch only.
HWY_INLINE void count_block(const CountInput& input, const std::uint32_t* HWY_RESTRICT words,
                            float* HWY_RESTRICT counts) {
    const hn::ScalableTag<float> d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    auto lowest = hn::LoadU(d, input.dimness);
    auto highest = lowest;
    for (std::size_t i = hn::Lanes(d); i < block; i += hn::Lanes(d)) {
        lowest = hn::Min(lowest, hn::LoadU(d, input.dimness + i));
        highest = hn::Max(highest, hn::LoadU(d, input.dimness + i));
    }
    const bool any_dim = !hn::AllFalse(d, hn::Lt(lowest, limit));
    const bool all_dim = hn::AllTrue(d, hn::Lt(highest, limit));
    if (all_dim) {
        dim_counts(input, words, counts);
        return;
    }
    HWY_ALIGN float dim[block];
    if (any_dim) dim_counts(input, words, dim);
    normal_block(words, counts);
    const auto least = hn::Set(d, static_cast<float>(input.least_expanded));
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto m = hn::LoadU(d, input.mean + i);
        auto result = expand_poisson(d, hn::LoadU(d, counts + i), hn::Max(m, least));
        if (any_dim)
            result = hn::IfThenElse(hn::Lt(hn::LoadU(d, input.dimness + i), limit), hn::Load(d, dim + i), result);
        hn::StoreU(result, d, counts + i);
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

// Buffers of a block whose light changes.
struct RelativeBlock {
    HWY_ALIGN float mean[block];
    HWY_ALIGN float dimness[block];
    HWY_ALIGN float zero_probability[block];
};

// Means of a block with its light of this reading, and exp(-mean) of the dim ones. The latter starts from that of the
// expected mean, so that nothing changes where the light does not. An error of exp(-mean) by a share e scales every
// probability of the inversion by 1 + e and moves the distribution by no more than e; rounding of the mean adds as much
// as a float tells means below 24 apart, 1e-6. Both are less than the 7e-6 by which counts of larger means differ.
HWY_INLINE void relative_block(const float* HWY_RESTRICT mean, const float* HWY_RESTRICT zero_probability,
                               const float* HWY_RESTRICT light, const float* HWY_RESTRICT relative,
                               RelativeBlock& out) {
    const hn::ScalableTag<float> d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    const auto least = hn::Set(d, static_cast<float>(changed_count_limit));
    const auto one = hn::Set(d, 1.0F);
    auto lowest = limit;
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto old = hn::LoadU(d, mean + i);
        const auto change = hn::Mul(hn::LoadU(d, light + i), hn::Sub(hn::LoadU(d, relative + i), one));
        const auto m = hn::Max(hn::Add(old, change), hn::Zero(d));
        const auto dimness = hn::IfThenElse(hn::Or(hn::Lt(old, limit), hn::Lt(m, least)), m, hn::Max(m, limit));
        hn::Store(m, d, out.mean + i);
        hn::Store(dimness, d, out.dimness + i);
        lowest = hn::Min(lowest, dimness);
    }
    if (hn::AllFalse(d, hn::Lt(lowest, limit))) return;
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto old = hn::LoadU(d, mean + i);
        const auto was_dim = hn::Lt(old, limit);
        const auto less = hn::Sub(hn::IfThenElseZero(was_dim, old), hn::Load(d, out.mean + i));
        const auto start = hn::IfThenElse(was_dim, hn::LoadU(d, zero_probability + i), one);
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

HWY_INLINE void digitise_block(const Digits& digits, const float* HWY_RESTRICT counts, const float* HWY_RESTRICT offset,
                               const float* HWY_RESTRICT read, float* HWY_RESTRICT out) {
    const hn::ScalableTag<float> d;
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto noise = hn::Mul(hn::LoadU(d, read + i), hn::Set(d, digits.read_noise));
        const auto electrons = hn::Add(hn::Add(hn::LoadU(d, counts + i), hn::LoadU(d, offset + i)), noise);
        const auto value = hn::Add(hn::Mul(electrons, hn::Set(d, digits.gain)), hn::Set(d, digits.black_and_half));
        const auto clipped = hn::Min(hn::Max(hn::Floor(value), hn::Zero(d)), hn::Set(d, digits.top));
        hn::StoreU(clipped, d, out + i);
    }
}

// What one block is drawn from.
struct BlockInput {
    const float* mean;
    const float* zero_probability;
    const float* offset;
};

// Runs `body(block number, input, output)` on each block; the array's last block is padded with dark pixels. The body
// is called from one place only, so that it is inlined and its constants are set up once.
template <class Body>
HWY_INLINE void for_each_block(const ExpectedFrame& expected, std::int64_t first_block, std::span<float> output,
                               const Body& body) {
    const std::size_t pixels = expected.electrons.size();
    HWY_ALIGN float mean[block] = {};
    HWY_ALIGN float zero_probability[block] = {};
    HWY_ALIGN float offset[block] = {};
    for (std::size_t i = 0; i + block <= output.size(); i += block) {
        const std::size_t begin = std::min(static_cast<std::size_t>(first_block) * block + i, pixels);
        const std::size_t present = std::min(pixels - begin, block);
        BlockInput input{expected.electrons.data() + begin, expected.zero_probability.data() + begin,
                         expected.offset.data() + begin};
        if (present < block) {
            std::copy_n(input.mean, present, mean);
            std::copy_n(input.zero_probability, present, zero_probability);
            std::copy_n(input.offset, present, offset);
            std::fill(mean + present, mean + block, 0.0F);
            std::fill(zero_probability + present, zero_probability + block, 1.0F);
            input = {mean, zero_probability, offset};
        }
        body(static_cast<std::uint64_t>(first_block) + i / block, input, output.data() + i);
        std::fill_n(output.data() + i + present, block - present, 0.0F);
    }
}

HWY_INLINE Digits digits_of(const ExpectedFrame& expected) {
    return {static_cast<float>(expected.digitiser.gain), static_cast<float>(expected.digitiser.black_level + 0.5),
            static_cast<float>(expected.digitiser.top_digit), static_cast<float>(expected.read_noise)};
}

void draw_frame_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                       std::int64_t first_block, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    const auto index = static_cast<std::uint64_t>(reading);
    HWY_ALIGN std::uint32_t words[block];
    HWY_ALIGN float counts[block];
    HWY_ALIGN float read[block];
    for_each_block(expected, first_block, digits, [&](std::uint64_t number, const BlockInput& input, float* out) {
        philox_block({noise.seed, noise.shot}, index, number, words);
        count_block({input.mean, input.mean, input.zero_probability, exact_count_limit}, words, counts);
        philox_block({noise.seed, noise.read}, index, number, words);
        normal_block(words, read);
        digitise_block(scale, counts, input.offset, read, out);
    });
}

void draw_relative_frame_kernel(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                                std::int64_t reading, std::int64_t first_block, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    const auto index = static_cast<std::uint64_t>(reading);
    const std::size_t pixels = expected.electrons.size();
    HWY_ALIGN std::uint32_t words[2 * block];
    HWY_ALIGN float last_light[block];
    RelativeBlock changed;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled block by block
    HWY_ALIGN float counts[block];
    HWY_ALIGN float read[block];
    const float* relative = light.relative.data();
    for_each_block(expected, first_block, digits, [&](std::uint64_t number, const BlockInput& input, float* out) {
        const std::size_t begin = std::min(static_cast<std::size_t>(number) * block, pixels);
        const float* electrons = light.electrons.data() + begin;
        if (pixels - begin < block) {
            std::fill(last_light, last_light + block, 0.0F);
            std::copy_n(electrons, pixels - begin, last_light);
            electrons = last_light;
        }
        relative_block(input.mean, input.zero_probability, electrons, relative, changed);
        relative += block;
        philox_blocks(noise.seed, index, {{noise.shot, number}, {noise.read, number}}, words);
        count_block({changed.mean, changed.dimness, changed.zero_probability, changed_count_limit}, words, counts);
        normal_block(words + block, read);
        digitise_block(scale, counts, input.offset, read, out);
    });
}

void draw_counts_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                        std::int64_t first_block, std::span<float> counts) {
    HWY_ALIGN std::uint32_t words[block];
    for_each_block(expected, first_block, counts, [&](std::uint64_t number, const BlockInput& input, float* out) {
        philox_block({noise.seed, noise.shot}, static_cast<std::uint64_t>(reading), number, words);
        count_block({input.mean, input.mean, input.zero_probability, exact_count_limit}, words, out);
    });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::detector {

HWY_EXPORT(draw_frame_kernel);
HWY_EXPORT(draw_relative_frame_kernel);
HWY_EXPORT(draw_counts_kernel);

void draw_frame(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_block,
                std::span<float> digits) {
    HWY_DYNAMIC_DISPATCH(draw_frame_kernel)(expected, noise, reading, first_block, digits);
}

void draw_frame(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                std::int64_t reading, std::int64_t first_block, std::span<float> digits) {
    HWY_DYNAMIC_DISPATCH(draw_relative_frame_kernel)(expected, light, noise, reading, first_block, digits);
}

void draw_counts(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_block,
                 std::span<float> counts) {
    HWY_DYNAMIC_DISPATCH(draw_counts_kernel)(expected, noise, reading, first_block, counts);
}

}  // namespace spotwright::detector
#endif
