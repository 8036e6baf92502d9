// The hot loop of the program: noisy frames, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/detector/frames_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/base/random_kernel-inl.hpp"
#include "sim/detector/counts_kernel-inl.hpp"

#include <algorithm>

#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using base::HWY_NAMESPACE::box_muller_rows;
using base::HWY_NAMESPACE::philox_blocks;
using base::HWY_NAMESPACE::PhiloxKeys;
using base::HWY_NAMESPACE::WordPlaces;

constexpr std::size_t group = readings_of_counter;

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

// Digits of one reading, from its counts and the normal numbers of its read noise.
HWY_INLINE void count_digits(const Digits& digits, std::size_t count, const float* HWY_RESTRICT counts,
                             const float* HWY_RESTRICT offset, const float* HWY_RESTRICT read,
                             float* HWY_RESTRICT out) {
    const Floats d;
    for (std::size_t i = 0; i < count; i += hn::Lanes(d)) {
        const auto noise = hn::Mul(hn::Load(d, read + i), hn::Set(d, digits.read_noise));
        const auto electrons = hn::Add(hn::Add(hn::Load(d, counts + i), hn::LoadU(d, offset + i)), noise);
        const auto value = hn::Add(hn::Mul(electrons, hn::Set(d, digits.gain)), hn::Set(d, digits.black_and_half));
        hn::StoreU(to_digit(d, digits, value), d, out + i);
    }
}

// Successive readings, whose digits begin `stride` apart.
struct SomeFrames {
    std::uint64_t first_reading = 0;
    std::size_t readings = 0;
    std::size_t stride = 0;
    float* digits = nullptr;  // of the first pixel of a stretch
};

// Shot noise and read noise by one normal number a pixel.
HWY_INLINE void draw_joined(const DrawnStretch& drawn, const float* mean, const float* offset, const Digits& digits,
                            const FrameNoise& noise, const SomeFrames& frames) {
    NoiseCurves curves;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled below
    make_curves(digits, mean, offset, drawn.count, curves);
    const PhiloxKeys keys(noise.seed);
    GroupWords random;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled group by group
    for_each_group(frames.first_reading, frames.readings, [&](const SomeReadings& some, std::size_t reading) HWY_ATTR {
        draw_words(keys, noise.shot, some.group, drawn.units, random);
        draw_normals(some, drawn.units, random);
        float* const out = frames.digits + reading * frames.stride;
        curve_digits(digits, curves, some, drawn.count, random.normals, frames.stride, out);
    });
}

// Shot noise and read noise by a draw each.
HWY_INLINE void draw_apart(const DrawnStretch& drawn, const StretchMeans& means, const CountSums* sums,
                           const float* offset, const Digits& digits, const FrameNoise& noise,
                           const SomeFrames& frames) {
    const PhiloxKeys keys(noise.seed);
    GroupWords shot;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled group by group
    GroupWords read;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled group by group
    for_each_group(frames.first_reading, frames.readings, [&](const SomeReadings& some, std::size_t reading) HWY_ATTR {
        draw_words(keys, noise.shot, some.group, drawn.units, shot);
        draw_words(keys, noise.read, some.group, drawn.units, read);
        if (means.bright_count > 0) draw_normals(some, drawn.units, shot);
        draw_normals(some, drawn.units, read);
        for (std::size_t r = some.first; r < some.last; ++r) {
            float* const counts = shot.normals + r * stretch;
            count_stretch(means, sums, shot.words + r * stretch, counts);
            count_digits(digits, drawn.count, counts, offset, read.normals + r * stretch,
                         frames.digits + (reading + r - some.first) * frames.stride);
        }
    });
}

bool is_joined(const ExpectedFrame& expected) {
    return expected.read_noise >= min_joined_noise;
}

// Means of a stretch as they are expected.
HWY_INLINE void expected_means(const ExpectedFrame& expected, const DrawnStretch& drawn, StretchMeans& means) {
    means.count = drawn.count;
    const float* const electrons = pixels_of(expected.electrons, drawn, means.mean);
    if (electrons != means.mean) std::copy_n(electrons, drawn.count, means.mean);
    std::copy_n(means.mean, drawn.count, means.dimness);
    prepare_counts(exact_count_limit, means);
}

