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

// Counts of a block by inversion; pixels that are not dim get zero.
HWY_INLINE void dim_counts(const float* HWY_RESTRICT mean, const float* HWY_RESTRICT zero_probability,
                           const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    const hn::ScalableTag<float> d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    constexpr std::size_t vectors = 4;
    HWY_ALIGN float first[block];
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto dim = hn::Lt(hn::LoadU(d, mean + i), limit);
        hn::Store(hn::IfThenElse(dim, hn::LoadU(d, zero_probability + i), hn::Set(d, 1.0F)), d, first + i);
    }
    for (std::size_t i = 0; i < block; i += vectors * hn::Lanes(d)) {
        invert_poisson<vectors>(d, mean + i, first + i, words + i, counts + i);
    }
}

// Counts of a block, from its shot-noise words. Most blocks are all dim or all bright and take one branch only.
HWY_INLINE void count_block(const float* HWY_RESTRICT mean, const float* HWY_RESTRICT zero_probability,
                            const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    const hn::ScalableTag<float> d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    auto lowest = hn::LoadU(d, mean);
    auto highest = lowest;
    for (std::size_t i = hn::Lanes(d); i < block; i += hn::Lanes(d)) {
        lowest = hn::Min(lowest, hn::LoadU(d, mean + i));
        highest = hn::Max(highest, hn::LoadU(d, mean + i));
    }
    const bool any_dim = !hn::AllFalse(d, hn::Lt(lowest, limit));
    const bool all_dim = hn::AllTrue(d, hn::Lt(highest, limit));
    if (all_dim) {
        dim_counts(mean, zero_probability, words, counts);
        return;
    }
    HWY_ALIGN float dim[block];
    if (any_dim) dim_counts(mean, zero_probability, words, dim);
    normal_block(words, counts);
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto m = hn::LoadU(d, mean + i);
        auto result = expand_poisson(d, hn::LoadU(d, counts + i), hn::Max(m, limit));
        if (any_dim) result = hn::IfThenElse(hn::Lt(m, limit), hn::Load(d, dim + i), result);
        hn::StoreU(result, d, counts + i);
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

void draw_frame_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                       std::int64_t first_block, std::span<float> digits) {
    const Digits scale{static_cast<float>(expected.digitiser.gain),
                       static_cast<float>(expected.digitiser.black_level + 0.5),
                       static_cast<float>(expected.digitiser.top_digit), static_cast<float>(expected.read_noise)};
    const auto index = static_cast<std::uint64_t>(reading);
    HWY_ALIGN std::uint32_t words[block];
    HWY_ALIGN float counts[block];
    HWY_ALIGN float read[block];
    for_each_block(expected, first_block, digits, [&](std::uint64_t number, const BlockInput& input, float* out) {
        philox_block({noise.seed, noise.shot}, index, number, words);
        count_block(input.mean, input.zero_probability, words, counts);
        philox_block({noise.seed, noise.read}, index, number, words);
        normal_block(words, read);
        digitise_block(scale, counts, input.offset, read, out);
    });
}

void draw_counts_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                        std::int64_t first_block, std::span<float> counts) {
    HWY_ALIGN std::uint32_t words[block];
    for_each_block(expected, first_block, counts, [&](std::uint64_t number, const BlockInput& input, float* out) {
        philox_block({noise.seed, noise.shot}, static_cast<std::uint64_t>(reading), number, words);
        count_block(input.mean, input.zero_probability, words, out);
    });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::detector {

HWY_EXPORT(draw_frame_kernel);
HWY_EXPORT(draw_counts_kernel);

void draw_frame(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_block,
                std::span<float> digits) {
    HWY_DYNAMIC_DISPATCH(draw_frame_kernel)(expected, noise, reading, first_block, digits);
}

void draw_counts(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading, std::int64_t first_block,
                 std::span<float> counts) {
    HWY_DYNAMIC_DISPATCH(draw_counts_kernel)(expected, noise, reading, first_block, counts);
}

}  // namespace spotwright::detector
#endif
