// Vector code of the random numbers, compiled once per instruction set by the files that include it.
// Multiplications and additions stay separate (no fused multiply-add), so every instruction set gives the same bits.

#if defined(SPOTWRIGHT_RANDOM_KERNEL_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SPOTWRIGHT_RANDOM_KERNEL_INL
#undef SPOTWRIGHT_RANDOM_KERNEL_INL
#else
#define SPOTWRIGHT_RANDOM_KERNEL_INL
#endif

#include <hwy/highway.h>

#include "sim/base/random.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::base {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

inline constexpr std::size_t row_lanes = 16;  // counters per block; each gives four words, one per row

/// Four counter words of each lane.
template <class V>
struct Counters {
    V c0;
    V c1;
    V c2;
    V c3;
};

/// One round of Philox4x32. One 32-bit word lives in each 64-bit lane: the even-lane multiply then gives low and high
/// half at once, and whatever stands in the upper half of a word is ignored.
template <class D, class V>
HWY_INLINE void philox_round(D d64, V key0, V key1, Counters<V>& c) {
    const hn::RepartitionToNarrow<D> d32;
    const auto low32 = [&](auto v) { return hn::BitCast(d32, v); };
    const auto product0 = hn::MulEven(low32(c.c0), low32(hn::Set(d64, 0xD2511F53U)));
    const auto product1 = hn::MulEven(low32(c.c2), low32(hn::Set(d64, 0xCD9E8D57U)));
    c.c0 = hn::Xor(hn::Xor(hn::ShiftRight<32>(product1), c.c1), key0);
    c.c1 = product1;
    c.c2 = hn::Xor(hn::Xor(hn::ShiftRight<32>(product0), c.c3), key1);
    c.c3 = product0;
}

/// A block of counters of one stream.
struct StreamBlock {
    Stream stream;
    std::uint64_t block;
};

inline constexpr std::size_t philox_rounds = 10;

/// Keys of all rounds, made once for many blocks.
struct PhiloxKeys {
    // NOLINTNEXTLINE(cppcoreguidelines-pro-type-member-init): set in the body
    explicit PhiloxKeys(std::uint64_t seed) {
        auto low = static_cast<std::uint32_t>(seed);
        auto high = static_cast<std::uint32_t>(seed >> 32U);
        for (std::size_t round = 0; round < philox_rounds; ++round) {
            key0[round] = low;
            key1[round] = high;
            low += 0x9E3779B9U;
            high += 0xBB67AE85U;
        }
    }

    std::uint64_t key0[philox_rounds];
    std::uint64_t key1[philox_rounds];
};

/// Where words go: rows of 16 of a block, and blocks, begin so many words after one another.
struct WordPlaces {
    std::size_t row = row_lanes;
    std::size_t block = 4 * row_lanes;
};

/// Philox4x32-10 on the 16 counters of each block, two vectors of a block at a time: their low halves fill one vector
/// of words, which is stored whole because a load of 16 words stalls on two stores of eight. Blocks go together, for a
/// round waits for the one before.
template <std::size_t blocks>
HWY_INLINE void philox_blocks(const PhiloxKeys& keys, std::uint64_t reading, const StreamBlock (&of)[blocks],
                              std::uint32_t* HWY_RESTRICT words, const WordPlaces& places = {}) {
    const hn::ScalableTag<std::uint64_t> d64;
    const hn::RepartitionToNarrow<decltype(d64)> d32;
    const std::size_t lanes = hn::Lanes(d64);
    // Loaded, not made by Iota: that goes through memory lane by lane, which costs as much as all the rounds.
    HWY_ALIGN static constexpr std::uint64_t ramp[row_lanes] = {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15};

    for (std::size_t first = 0; first < row_lanes; first += 2 * lanes) {
        using V = hn::Vec<decltype(d64)>;
        Counters<V> a[blocks];
        Counters<V> b[blocks];
        for (std::size_t i = 0; i < blocks; ++i) {
            const auto start = hn::Set(d64, row_lanes * of[i].block);
            a[i] = {hn::Add(start, hn::Load(d64, ramp + first)), hn::Set(d64, reading & 0xFFFFFFFFU),
                    hn::Set(d64, reading >> 32U), hn::Set(d64, static_cast<std::uint64_t>(of[i].stream))};
            b[i] = a[i];
            b[i].c0 = hn::Add(start, hn::Load(d64, ramp + first + lanes));
        }
#pragma GCC unroll 2
        for (std::size_t round = 0; round < philox_rounds; ++round) {
            const auto k0 = hn::Set(d64, keys.key0[round]);
            const auto k1 = hn::Set(d64, keys.key1[round]);
            for (std::size_t i = 0; i < blocks; ++i) {
                philox_round(d64, k0, k1, a[i]);
                philox_round(d64, k0, k1, b[i]);
            }
        }
        for (std::size_t i = 0; i < blocks; ++i) {
            const auto store = [&](std::size_t row, V low_lanes, V high_lanes) {
                hn::StoreU(hn::ConcatEven(d32, hn::BitCast(d32, high_lanes), hn::BitCast(d32, low_lanes)), d32,
                           words + places.block * i + places.row * row + first);
            };
            store(0, a[i].c0, b[i].c0);
            store(1, a[i].c1, b[i].c1);
            store(2, a[i].c2, b[i].c2);
            store(3, a[i].c3, b[i].c3);
        }
    }
}