void draw_frames_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t first_reading,
                        std::int64_t first_unit, std::size_t count, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    const bool joined = is_joined(expected);
    const std::size_t readings = digits.size() / count;
    HWY_ALIGN float offset_at_end[stretch];
    StretchMeans means;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    CountSums sums;      // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    for_each_stretch(expected, first_unit, count, [&](const DrawnStretch& drawn) HWY_ATTR {
        const float* const offset = pixels_of(expected.offset, drawn, offset_at_end);
        const SomeFrames frames{static_cast<std::uint64_t>(first_reading), readings, count,
                                digits.data() + drawn.place};
        if (joined) {
            const float* const mean = pixels_of(expected.electrons, drawn, means.mean);
            draw_joined(drawn, mean, offset, scale, noise, frames);
        } else {
            expected_means(expected, drawn, means);
            // The sums take as long as the counts of a few readings without them.
            constexpr std::size_t worth_sums = 4;
            const bool summed = means.dim_count > 0 && readings >= worth_sums;
            if (summed) sums.fill(means);
            draw_apart(drawn, means, summed ? &sums : nullptr, offset, scale, noise, frames);
        }
        if (drawn.present == drawn.count) return;
        for (std::size_t i = 0; i < readings; ++i) clear_beyond(drawn, frames.digits + i * count);
    });
}

// Means of a stretch with its light of this reading. Pixels whose mean falls below the limit of exact counts are dim
// only where they were before, or where it falls further: inversion costs most just below the limit.
// @param relative  Of the stretch's first pixel onwards.
HWY_INLINE void relative_means(const DrawnStretch& drawn, const float* HWY_RESTRICT expected,
                               const float* HWY_RESTRICT light, const float* HWY_RESTRICT relative, StretchMeans& out) {
    const Floats d;
    const auto limit = hn::Set(d, static_cast<float>(exact_count_limit));
    const auto least = hn::Set(d, static_cast<float>(changed_count_limit));
    const auto one = hn::Set(d, 1.0F);
    out.count = drawn.count;
    for (std::size_t i = 0; i < drawn.count; i += hn::Lanes(d)) {
        const auto old = hn::LoadU(d, expected + i);
        const auto change = hn::Mul(hn::LoadU(d, light + i), hn::Sub(hn::LoadU(d, relative + i), one));
        const auto m = hn::Max(hn::Add(old, change), hn::Zero(d));
        const auto dimness = hn::IfThenElse(hn::Or(hn::Lt(old, limit), hn::Lt(m, least)), m, hn::Max(m, limit));
        hn::Store(m, d, out.mean + i);
        hn::Store(dimness, d, out.dimness + i);
    }
}

void draw_relative_frame_kernel(const ExpectedFrame& expected, const RelativeLight& light, const FrameNoise& noise,
                                std::int64_t reading, std::int64_t first_unit, std::span<float> digits) {
    const Digits scale = digits_of(expected);
    const bool joined = is_joined(expected);
    HWY_ALIGN float mean_at_end[stretch];
    HWY_ALIGN float changing_at_end[stretch];
    HWY_ALIGN float offset_at_end[stretch];
    StretchMeans means;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    for_each_stretch(expected, first_unit, digits.size(), [&](const DrawnStretch& drawn) HWY_ATTR {
        const float* const mean = pixels_of(expected.electrons, drawn, mean_at_end);
        const float* const changing = pixels_of(light.electrons, drawn, changing_at_end);
        const float* const offset = pixels_of(expected.offset, drawn, offset_at_end);
        relative_means(drawn, mean, changing, light.relative.data() + drawn.place, means);
        const SomeFrames frames{static_cast<std::uint64_t>(reading), 1, digits.size(), digits.data() + drawn.place};
        if (joined) {
            draw_joined(drawn, means.mean, offset, scale, noise, frames);
        } else {
            prepare_counts(changed_count_limit, means);
            draw_apart(drawn, means, nullptr, offset, scale, noise, frames);
        }
        clear_beyond(drawn, frames.digits);
    });
}

void draw_counts_kernel(const ExpectedFrame& expected, const FrameNoise& noise, std::int64_t reading,
                        std::int64_t first_unit, std::span<float> counts) {
    const PhiloxKeys keys(noise.seed);
    StretchMeans means;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    GroupWords shot;     // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    for_each_stretch(expected, first_unit, counts.size(), [&](const DrawnStretch& drawn) HWY_ATTR {
        expected_means(expected, drawn, means);
        for_each_group(static_cast<std::uint64_t>(reading), 1,
                       [&](const SomeReadings& some, std::size_t /*reading*/) HWY_ATTR {
                           draw_words(keys, noise.shot, some.group, drawn.units, shot);
                           if (means.bright_count > 0) draw_normals(some, drawn.units, shot);
                           float* const found = shot.normals + some.first * stretch;
                           count_stretch(means, nullptr, shot.words + some.first * stretch, found);
                           std::copy_n(found, drawn.count, counts.data() + drawn.place);
                       });
        clear_beyond(drawn, counts.data() + drawn.place);
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
