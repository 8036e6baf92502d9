// Vector code of noisy frames, compiled once per instruction set by the files that include it: random numbers of groups
// of readings, and digits from them.
// Multiplications and additions stay separate (no fused multiply-add), so every instruction set gives the same bits.

#if defined(SPOTWRIGHT_DRAWS_KERNEL_INL) == defined(HWY_TARGET_TOGGLE)
#ifdef SPOTWRIGHT_DRAWS_KERNEL_INL
#undef SPOTWRIGHT_DRAWS_KERNEL_INL
#else
#define SPOTWRIGHT_DRAWS_KERNEL_INL
#endif

#include <hwy/highway.h>

#include <algorithm>

#include "sim/base/random_kernel-inl.hpp"
#include "sim/detector/counts_kernel-inl.hpp"
#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using base::HWY_NAMESPACE::box_muller_rows;
using base::HWY_NAMESPACE::philox_blocks;
using base::HWY_NAMESPACE::PhiloxKeys;
using base::HWY_NAMESPACE::WordPlaces;

inline constexpr std::size_t group = readings_of_counter;

// Random numbers of a stretch of pixels, of a group of readings one after the other.
struct GroupWords {  // NOLINT(cppcoreguidelines-pro-type-member-init): only what is wanted is filled
    HWY_ALIGN std::uint32_t words[group * stretch];
    HWY_ALIGN float normals[group * stretch];
};

// Readings of a group that are wanted.
struct SomeReadings {
    std::uint64_t group = 0;
    std::size_t first = 0;  // of them
    std::size_t last = 0;   // one past the last
};

// Units of a stretch, by their number in the array.
struct Units {
    std::uint64_t first = 0;
    std::size_t count = 0;
};

HWY_INLINE void draw_words(const PhiloxKeys& keys, base::Stream stream, std::uint64_t group_number, const Units& units,
                           GroupWords& to) {
    constexpr WordPlaces places{stretch, unit};
    std::size_t u = 0;
    for (; u + 2 <= units.count; u += 2) {
        philox_blocks(keys, group_number, {{stream, units.first + u}, {stream, units.first + u + 1}},
                      to.words + u * unit, places);
    }
    if (u < units.count) philox_blocks(keys, group_number, {{stream, units.first + u}}, to.words + u * unit, places);
}

// Normal numbers of wanted readings, and of their partners, from their words.
HWY_INLINE void draw_normals(const SomeReadings& some, const Units& units, GroupWords& of) {
    for (std::size_t r = some.first / 2 * 2; r < some.last; r += 2) {
        for (std::size_t i = r * stretch; i < r * stretch + units.count * unit; i += unit) {
            box_muller_rows(of.words + i, of.words + i + stretch, of.normals + i, of.normals + i + stretch);
        }
    }
}

struct Digits {
    float gain;
    float black_and_half;
    float top;
    float read_noise;
};

HWY_INLINE Digits digits_of(const ExpectedFrame& expected) {
    return {static_cast<float>(expected.digitiser.gain), static_cast<float>(expected.digitiser.black_level + 0.5),
            static_cast<float>(expected.digitiser.top_digit), static_cast<float>(expected.read_noise)};
}

template <class D>
HWY_INLINE hn::Vec<D> to_digit(D d, const Digits& digits, hn::Vec<D> value) {
    return hn::Min(hn::Max(hn::Floor(value), hn::Zero(d)), hn::Set(d, digits.top));
}

// What is drawn of the array in one go: some units, or as many of their pixels as there are.
struct DrawnStretch {
    Units units;
    std::size_t place = 0;    // of its first pixel among all that are drawn
    std::size_t begin = 0;    // of that pixel in the array, not beyond its end
    std::size_t present = 0;  // pixels before the array's end
    std::size_t count = 0;    // pixels in all
};

// Pixels of an array of values: where they stand, or copied to a buffer with dark ones beyond the array's end.
HWY_INLINE const float* pixels_of(std::span<const float> values, const DrawnStretch& drawn, float* buffer) {
    if (drawn.present == drawn.count) return values.data() + drawn.begin;
    std::copy_n(values.data() + drawn.begin, drawn.present, buffer);
    std::fill(buffer + drawn.present, buffer + drawn.count, 0.0F);
    return buffer;
}

// Nothing is drawn beyond the array's end.
HWY_INLINE void clear_beyond(const DrawnStretch& drawn, float* HWY_RESTRICT out) {
    std::fill(out + drawn.present, out + drawn.count, 0.0F);
}

// Runs `body(drawn)` on each stretch of the pixels that are wanted. The body is called from one place only, so that it
// is inlined and its constants are set up once.
template <class Body>
HWY_INLINE void for_each_stretch(const ExpectedFrame& expected, std::int64_t first_unit, std::size_t count,
                                 const Body& body) {
    const std::size_t pixels = expected.electrons.size();
    const auto first = static_cast<std::size_t>(first_unit);
    for (std::size_t place = 0; place < count; place += stretch) {
        DrawnStretch drawn;
        drawn.count = std::min(stretch, count - place);
        drawn.units = {first + place / unit, drawn.count / unit};
        drawn.place = place;
        drawn.begin = std::min(first * unit + place, pixels);
        drawn.present = std::min(pixels - drawn.begin, drawn.count);
        body(drawn);
    }
}

