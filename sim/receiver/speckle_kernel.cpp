// Relative intensities of the fast speckle model, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/speckle_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/base/random_kernel-inl.hpp"

#include <algorithm>

#include "sim/receiver/speckle_field.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using base::HWY_NAMESPACE::box_muller_rows;
using base::HWY_NAMESPACE::philox_blocks;
using base::HWY_NAMESPACE::row_lanes;

constexpr std::size_t block = base::block_pixels;
constexpr std::size_t most_white = 3 * block + 2 * most_side_taps;

// White numbers of two blocks, or but the first 32 of the second, which cost less.
HWY_INLINE void draw_white(base::RandomKey key, std::int64_t reading, std::int64_t first_block, bool second_in_half,
                           float* HWY_RESTRICT white) {
    HWY_ALIGN std::uint32_t words[2 * block];
    const auto number = static_cast<std::uint64_t>(first_block);
    philox_blocks(key.seed, static_cast<std::uint64_t>(reading), {{key.stream, number}, {key.stream, number + 1}},
                  words);
    for (std::size_t row = 0; row < (second_in_half ? 6 : 8); row += 2) {
        const std::size_t i = row * row_lanes;
        box_muller_rows(words + i, words + i + row_lanes, white + i, white + i + row_lanes);
    }
}

// max(0, mean + deviation (sum of taps times white numbers))^3. Several vectors go together: each waits for its own
// sums, and the others fill the time.
HWY_INLINE void filter_block(const SpeckleField& field, const float* HWY_RESTRICT white, float* HWY_RESTRICT relative) {
    const hn::ScalableTag<float> d;
    const std::size_t lanes = hn::Lanes(d);
    const std::size_t side = field.taps.size() / 2;
    const float* taps = field.taps.data() + side;
    constexpr std::size_t vectors = 4;
    for (std::size_t i = 0; i < block; i += vectors * lanes) {
        const float* at = white + i + side;
        hn::Vec<decltype(d)> sum[vectors];
        for (std::size_t v = 0; v < vectors; ++v) {
            sum[v] = hn::Mul(hn::Set(d, taps[0]), hn::LoadU(d, at + v * lanes));
        }
        for (std::size_t j = 1; j <= side; ++j) {
            const auto tap = hn::Set(d, taps[j]);
            for (std::size_t v = 0; v < vectors; ++v) {
                const float* middle = at + v * lanes;
                const auto pair = hn::Add(hn::LoadU(d, middle - j), hn::LoadU(d, middle + j));
                sum[v] = hn::Add(sum[v], hn::Mul(tap, pair));
            }
        }
        const auto mean = hn::Set(d, static_cast<float>(field.cube_root.mean));
        const auto deviation = hn::Set(d, static_cast<float>(field.cube_root.deviation));
        for (std::size_t v = 0; v < vectors; ++v) {
            const auto root = hn::Max(hn::Add(mean, hn::Mul(deviation, sum[v])), hn::Zero(d));
            hn::StoreU(hn::Mul(hn::Mul(root, root), root), d, relative + i + v * lanes);
        }
    }
}

// Pixel k stands under the middle tap with white number k + side taps, so that no block wants numbers before its own.
void draw_speckle_kernel(const SpeckleField& field, std::uint64_t seed, std::int64_t reading, std::int64_t first_block,
                         std::span<float> relative) {
    const base::RandomKey key{seed, base::Stream::speckle_field};
    const std::size_t blocks = relative.size() / block;
    const std::size_t reach = field.taps.size() - 1;
    const std::size_t ahead = (reach + block - 1) / block;
    const bool half_will_do = reach % block > 0 && reach % block <= block / 2;
    HWY_ALIGN float white[most_white];
    std::size_t drawn = 0;
    for (std::size_t i = 0; i < blocks; ++i) {
        for (; drawn <= i + ahead; drawn += 2) {
            const bool last = drawn + 2 == blocks + ahead;
            draw_white(key, reading, first_block + static_cast<std::int64_t>(drawn), last && half_will_do,
                       white + (drawn - i) * block);
        }
        filter_block(field, white, relative.data() + i * block);
        if (i + 1 < blocks) std::copy(white + block, white + (drawn - i) * block, white);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(draw_speckle_kernel);

void draw_speckle(const SpeckleField& field, std::uint64_t seed, std::int64_t reading, std::int64_t first_block,
                  std::span<float> relative) {
    HWY_DYNAMIC_DISPATCH(draw_speckle_kernel)(field, seed, reading, first_block, relative);
}

}  // namespace spotwright::receiver
#endif
