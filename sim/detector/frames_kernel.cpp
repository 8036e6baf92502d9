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

// Smallest k with P(N <= k) >= u, by summing the Poisson probabilities upwards.
template <class D>
HWY_INLINE hn::Vec<D> invert_poisson(D d, hn::Vec<D> uniform, hn::Vec<D> mean, hn::Vec<D> zero_probability) {
    // With a mean below 24 a count of 100 has a probability far below the resolution of `uniform`.
    constexpr float largest_count = 100.0F;
    auto count = hn::Zero(d);
    auto probability = zero_probability;
    auto cumulative = probability;
    auto below = hn::Lt(cumulative, uniform);
    for (float k = 1.0F; k < largest_count && !hn::AllFalse(d, below); k += 1.0F) {
        count = hn::Add(count, hn::IfThenElseZero(below, hn::Set(d, 1.0F)));
        probability = hn::Div(hn::Mul(probability, mean), hn::Set(d, k));
        cumulative = hn::Add(cumulative, probability);
        below = hn::And(below, hn::Lt(cumulative, uniform));
    }
    return count;
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

// Counts of a block, from its shot-noise words. Most blocks are all dark or all bright and take one branch only.
HWY_INLINE void count_block(const float* HWY_RESTRICT mean, const float* HWY_RESTRICT zero_probability,
                            const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT counts) {
    const hn::ScalableTag<float> d;
    const hn::RebindToUnsigned<decltype(d)> du;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    bool any_bright = false;
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        any_bright |= !hn::AllTrue(d, hn::Lt(hn::LoadU(d, mean + i), limit));
    }
    if (any_bright) normal_block(words, counts);
    for (std::size_t i = 0; i < block; i += hn::Lanes(d)) {
        const auto m = hn::LoadU(d, mean + i);
        const auto dim = hn::Lt(m, limit);
        auto result = hn::Zero(d);
        if (any_bright) result = expand_poisson(d, hn::LoadU(d, counts + i), hn::Max(m, limit));
        if (!hn::AllFalse(d, dim)) {
            const auto uniform = open_uniform(d, hn::LoadU(du, words + i));
            const auto p0 = hn::IfThenElse(dim, hn::LoadU(d, zero_probability + i), hn::Set(d, 1.0F));
            result = hn::IfThenElse(dim, invert_poisson(d, uniform, m, p0), result);
        }
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

// Runs `body(mean, zero_probability, offset, output)` on each block; the array's last block is padded with zeros.
template <class Body>
HWY_INLINE void for_each_block(const ExpectedFrame& expected, std::int64_t first_block, std::span<float> output,
                               const Body& body) {
    const std::size_t pixels = expected.electrons.size();
    for (std::size_t i = 0; i + block <= output.size(); i += block) {
        const std::size_t begin = static_cast<std::size_t>(first_block) * block + i;
        if (begin + block <= pixels) {
            body(begin, expected.electrons.data() + begin, expected.zero_probability.data() + begin,
                 expected.offset.data() + begin, output.data() + i);
            continue;
        }
        HWY_ALIGN float mean[block] = {};
        HWY_ALIGN float zero_probability[block] = {};
        HWY_ALIGN float offset[block] = {};
        const std::size_t start = std::min(begin, pixels);
        const std::size_t present = pixels - start;
        std::copy_n(expected.electrons.data() + start, present, mean);
        std::copy_n(expected.zero_probability.data() + start, present, zero_probability);
        std::copy_n(expected.offset.data() + start, present, offset);
        body(begin, mean, zero_probability, offset, output.data() + i);
        std::fill(output.begin() + static_cast<std::ptrdiff_t>(i + present),
                  output.begin() + static_cast<std::ptrdiff_t>(i + block), 0.0F);
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
    for_each_block(
        expected, first_block, digits,
        [&](std::size_t begin, const float* mean, const float* zero_probability, const float* offset, float* out) {
            philox_block({noise.seed, noise.shot}, index, begin / block, words);
            count_block(mean, zero_probability, words, counts);
            philox_block({noise.seed, noise.read}, index, begin / block, words);
            normal_block(words, read);
            digitise_block(scale, counts, offset, read, out);
        });
}

void draw_counts_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                        std::int64_t first_block, std::span<float> counts) {
    HWY_ALIGN std::uint32_t words[block];
    for_each_block(
        expected, first_block, counts,
        [&](std::size_t begin, const float* mean, const float* zero_probability, const float*, float* out) {
            philox_block({noise.seed, noise.shot}, static_cast<std::uint64_t>(reading), begin / block, words);
            count_block(mean, zero_probability, words, out);
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