/// The same of one seed.
template <std::size_t blocks>
HWY_INLINE void philox_blocks(std::uint64_t seed, std::uint64_t reading, const StreamBlock (&of)[blocks],
                              std::uint32_t* HWY_RESTRICT words) {
    philox_blocks(PhiloxKeys(seed), reading, of, words);
}

/// The same on one block.
HWY_INLINE void philox_block(RandomKey key, std::uint64_t reading, std::uint64_t block,
                             std::uint32_t* HWY_RESTRICT words) {
    philox_blocks(key.seed, reading, {{key.stream, block}}, words);
}

/// (word + 0.5) / 2^32, rounded to float: from 1.2e-10 to 1.
template <class D, class V>
HWY_INLINE hn::Vec<D> open_uniform(D d, V word) {
    const hn::RebindToSigned<D> di;
    const auto high = hn::ConvertTo(d, hn::BitCast(di, hn::ShiftRight<16>(word)));
    const hn::RebindToUnsigned<D> du;
    const auto low = hn::ConvertTo(d, hn::BitCast(di, hn::And(word, hn::Set(du, 0xFFFFU))));
    const auto value = hn::Add(hn::Mul(high, hn::Set(d, 65536.0F)), low);
    return hn::Mul(hn::Add(value, hn::Set(d, 0.5F)), hn::Set(d, 0x1p-32F));
}

/// Natural logarithm of a normal positive float, relative error below 2e-7.
/// Source: minimax coefficients of S. L. Moshier, "Methods and Programs for Mathematical Functions" (1989), logf.
template <class D>
HWY_INLINE hn::Vec<D> logarithm(D d, hn::Vec<D> x) {
    const hn::RebindToSigned<D> di;
    const auto bits = hn::BitCast(di, x);
    auto exponent = hn::ConvertTo(d, hn::Sub(hn::ShiftRight<23>(bits), hn::Set(di, 126)));
    auto m = hn::BitCast(d, hn::Or(hn::And(bits, hn::Set(di, 0x007FFFFF)), hn::Set(di, 0x3F000000)));
    const auto small = hn::Lt(m, hn::Set(d, 0.70710678F));
    const auto one = hn::Set(d, 1.0F);
    exponent = hn::Sub(exponent, hn::IfThenElseZero(small, one));
    m = hn::Sub(hn::Add(m, hn::IfThenElseZero(small, m)), one);

    constexpr float coefficients[] = {-1.1514610310e-1F, 1.1676998740e-1F, -1.2420140846e-1F, 1.4249322787e-1F,
                                      -1.6668057665e-1F, 2.0000714765e-1F, -2.4999993993e-1F, 3.3333331174e-1F};
    auto y = hn::Set(d, 7.0376836292e-2F);
    for (const float c : coefficients) y = hn::Add(hn::Mul(y, m), hn::Set(d, c));
    const auto square = hn::Mul(m, m);
    y = hn::Mul(hn::Mul(y, m), square);
    y = hn::Add(y, hn::Mul(exponent, hn::Set(d, -2.12194440e-4F)));
    y = hn::Sub(y, hn::Mul(square, hn::Set(d, 0.5F)));
    return hn::Add(hn::Add(m, y), hn::Mul(exponent, hn::Set(d, 0.693359375F)));
}

