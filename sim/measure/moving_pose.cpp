// The pose of one reading of a moving part: light and background of its exposure, in the window that matters.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "sim/measure/moving_scene.hpp"

namespace spotwright::measure {

// Exposures at which the background is measured for this one. A fixed exposure has its own; an automatic one lies
// between two of a scale of which each is a quarter longer than the one before.
std::array<double, 2> MovingScene::background_exposures(double exposure) const {
    const scenario::Exposure& e = setup_.scenario.exposure;
    if (e.mode == scenario::ExposureMode::fixed) return {exposure, exposure};
    constexpr double quarter_longer = 1.25;
    const double step = std::floor(std::log(exposure / e.exposure) / std::log(quarter_longer));
    return {e.exposure * std::pow(quarter_longer, step), e.exposure * std::pow(quarter_longer, step + 1.0)};
}

// What of the background is that of one material, and what bounds its dark pixels.
DarkBound MovingScene::add_background(const Material& material, double exposure, double share, Buffers& buffers) const {
    const auto [shorter, longer] = background_exposures(exposure);
    const DarkFrame& one = material.dark.at(shorter);
    DarkBound bound = one.bound;
    if (longer <= shorter) {
        buffers.backgrounds.push_back({&one.background, share});
        return bound;
    }
    const DarkFrame& other = material.dark.at(longer);
    const double of_other = (exposure - shorter) / (longer - shorter);
    buffers.backgrounds.push_back({&one.background, share * (1.0 - of_other)});
    buffers.backgrounds.push_back({&other.background, share * of_other});
    bound.join(other.bound);
    return bound;
}

namespace {

bool is_equivalent(const ExposureSlice& a, const ExposureSlice& b) {
    return a.material == b.material && a.segment == b.segment && a.pixels == b.pixels &&
           a.glide.stand.along == b.glide.stand.along && a.glide.stand.offset == b.glide.stand.offset &&
           a.glide.u_first == b.glide.u_first && a.glide.u_last == b.glide.u_last;
}

constexpr double still_length = 0.25;  // px: an image that glides no further is widened by 1/200 pixel

// The cubic undershoots next to sharp edges of light.
void cut_off_undershoots(LightSum& light) {
    for (std::size_t k = light.first; k < light.last; ++k) {
        light.rate[k] = std::max(light.rate[k], 0.0F);
        if (!light.mirrored.empty()) light.mirrored[k] = std::clamp(light.mirrored[k], 0.0F, light.rate[k]);
    }
}

// Integral of the running integral of light that is even within each pixel, up to a place. [px]
struct Ramp {
    std::span<const float> rate;  // of pixels from 0 on
    std::vector<double>& sums;    // two for each border of pixels: light before it, and the integral of that

    Ramp(std::span<const float> light, std::vector<double>& buffer) : rate(light), sums(buffer) {
        sums.assign(2 * (rate.size() + 1), 0.0);
        for (std::size_t k = 0; k < rate.size(); ++k) {
            const auto value = static_cast<double>(rate[k]);
            sums[2 * k + 2] = sums[2 * k] + value;
            sums[2 * k + 3] = sums[2 * k + 1] + sums[2 * k] + 0.5 * value;
        }
    }

