#include "sim/base/random.hpp"

// Random123 rejects processors that it does not list, WebAssembly among them. Its code for RISC-V is plain C, which
// compiles there as well.
#ifdef __EMSCRIPTEN__
#define __riscv
#endif
#include <Random123/philox.h>
#ifdef __EMSCRIPTEN__
#undef __riscv
#endif

#include <algorithm>

namespace spotwright::base {

namespace {

r123::Philox4x32::ctr_type philox(RandomKey key, std::uint32_t group, std::int64_t index) {
    const auto i = static_cast<std::uint64_t>(index);
    const r123::Philox4x32::ctr_type counter{{group, static_cast<std::uint32_t>(i),
                                              static_cast<std::uint32_t>(i >> 32U),
                                              static_cast<std::uint32_t>(key.stream)}};
    return r123::Philox4x32{}(counter,
                              {{static_cast<std::uint32_t>(key.seed), static_cast<std::uint32_t>(key.seed >> 32U)}});
}

}  // namespace

std::uint32_t random_word(RandomKey key, std::int64_t reading, std::int64_t pixel) {
    const auto p = static_cast<std::uint64_t>(pixel);
    return philox(key, static_cast<std::uint32_t>(16 * (p / block_pixels) + p % 16), reading)[(p % block_pixels) / 16];
}

double RandomSequence::uniform() {
    const std::uint32_t place = drawn_ % 4;
    if (place == 0) {
        const auto words = philox(key_, drawn_ / 4, index_);
        std::copy(words.begin(), words.end(), words_.begin());
    }
    ++drawn_;
    return (static_cast<double>(words_[place]) + 0.5) * 0x1p-32;
}

}  // namespace spotwright::base
