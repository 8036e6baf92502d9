// The hot loop of the program: noisy frames, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/detector/frames_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/detector/counts_kernel-inl.hpp"
#include "sim/detector/draws_kernel-inl.hpp"

#include <algorithm>

#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

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