    [[nodiscard]] double operator()(double place) const {
        if (place <= 0.0) return 0.0;
        const auto count = static_cast<double>(rate.size());
        const auto k = static_cast<std::size_t>(std::min(std::floor(place), count));
        const double rest = place - static_cast<double>(k);
        const double value = k < rate.size() ? static_cast<double>(rate[k]) : 0.0;
        return sums[2 * k + 1] + rest * (sums[2 * k] + 0.5 * rest * value);
    }
};

// Adds light of pixels from `first` on that glides by a length of pixels about where it stands.
void add_smeared(std::span<const float> rate, std::size_t first, double length, std::vector<double>& buffer,
                 LightSum& sum) {
    const auto begin = static_cast<std::ptrdiff_t>(first);
    const auto count = static_cast<std::ptrdiff_t>(rate.size());
    const auto asked_from = static_cast<std::ptrdiff_t>(sum.from);
    const auto asked_to = static_cast<std::ptrdiff_t>(std::min(sum.to, sum.rate.size()));
    if (length < still_length) {
        const std::size_t from = std::max(first, sum.from);
        const std::size_t to = std::min(first + rate.size(), static_cast<std::size_t>(asked_to));
        for (std::size_t k = from; k < to; ++k) sum.rate[k] += rate[k - first];
        sum.cover(from, to);
        return;
    }
    const Ramp ramp(rate, buffer);
    const double half = 0.5 * length;
    const auto reach = static_cast<std::ptrdiff_t>(std::ceil(half));
    const std::ptrdiff_t from = std::clamp(begin - reach, asked_from, asked_to);
    const std::ptrdiff_t to = std::clamp(begin + count + reach, from, asked_to);
    for (std::ptrdiff_t k = from; k < to; ++k) {
        const auto place = static_cast<double>(k - begin);
        const double ahead = ramp(place + 1.0 + half) - ramp(place + half);
        const double behind = ramp(place + 1.0 - half) - ramp(place - half);
        sum.rate[static_cast<std::size_t>(k)] += static_cast<float>((ahead - behind) / length);
    }
    sum.cover(static_cast<std::size_t>(from), static_cast<std::size_t>(to));
}

}  // namespace

// The only look at a part whose image hardly glides, most often: its light is put under its pattern where it stands.
bool MovingScene::put_only_look(const ExposureSlice& look, Buffers& buffers) const {
    const Material& material = materials_[look.material];
    const double length = std::abs(look.glide.u_last - look.glide.u_first) / material.setup.instrument.receiver.pitch;
    const LightTable& table = light_of(look);
    if (!material.speckle || table.mirrors() || !(length < still_length)) return false;
    LightSum& light = buffers.all;
    const double u = 0.5 * (look.glide.u_first + look.glide.u_last);
    table.add({look.glide.stand, u, u, look.glide.cell}, look.image_weight, buffers.found[table_index(look)], light);
    if (light.first >= light.last) return true;
    const std::span<float> rate = std::span(light.rate).subspan(light.first, light.last - light.first);
    if (material.speckle->cover(look.speckle, look.pixels, static_cast<float>(look.speckle_share),
                                static_cast<float>(1.0 - look.speckle_share), light.first,
                                buffers.speckle[look.material], rate)) {
        return true;
    }
    const std::array<std::size_t, 2> window{light.from, light.to};
    light.clear(light.rate.size());
    light.from = window[0];
    light.to = window[1];
    return false;
}

// Adds looks at the same light, of which speckle alone is different.
void MovingScene::add_look(const ExposureSlice& first, std::size_t alike, std::span<const ExposureSlice> looks,
                           Buffers& buffers) const {
    const Material& material = materials_[first.material];
    const LightTable& table = light_of(first);
    LightTable::Found& found = buffers.found[table_index(first)];
    double weight = 0.0;
    for (const ExposureSlice& look : looks.first(alike)) weight += look.image_weight;
    if (!material.speckle) {
        table.add(first.glide, weight, found, buffers.all);
        return;
    }
    // A pattern goes with its spot: light under it is smeared, and not smeared light put under it.
    LightSum& light = buffers.one;
    light.clear(buffers.all.rate.size());
    const double length = std::abs(first.glide.u_last - first.glide.u_first) / material.setup.instrument.receiver.pitch;
    const auto reach = static_cast<std::size_t>(std::ceil(0.5 * length)) + 1;
    light.from = buffers.all.from > reach ? buffers.all.from - reach : 0;
    light.to = buffers.all.to + reach;
    const double u = 0.5 * (first.glide.u_first + first.glide.u_last);
    table.add({first.glide.stand, u, u, first.glide.cell}, weight, found, light);
    if (light.first >= light.last) return;
    cut_off_undershoots(light);
    receiver::SpecklePattern& pattern = buffers.pattern;
    const std::size_t count = light.last - light.first;
    pattern.first = 0;
    pattern.intensity.assign(count, 0.0F);
    pattern.field.clear();
    for (const ExposureSlice& look : looks.first(alike)) {
        const auto share = static_cast<float>(look.image_weight / weight * look.speckle_share);
        material.speckle->add(look.speckle, look.pixels, share, light.first, light.last, buffers.speckle[look.material],
                              pattern);
        const auto even = static_cast<float>(look.image_weight / weight * (1.0 - look.speckle_share));
        if (even == 0.0F) continue;
        for (float& value : pattern.intensity) value += even;
    }
    const std::span<float> rate = std::span(light.rate).subspan(light.first, count);
    if (light.mirrored.empty()) {  // as `under_pattern` has it, without its copies
        for (std::size_t k = 0; k < count; ++k) rate[k] *= pattern.intensity[k];
        add_smeared(rate, light.first, length, buffers.ramp, buffers.all);
        return;
    }
    const auto mirrored = light.mirrored.begin() + static_cast<std::ptrdiff_t>(light.first);
    receiver::Profile profile;
    profile.rate.assign(rate.begin(), rate.end());
    profile.mirrored.assign(mirrored, mirrored + static_cast<std::ptrdiff_t>(count));
    add_smeared(sensor::under_pattern(profile, pattern), light.first, length, buffers.ramp, buffers.all);
}

const sensor::Pose& MovingScene::pose_of(std::span<const ExposureSlice> looks, const detector::Timing& timing,
                                         Buffers& buffers, std::size_t place) const {
    buffers.speckle.resize(materials_.size());
    buffers.found.resize(materials_.size() + segments_.size());
    buffers.share.assign(materials_.size(), 0.0);
    const auto pixels = static_cast<std::size_t>(setup_.scenario.detector.pixels);
    buffers.all.clear(pixels);
    for (const ExposureSlice& look : looks) buffers.share[look.material] += look.weight;
    double ambient_rate = 0.0;
    DarkBound bound{std::numeric_limits<double>::infinity(), 0.0};
    buffers.backgrounds.clear();
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        if (buffers.share[m] <= 0.0) continue;
        const double lamps = materials_[m].ambient_rate - materials_[m].glow_rate;
        ambient_rate += buffers.share[m] * (materials_[m].ambient_rate + lamps * (buffers.flicker - 1.0));
        bound.join(add_background(materials_[m], timing.exposure, buffers.share[m], buffers));
    }
    const std::array<std::size_t, 2> window =
        buffers.whole ? std::array<std::size_t, 2>{0, pixels} : window_of(looks, bound, timing.exposure, buffers);
    buffers.all.from = window[0];
    buffers.all.to = window[1];
    const bool done = looks.size() == 1 && put_only_look(looks.front(), buffers);
    for (std::size_t i = 0; i < looks.size() && !done;) {
        std::size_t alike = 0;
        while (i + alike < looks.size() && is_equivalent(looks[i + alike], looks[i])) ++alike;
        add_look(looks[i], alike, looks.subspan(i), buffers);
        i += alike;
    }
    if (!done) cut_off_undershoots(buffers.all);
    return buffers.frames[place].expose(setup_, buffers.all.rate, window, ambient_rate, timing, buffers.backgrounds);
}

