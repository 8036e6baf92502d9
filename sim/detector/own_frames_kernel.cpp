// Noisy frames of a part that moves, each of its own light; one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/detector/own_frames_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/detector/draws_kernel-inl.hpp"

#include <algorithm>

#include "sim/detector/frames.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

// Units of a frame that lie within others.
HWY_INLINE Units units_within(const OwnFrame& frame, const Units& others) {
    const auto first = static_cast<std::uint64_t>(frame.first_unit);
    const std::uint64_t begin = std::max(first, others.first);
    const std::uint64_t end = std::min(first + frame.digits.size() / unit, others.first + others.count);
    return {begin, begin < end ? static_cast<std::size_t>(end - begin) : 0};
}

// Digits of units of a frame, from the normal numbers of its reading.
HWY_INLINE void draw_units(const OwnFrame& frame, const Units& units, const float* normals) {
    const ExpectedFrame& expected = *frame.expected;
    const std::size_t pixels = expected.electrons.size();
    DrawnStretch drawn;
    drawn.units = units;
    drawn.place = static_cast<std::size_t>(units.first - static_cast<std::uint64_t>(frame.first_unit)) * unit;
    drawn.count = units.count * unit;
    drawn.begin = std::min(static_cast<std::size_t>(units.first) * unit, pixels);
    drawn.present = std::min(pixels - drawn.begin, drawn.count);
    HWY_ALIGN float mean_at_end[stretch];
    HWY_ALIGN float offset_at_end[stretch];
    NoiseCurves curves;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled below
    const Digits digits = digits_of(expected);
    make_curves(digits, pixels_of(expected.electrons, drawn, mean_at_end),
                pixels_of(expected.offset, drawn, offset_at_end), drawn.count, curves);
    float* const out = frame.digits.data() + drawn.place;
    curve_digits(digits, curves, {0, 0, 1}, drawn.count, normals, 0, out);
    clear_beyond(drawn, out);
}

void draw_own_frames_kernel(std::span<const OwnFrame> frames, const FrameNoise& noise, std::int64_t first_reading) {
    constexpr std::uint64_t at_once = stretch / unit;
    const PhiloxKeys keys(noise.seed);
    GroupWords random;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled stretch by stretch
    const auto first = static_cast<std::uint64_t>(first_reading);
    for_each_group(first, frames.size(), [&](const SomeReadings& some, std::size_t reading) HWY_ATTR {
        const auto of_group = frames.subspan(reading, some.last - some.first);
        auto begin = static_cast<std::uint64_t>(of_group.front().first_unit);
        std::uint64_t end = begin;
        for (const OwnFrame& frame : of_group) {
            const auto from = static_cast<std::uint64_t>(frame.first_unit);
            begin = std::min(begin, from);
            end = std::max(end, from + frame.digits.size() / unit);
        }
        for (std::uint64_t u = begin; u < end; u += at_once) {
            const Units units{u, static_cast<std::size_t>(std::min(at_once, end - u))};
            const bool wanted = std::any_of(of_group.begin(), of_group.end(), [&](const OwnFrame& frame) {
                return units_within(frame, units).count > 0;
            });
            if (!wanted) continue;
            draw_words(keys, noise.shot, some.group, units, random);
            draw_normals(some, units, random);
            for (std::size_t i = 0; i < of_group.size(); ++i) {
                const Units mine = units_within(of_group[i], units);
                if (mine.count == 0) continue;
                const auto skipped = static_cast<std::size_t>(mine.first - units.first) * unit;
                draw_units(of_group[i], mine, random.normals + (some.first + i) * stretch + skipped);
            }
        }
    });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::detector {

HWY_EXPORT(draw_own_frames_kernel);

void draw_own_frames(std::span<const OwnFrame> frames, const FrameNoise& noise, std::int64_t first_reading) {
    if (std::all_of(frames.begin(), frames.end(), [](const OwnFrame& frame) { return is_joined(*frame.expected); })) {
        HWY_DYNAMIC_DISPATCH(draw_own_frames_kernel)(frames, noise, first_reading);
        return;
    }
    for (const OwnFrame& frame : frames) {
        draw_frame(*frame.expected, noise, first_reading++, frame.first_unit, frame.digits);
    }
}

}  // namespace spotwright::detector
#endif
