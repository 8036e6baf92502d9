#include "sim/base/random.hpp"

#include <Random123/philox.h>

namespace spotwright::base {

std::uint32_t random_word(RandomKey key, std::int64_t reading, std::int64_t pixel) {
    const auto r = static_cast<std::uint64_t>(reading);
    const auto p = static_cast<std::uint64_t>(pixel);
    const r123::Philox4x32::ctr_type counter{{static_cast<std::uint32_t>(16 * (p / block_pixels) + p % 16),
                                              static_cast<std::uint32_t>(r), static_cast<std::uint32_t>(r >> 32U),
                                              static_cast<std::uint32_t>(key.stream)}};
    const r123::Philox4x32::key_type philox_key{
        {static_cast<std::uint32_t>(key.seed), static_cast<std::uint32_t>(key.seed >> 32U)}};
    const auto words = r123::Philox4x32{}(counter, philox_key);
    return words[(p % block_pixels) / 16];
}

}  // namespace spotwright::base