// Runs `body(some, reading)` on each group of successive readings, `reading` being the place of the first wanted one.
template <class Body>
HWY_INLINE void for_each_group(std::uint64_t first_reading, std::size_t readings, const Body& body) {
    for (std::size_t i = 0; i < readings;) {
        const std::size_t first = (first_reading + i) % group;
        const std::size_t last = std::min(group, first + readings - i);
        body(SomeReadings{(first_reading + i) / group, first, last}, i);
        i += last - first;
    }
}

// A digit before rounding as a polynomial of one standard normal number, for each pixel of a stretch.
struct NoiseCurves {  // NOLINT(cppcoreguidelines-pro-type-member-init): filled by `make_curves`
    static constexpr std::size_t powers = 5;
    HWY_ALIGN float of[powers][stretch];
};

// Electrons and read noise together, by the expansion of Cornish and Fisher: with m the mean, v = m + read noise^2,
// p = m/v, r = sqrt(v),
//   m + r w + p (w^2 - 1)/6 + [p (w^3 - 3 w)/24 - p^2 (2 w^3 - 5 w)/36] / r
//     + [p (w^4 - 6 w^2 + 3)/120 - p^2 (w^4 - 5 w^2 + 2)/24 + p^3 (12 w^4 - 53 w^2 + 17)/324] / v.
HWY_INLINE void make_curves(const Digits& digits, const float* HWY_RESTRICT mean, const float* HWY_RESTRICT offset,
                            std::size_t count, NoiseCurves& curves) {
    const Floats d;
    const auto set = [&](double value) HWY_ATTR { return hn::Set(d, static_cast<float>(value)); };
    const auto gain = hn::Set(d, digits.gain);
    const auto noise_square = hn::Set(d, digits.read_noise * digits.read_noise);
    for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
        const auto m = hn::LoadU(d, mean + i);
        const auto v = hn::Add(m, noise_square);
        const auto r = hn::Sqrt(v);
        const auto inverse = hn::Div(hn::Set(d, 1.0F), v);
        const auto p = hn::Mul(m, inverse);
        const auto p_over_r = hn::Mul(p, hn::Mul(r, inverse));
        const auto p_over_v = hn::Mul(p, inverse);
        // p (a + p (b + p c)) / v and p (a + p b) / r
        const auto order2 = [&](double a, double b, double c) HWY_ATTR {
            return hn::Mul(p_over_v, hn::Add(set(a), hn::Mul(p, hn::Add(set(b), hn::Mul(p, set(c))))));
        };
        const auto order1 = [&](double a, double b)
                                HWY_ATTR { return hn::Mul(p_over_r, hn::Add(set(a), hn::Mul(p, set(b)))); };
        const auto sixth = hn::Mul(p, set(1.0 / 6.0));
        const auto level = hn::Add(m, hn::Sub(order2(3.0 / 120.0, -2.0 / 24.0, 17.0 / 324.0), sixth));
        const auto whole = hn::Add(level, hn::LoadU(d, offset + i));
        const auto put = [&](std::size_t power, hn::Vec<Floats> electrons)
                             HWY_ATTR { hn::Store(hn::Mul(electrons, gain), d, curves.of[power] + i); };
        hn::Store(hn::Add(hn::Mul(whole, gain), hn::Set(d, digits.black_and_half)), d, curves.of[0] + i);
        put(1, hn::Add(r, order1(-1.0 / 8.0, 5.0 / 36.0)));
        put(2, hn::Add(sixth, order2(-6.0 / 120.0, 5.0 / 24.0, -53.0 / 324.0)));
        put(3, order1(1.0 / 24.0, -1.0 / 18.0));
        put(4, order2(1.0 / 120.0, -1.0 / 24.0, 1.0 / 27.0));
    }
}

// Digits of wanted readings of a group, from their normal numbers; those of readings begin `stride` apart.
HWY_INLINE void curve_digits(const Digits& digits, const NoiseCurves& curves, const SomeReadings& some,
                             std::size_t count, const float* HWY_RESTRICT normals, std::size_t stride,
                             float* HWY_RESTRICT out) {
    const Floats d;
    for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
        const auto a0 = hn::Load(d, curves.of[0] + i);
        const auto a1 = hn::Load(d, curves.of[1] + i);
        const auto a2 = hn::Load(d, curves.of[2] + i);
        const auto a3 = hn::Load(d, curves.of[3] + i);
        const auto a4 = hn::Load(d, curves.of[4] + i);
        for (std::size_t r = some.first; r < some.last; ++r) {
            const auto w = hn::Load(d, normals + r * stretch + i);
            auto value = hn::Add(hn::Mul(a4, w), a3);
            value = hn::Add(hn::Mul(value, w), a2);
            value = hn::Add(hn::Mul(value, w), a1);
            value = hn::Add(hn::Mul(value, w), a0);
            hn::StoreU(to_digit(d, digits, value), d, out + (r - some.first) * stride + i);
        }
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#endif
