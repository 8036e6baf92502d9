#include "sim/measure/moving_smear.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "sim/measure/moving_light_kernel.hpp"

namespace spotwright::measure {

LightExtents extents_of(const LightSamples& samples) {
    LightExtents extents;
    const auto at = [&](std::ptrdiff_t i) {
        return samples.sum[static_cast<std::size_t>(i % 4)][static_cast<std::size_t>(i / 4)];
    };
    float brightest = 0.0F;
    for (std::ptrdiff_t i = 0; i < samples.count; ++i) brightest = std::max(brightest, at(i));
    extents.brightest = static_cast<double>(brightest);
    std::ptrdiff_t first = 0;
    std::ptrdiff_t last = samples.count;
    for (std::size_t level = LightExtents::levels; level-- > 0;) {
        const float least = std::ldexp(brightest, -static_cast<int>(level) - 1);
        while (first < last && !(at(first) > least)) ++first;
        while (last > first && !(at(last - 1) > least)) --last;
        extents.of[level] = {static_cast<std::int32_t>(first), static_cast<std::int32_t>(last)};
    }
    return extents;
}

namespace {

// Samples that are zero on either side of an image, or go on as they end: the reach of the cubic.
constexpr std::ptrdiff_t beyond_samples = 4;

}  // namespace

// The integral from one sample to the next is that of the cubic through the four about it:
// (-P[i-1] + 13 P[i] + 13 P[i+1] - P[i+2]) / 24.
LightSamples make_samples(const std::vector<float>& rate, bool with_integral) {
    LightSamples samples;
    if (rate.empty()) return samples;
    const float seen = 1e-8F * *std::max_element(rate.begin(), rate.end());
    const auto lit = [seen](float value) { return value > seen; };
    const auto first = std::find_if(rate.begin(), rate.end(), lit);
    if (first == rate.end()) return samples;
    const auto last = std::find_if(rate.rbegin(), rate.rend(), lit).base();
    constexpr std::ptrdiff_t before = finer_pixels - 1 + beyond_samples;
    samples.first = (first - rate.begin()) - before;
    samples.count = last - first + before + beyond_samples;
    std::vector<float> sum(static_cast<std::size_t>(samples.count), 0.0F);
    for (auto value = first; value != last; ++value) {
        for (std::ptrdiff_t k = 0; k < finer_pixels; ++k)
            sum[static_cast<std::size_t>(value - first + beyond_samples + k)] += *value;
    }
    for (std::size_t i = 0; i < sum.size(); ++i) samples.sum[i % 4].push_back(sum[i]);
    if (!with_integral) return samples;
    const auto at = [&](std::size_t i) { return i < sum.size() ? static_cast<double>(sum[i]) : 0.0; };
    double integral = 0.0;
    for (std::size_t i = 0; i < sum.size(); ++i) {
        if (i > 0) integral += (13.0 * (at(i - 1) + at(i)) - (i > 1 ? at(i - 2) : 0.0) - at(i + 1)) / 24.0;
        samples.integral[i % 4].push_back(integral);
    }
    return samples;
}

void LightSum::clear(std::size_t pixels) {
    from = 0;
    to = pixels;
    if (rate.size() != pixels) {
        rate.assign(pixels, 0.0F);
        mirrored.clear();
    } else if (first < last) {
        const auto begin = static_cast<std::ptrdiff_t>(first);
        const auto end = static_cast<std::ptrdiff_t>(last);
        std::fill(rate.begin() + begin, rate.begin() + end, 0.0F);
        if (!mirrored.empty()) std::fill(mirrored.begin() + begin, mirrored.begin() + end, 0.0F);
    }
    first = last = 0;
}

void LightSum::cover(std::size_t begin, std::size_t end) {
    if (begin >= end) return;
    const bool empty = first >= last;
    first = empty ? begin : std::min(first, begin);
    last = empty ? end : std::max(last, end);
}

namespace {

// Where pixel 0 of an image that is shifted by so many finer pixels finds its samples.
struct Start {
    std::ptrdiff_t index;         // of the first of four
    std::array<double, 4> share;  // of them

