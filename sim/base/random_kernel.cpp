// Bulk random numbers, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/base/random_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/base/random_kernel-inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::base {
namespace HWY_NAMESPACE {

void fill_words_kernel(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<std::uint32_t> words) {
    auto block = static_cast<std::uint64_t>(first_block);
    for (std::size_t i = 0; i + block_pixels <= words.size(); i += block_pixels) {
        philox_block(key, static_cast<std::uint64_t>(reading), block++, words.data() + i);
    }
}

void fill_normals_kernel(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<float> normals) {
    HWY_ALIGN std::uint32_t words[block_pixels];
    auto block = static_cast<std::uint64_t>(first_block);
    for (std::size_t i = 0; i + block_pixels <= normals.size(); i += block_pixels) {
        philox_block(key, static_cast<std::uint64_t>(reading), block++, words);
        normal_block(words, normals.data() + i);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::base
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::base {

HWY_EXPORT(fill_words_kernel);
HWY_EXPORT(fill_normals_kernel);

void fill_words(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<std::uint32_t> words) {
    HWY_DYNAMIC_DISPATCH(fill_words_kernel)(key, reading, first_block, words);
}

void fill_normals(RandomKey key, std::int64_t reading, std::int64_t first_block, std::span<float> normals) {
    HWY_DYNAMIC_DISPATCH(fill_normals_kernel)(key, reading, first_block, normals);
}

}  // namespace spotwright::base
#endif