/// One row of 16 radii words and 16 angle words into 32 normals.
/// The two top bits of the angle word choose the quadrant, the rest the angle within it, so sine and cosine are only
/// wanted on [-pi/4, pi/4]. Source of the coefficients: as for the logarithm, sinf and cosf.
HWY_INLINE void box_muller_rows(const std::uint32_t* HWY_RESTRICT radius_words,
                                const std::uint32_t* HWY_RESTRICT angle_words, float* HWY_RESTRICT first,
                                float* HWY_RESTRICT second) {
    const hn::ScalableTag<float> d;
    const hn::RebindToUnsigned<decltype(d)> du;
    const hn::RebindToSigned<decltype(d)> di;
    const auto mul_add = [&](auto a, auto x, float c) { return hn::Add(hn::Mul(a, x), hn::Set(d, c)); };
    for (std::size_t i = 0; i < row_lanes; i += hn::Lanes(d)) {
        const auto u = open_uniform(d, hn::LoadU(du, radius_words + i));
        const auto radius = hn::Sqrt(hn::Max(hn::Mul(hn::Set(d, -2.0F), logarithm(d, u)), hn::Zero(d)));

        const auto angle_word = hn::LoadU(du, angle_words + i);
        const auto fraction = hn::ConvertTo(d, hn::BitCast(di, hn::And(angle_word, hn::Set(du, 0x3FFFFFFFU))));
        const auto turn = hn::Sub(hn::Mul(fraction, hn::Set(d, 0x1p-30F)), hn::Set(d, 0.5F));
        const auto x = hn::Mul(turn, hn::Set(d, 1.57079632679F));
        const auto z = hn::Mul(x, x);
        auto sine = mul_add(mul_add(hn::Set(d, -1.9515295891e-4F), z, 8.3321608736e-3F), z, -1.6666654611e-1F);
        sine = hn::Add(hn::Mul(hn::Mul(sine, z), x), x);
        auto cosine =
            mul_add(mul_add(hn::Set(d, 2.443315711809948e-5F), z, -1.388731625493765e-3F), z, 4.166664568298827e-2F);
        cosine = hn::Add(hn::Sub(hn::Mul(hn::Mul(cosine, z), z), hn::Mul(z, hn::Set(d, 0.5F))), hn::Set(d, 1.0F));

        // Quarter turns 0: (c, s), 1: (-s, c), 2: (-c, -s), 3: (s, -c).
        const auto quadrant = hn::ShiftRight<30>(angle_word);
        const auto one = hn::Set(du, 1U);
        const auto odd = hn::RebindMask(d, hn::Eq(hn::And(quadrant, one), one));
        const auto negative_first =
            hn::RebindMask(d, hn::Eq(hn::And(hn::Add(quadrant, one), hn::Set(du, 2U)), hn::Set(du, 2U)));
        const auto negative_second = hn::RebindMask(d, hn::Eq(hn::And(quadrant, hn::Set(du, 2U)), hn::Set(du, 2U)));
        const auto a = hn::IfThenElse(odd, sine, cosine);
        const auto b = hn::IfThenElse(odd, cosine, sine);
        hn::StoreU(hn::Mul(radius, hn::IfThenElse(negative_first, hn::Neg(a), a)), d, first + i);
        hn::StoreU(hn::Mul(radius, hn::IfThenElse(negative_second, hn::Neg(b), b)), d, second + i);
    }
}

/// 64 words into 64 standard normals.
HWY_INLINE void normal_block(const std::uint32_t* HWY_RESTRICT words, float* HWY_RESTRICT normals) {
    box_muller_rows(words, words + row_lanes, normals, normals + row_lanes);
    box_muller_rows(words + 2 * row_lanes, words + 3 * row_lanes, normals + 2 * row_lanes, normals + 3 * row_lanes);
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::base
HWY_AFTER_NAMESPACE();

#endif