    // NOLINTNEXTLINE(cppcoreguidelines-pro-type-member-init): set in the body
    Start(std::ptrdiff_t first_sample, double shift) {
        const double begin = static_cast<double>(finer_pixels * margin_pixels) - shift;
        index = static_cast<std::ptrdiff_t>(std::floor(begin)) - 1 - first_sample;
        share = cubic_shares(begin - std::floor(begin));
    }
};

std::ptrdiff_t floor_quarter(std::ptrdiff_t a) {
    return a >= 0 ? a / finer_pixels : -((finer_pixels - 1 - a) / finer_pixels);
}

struct PixelRange {
    std::ptrdiff_t first;
    std::ptrdiff_t last;
};

// Pixels of a range whose four samples all lie within `count`.
PixelRange pixels_within(std::ptrdiff_t index, std::ptrdiff_t count, const PixelRange& range) {
    const std::ptrdiff_t first = std::clamp(-floor_quarter(index), range.first, range.last);
    const std::ptrdiff_t last = std::clamp(floor_quarter(count - 4 - index) + 1, first, range.last);
    return {first, last};
}

// The four samples of a pixel, each in its row, where its neighbours' follow.
// @param index  Of the first of them.
template <class Value>
std::array<const Value*, 4> rows_from(const std::array<std::vector<Value>, 4>& rows, std::ptrdiff_t index) {
    std::array<const Value*, 4> row{};
    for (std::ptrdiff_t t = 0; t < 4; ++t) {
        const std::ptrdiff_t at = index + t;
        const std::ptrdiff_t place = floor_quarter(at);
        row[static_cast<std::size_t>(t)] = rows[static_cast<std::size_t>(at - finer_pixels * place)].data() + place;
    }
    return row;
}

std::span<float> pixels_of(std::vector<float>& rate, const PixelRange& range) {
    return std::span(rate).subspan(static_cast<std::size_t>(range.first),
                                   static_cast<std::size_t>(range.last - range.first));
}

DoubleTaps taps_from(const std::array<std::vector<double>, 4>& rows, const Start& start, std::ptrdiff_t pixel) {
    return {rows_from(rows, start.index + finer_pixels * pixel), start.share};
}

// The running integral at pixels of a range.
void integrals(const std::array<std::vector<double>, 4>& rows, std::ptrdiff_t count, const Start& start,
               const PixelRange& range, std::vector<double>& values) {
    values.resize(static_cast<std::size_t>(range.last - range.first));
    const PixelRange within = pixels_within(start.index, count, range);
    const std::ptrdiff_t end = count - 1;
    const double all = rows[static_cast<std::size_t>(end % finer_pixels)][static_cast<std::size_t>(end / finer_pixels)];
    const std::ptrdiff_t before = within.first - range.first;
    const std::ptrdiff_t inside = within.last - within.first;
    std::fill(values.begin(), values.begin() + before, 0.0);
    std::fill(values.begin() + before + inside, values.end(), all);
    if (inside == 0) return;
    const auto row = rows_from(rows, start.index + finer_pixels * within.first);
    const std::array<double, 4> share = start.share;
    double* const value = values.data() + before;
    for (std::ptrdiff_t k = 0; k < inside; ++k) {
        value[k] = share[0] * row[0][k] + share[1] * row[1][k] + share[2] * row[2][k] + share[3] * row[3][k];
    }
}

}  // namespace

void add_samples(const LightSamples& samples, const Smear& smear, double weight, SmearIntegrals& integral,
                 std::vector<float>& rate, LightSum& sum) {
    if (samples.count == 0) return;
    const PixelRange asked{static_cast<std::ptrdiff_t>(std::min(sum.from, rate.size())),
                           static_cast<std::ptrdiff_t>(std::min(std::max(sum.from, sum.to), rate.size()))};
    // A smear shorter than a finer pixel widens an image by less than a hundredth of a pixel.
    const double length = smear.last - smear.first;
    PixelRange range{};
    if (length < 1.0 || samples.integral[0].empty()) {
        const Start start(samples.first, 0.5 * (smear.first + smear.last));
        range = pixels_within(start.index, samples.count, asked);
        std::array<float, 4> tap{};
        for (std::size_t t = 0; t < 4; ++t) tap[t] = static_cast<float>(weight * start.share[t]);
        if (range.first >= range.last) return;
        const auto row = rows_from(samples.sum, start.index + finer_pixels * range.first);
        add_taps(row, tap, pixels_of(rate, range));
    } else {
        // The image leaves the pixels that it comes to at first: a smaller shift finds its samples further on.
        const Start ahead(samples.first, smear.first);
        const Start behind(samples.first, smear.last);
        range = {pixels_within(ahead.index, samples.count, asked).first,
                 pixels_within(behind.index, samples.count, asked).last};
        range.last = std::max(range.first, range.last);
        const double scale = weight / length;
        const PixelRange of_ahead = pixels_within(ahead.index, samples.count, range);
        const PixelRange of_behind = pixels_within(behind.index, samples.count, range);
        const std::ptrdiff_t first = std::max(of_ahead.first, of_behind.first);
        const std::ptrdiff_t last = std::max(first, std::min(of_ahead.last, of_behind.last));
        // Between the ends of both, all samples are there.
        const auto add_ends = [&](const PixelRange& end) {
            if (end.first >= end.last) return;
            integrals(samples.integral, samples.count, ahead, end, integral.ahead);
            integrals(samples.integral, samples.count, behind, end, integral.behind);
            float* const to = rate.data() + end.first;
            for (std::size_t i = 0; i < integral.ahead.size(); ++i) {
                to[i] += static_cast<float>(scale * (integral.ahead[i] - integral.behind[i]));
            }
        };
        add_ends({range.first, std::min(first, range.last)});
        if (first < last) {
            add_difference(taps_from(samples.integral, ahead, first), taps_from(samples.integral, behind, first), scale,
                           pixels_of(rate, {first, last}));
        }
        add_ends({std::max(range.first, last), range.last});
    }
    sum.cover(static_cast<std::size_t>(range.first), static_cast<std::size_t>(range.last));
}

void widen(const LightSamples& samples, const LightExtents& extents, const Smear& smear, double min_rate,
           std::array<std::int64_t, 2>& pixels) {
    if (!(extents.brightest > 0.0)) return;
    // The first level that is not above the least rate: 2^(level + 1) is the ratio or more.
    int exponent = 0;
    std::frexp(extents.brightest / min_rate, &exponent);
    const auto level = static_cast<std::size_t>(std::max(exponent - 1, 0));
    const bool whole = !(min_rate > 0.0) || level >= LightExtents::levels;
    const std::ptrdiff_t begin = whole ? 0 : extents.of[level][0];
    const std::ptrdiff_t end = whole ? samples.count : extents.of[level][1];
    const Start first(samples.first, smear.first);
    const Start last(samples.first, smear.last);
    pixels[0] = std::min<std::int64_t>(pixels[0], floor_quarter(begin - 4 - first.index));
    pixels[1] = std::max<std::int64_t>(pixels[1], floor_quarter(end + 4 - last.index) + 1);
}

}  // namespace spotwright::measure