// Pixels on which any look is bright enough to matter. Their mean over the looks can be no brighter.
std::array<std::size_t, 2> MovingScene::window_of(std::span<const ExposureSlice> looks, const DarkBound& bound,
                                                  double exposure, Buffers& buffers) const {
    const auto count = static_cast<std::int64_t>(setup_.scenario.detector.pixels);
    // Readings of one exposure have the same bound, and to find its light takes long.
    if (bound.margin != buffers.bound.margin || bound.variance != buffers.bound.variance) {
        buffers.bound = bound;
        buffers.min_light = bound.min_light();
    }
    const double least = buffers.min_light / exposure / brightest_response_;
    if (!(least > 0.0)) return {0, static_cast<std::size_t>(count)};
    std::array<std::int64_t, 2> pixels{count, 0};
    std::array<std::int64_t, 2> any{count, 0};
    for (const ExposureSlice& look : looks) {
        const Material& material = materials_[look.material];
        LightTable::Found& found = buffers.found[table_index(look)];
        light_of(look).reach(look.glide, least / material.brightening, found, pixels);
    }
    if (pixels[0] < pixels[1]) return MovingFrame::window_of(pixels, static_cast<std::size_t>(count));
    // Nothing will be found; where it is brightest is still looked at.
    for (const ExposureSlice& look : looks) {
        if (!look.glide.cell) continue;
        const double u = 0.5 * (look.glide.u_first + look.glide.u_last) / setup_.instrument.receiver.pitch;
        const auto k = static_cast<std::int64_t>(std::floor(u + 0.5 * static_cast<double>(count)));
        any = {k, k + 1};
        break;
    }
    return MovingFrame::window_of(any, static_cast<std::size_t>(count));
}

}  // namespace spotwright::measure
