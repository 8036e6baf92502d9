#include "sim/measure/moving_scene.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>

#include "sim/base/constants.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/image.hpp"
#include "sim/target/surface.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

namespace {

using Eigen::Vector2d;

sensor::TriangulationSetup with_material(sensor::TriangulationSetup setup, const scenario::Material& material) {
    setup.scenario.target.made_of = material;
    return setup;
}

double height_of(const scenario::Segments& segments, std::size_t piece) {
    return segments.height.empty() ? 0.0 : segments.height[piece];
}

// Readings' looks under the coherent model's patterns, at most.
std::int64_t patterns_asked_for(const scenario::Scenario& s, double radius) {
    const bool fixed = s.exposure.mode == scenario::ExposureMode::fixed;
    const double exposure = fixed ? s.exposure.exposure : std::max(s.exposure.period[1], s.exposure.exposure);
    double speed = std::hypot(s.motion.across[0], s.motion.across[1]);
    speed += std::abs(s.motion.rotation) * 2.0 * base::pi * s.target.cylinder.radius;
    const scenario::MotionPath& path = s.motion.places;
    double on_path = 0.0;
    for (std::size_t i = 1; i < path.time.size(); ++i) {
        on_path = std::max(on_path, std::abs(path.across[i] - path.across[i - 1]) / (path.time[i] - path.time[i - 1]));
    }
    const double steps = (speed + on_path) * exposure / (0.25 * radius);
    constexpr double most = 64.0;  // see Fineness::surfaces; halves are not always whole ones
    return s.run.readings * static_cast<std::int64_t>(std::clamp(std::ceil(2.0 * steps), 1.0, most));
}

}  // namespace

MovingScene::Material::Material(const sensor::TriangulationSetup& of, const MovedPart& part)
    : setup(of), light(setup, part) {
    const scenario::Scenario& s = setup.scenario;
    const double matt = target::matt_reflectance(part.prototype(), sensor::surface_of(s));
    ambient_rate = sensor::ambient_rate(s, setup.instrument.receiver, matt);
}

MovingScene::MovingScene(const sensor::TriangulationSetup& setup, double duration, double factor)
    : setup_(setup), part_(setup.scenario, setup.instrument.beam), course_(setup.scenario) {
    const scenario::Scenario& s = setup.scenario;
    if (s.run.model == scenario::LightModel::ray) {
        scenario::reject(s, "run.model", "the ray model follows the light of a part of one piece that stands still",
                         "spot");
    }
    const double along = emitter::travelled(setup.instrument.beam, part_.lit(part_state_at(s, 0.0).along));
    radius_ = std::max(emitter::radius_at(setup.instrument.beam, 0, along),
                       emitter::radius_at(setup.instrument.beam, 1, along));
    moves_ = moves(s);
    std::map<std::string, std::size_t> known;
    for (std::size_t i = 0; i < s.target.segments.made_of.size(); ++i) {
        const auto [entry, is_new] = known.try_emplace(s.target.segments.material[i], materials_.size());
        if (is_new) add_material(s.target.segments.made_of[i], duration);
        of_piece_.push_back(entry->second);
    }
    if (s.target.segments.made_of.empty()) {
        add_material(s.target.made_of, duration);
    } else {
        borders_.emplace(s.target.segments, radius_);
    }
    Fineness fineness;
    fineness.factor = factor;
    fineness.most = s.motion.sub_exposures;
    for (const Material& material : materials_) {
        if (!material.speckle) continue;
        const double step = material.speckle->surface_step();
        fineness.surface_step = fineness.surface_step > 0.0 ? std::min(fineness.surface_step, step) : step;
    }
    for (std::size_t m = 0; m < materials_.size(); ++m) materials_[m].brightening = brightening(m);
    const std::vector<float>& response = setup.instrument.pattern.response;
    brightest_response_ = static_cast<double>(*std::max_element(response.begin(), response.end()));
    divider_.emplace(s, course_, part_, materials_.front().light, borders_ ? &*borders_ : nullptr, radius_, fineness);
}

void MovingScene::add_material(const scenario::Material& material, double duration) {
    Material& added = materials_.emplace_back(with_material(setup_, material), part_);
    const scenario::Scenario& s = added.setup.scenario;
    // A part that comes into the range later speckles as well.
    const double along = std::clamp(part_state_at(s, 0.0).along, s.mount.range[0], s.mount.range[1]);
    const receiver::Profile light =
        receiver::image(added.setup.instrument.beam, sensor::part_of(s, along), sensor::surface_of(s),
                        added.setup.instrument.receiver, added.setup.instrument.edge_spread,
                        s.detector.quantum_efficiency, {}, added.setup.walk ? &*added.setup.walk : nullptr);
    auto speckle = make_speckle(added.setup, along, light);
    if (!speckle) return;
    added.speckle.emplace(s, std::move(*speckle), duration, patterns_asked_for(s, radius_));
    added.speckle_image = added.light.spot_of({along, part_.offset_at({})});
}

Moment MovingScene::moment_of(double begin, const detector::Timing& timing) const {
    const scenario::Scenario& s = setup_.scenario;
    const scenario::Segments& segments = s.target.segments;
    Moment moment;
    moment.time = begin + 0.5 * timing.exposure;
    moment.exposure = timing.exposure;
    moment.period = timing.period;
    const PartState place = course_.at(moment.time);
    moment.way = place.way - segments.start;
    moment.turned = place.turned;
    const bool parallel = s.target.shape == scenario::ShapeKind::step
                              ? s.target.step.edge == scenario::Direction::parallel
                              : s.target.cylinder.axis == scenario::Direction::parallel;
    moment.across = parallel ? place.across.y() : place.across.x();
    moment.smear = std::abs(course_.at(begin + timing.exposure).along - course_.at(begin).along);
    double height = 0.0;
    if (!of_piece_.empty()) {
        const std::size_t piece = piece_at(segments, place.way);
        moment.piece = static_cast<std::int64_t>(piece);
        height = height_of(segments, piece);
    }
    moment.truth = part_.lit_displacement(place.along - height, part_.offset_at(place))
                       .value_or(std::numeric_limits<double>::quiet_NaN());
    return moment;
}

void MovingScene::Looks::clear() {
    all.clear();
    end.clear();
}

std::span<const ExposureSlice> MovingScene::Looks::of(std::size_t reading) const {
    const std::size_t begin = reading == 0 ? 0 : end[reading - 1];
    return std::span(all).subspan(begin, end[reading] - begin);
}

// The place that stands for the stretch is Simpson's mean, and so is the middle of its image.
void MovingScene::look_at(const Interval& stretch, std::size_t material, double height, double weight,
                          Looks& looks) const {
    const Material& of = materials_[material];
    const auto mean = [](const auto& a, const auto& b, const auto& c) { return (a + 4.0 * b + c) / 6.0; };
    const auto stand_at = [&](const PartState& place) {
        return PartPose{place.along - height, part_.offset_at(place)};
    };
    const PartPose begin = stand_at(stretch.begin);
    const PartPose middle = stand_at(stretch.middle);
    const PartPose end = stand_at(stretch.end);
    ExposureSlice look;
    look.material = material;
    look.weight = weight;
    look.glide.stand = {mean(begin.along, middle.along, end.along), middle.offset};
    const double u_middle = of.light.image_or_end(middle);
    const double u_begin = of.light.image_or_end(begin);
    const double u_end = of.light.image_or_end(end);
    const double u = mean(u_begin, u_middle, u_end);
    look.glide.u_first = u - 0.5 * (u_end - u_begin);
    look.glide.u_last = u + 0.5 * (u_end - u_begin);
    look.glide.cell = of.light.cell_of(look.glide.stand);
    if (of.speckle) {
        look.speckle = of.speckle->mix_at(stretch.middle);
        look.speckle_share = of.speckle->unseen_share((stretch.end.passed - stretch.begin.passed).norm());
        // On edges images are aligned at the reference surface; the spot itself lies elsewhere.
        const auto spot = of.light.spot_at(middle, u);
        if (spot && of.speckle_image)
            look.pixels = std::llround((*spot - *of.speckle_image) / setup_.instrument.receiver.pitch);
    }
    looks.all.push_back(look);
}

bool MovingScene::look(double begin, double exposure, ExposureDivider::Division& division, Looks& looks) const {
    const scenario::Segments& segments = setup_.scenario.target.segments;
    division.followed = true;
    if (moves_) {
        divider_->divide(begin, exposure, division);
    } else {
        const PartState place = course_.at(begin + 0.5 * exposure);
        division.stretches.assign(1, {1.0, place, place, place});
    }
    for (const Interval& stretch : division.stretches) {
        if (of_piece_.empty()) {
            look_at(stretch, 0, 0.0, stretch.weight, looks);
            continue;
        }
        if (const auto piece = borders_->alone(stretch.middle.way)) {
            look_at(stretch, of_piece_[*piece], height_of(segments, *piece), stretch.weight, looks);
            continue;
        }
        for (const PieceShare& lit : lit_segments(segments, stretch.middle.way, radius_)) {
            look_at(stretch, of_piece_[lit.piece], height_of(segments, lit.piece), stretch.weight * lit.share, looks);
        }
    }
    looks.end.push_back(looks.all.size());
    return division.followed;
}

MovingScene::Looks MovingScene::looks_of(double begin, double exposure) const {
    ExposureDivider::Division division;
    Looks looks;
    look(begin, exposure, division, looks);
    return looks;
}

void MovingScene::prepare(std::span<const Looks> looks, double exposure, int threads) {
    std::vector<LightTable::Wanted> wanted(materials_.size());
    std::vector<std::vector<SpeckleAlong::Mix>> mixes(materials_.size());
    for (const Looks& some : looks) {
        for (const ExposureSlice& look : some.all) {
            const Material& of = materials_[look.material];
            if (look.glide.cell) of.light.want(*look.glide.cell, wanted[look.material]);
            if (of.speckle) mixes[look.material].push_back(look.speckle);
        }
    }
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        Material& material = materials_[m];
        material.light.make(wanted[m].nodes, threads);
        if (material.speckle) material.speckle->make(mixes[m], threads);
        for (const double at : background_exposures(exposure)) {
            if (material.dark.count(at) > 0) continue;
            material.dark.emplace(at, make_dark_frame(material.setup, material.ambient_rate, at));
        }
    }
}

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

// By what factor speckle may brighten a pixel, but for a chance of 1e-12 by the law of its intensity.
double MovingScene::brightening(std::size_t material) const {
    const auto& speckle = materials_[material].speckle;
    if (!speckle) return 1.0;
    constexpr double deviations = 7.2;
    const receiver::CubeRoot& root = speckle->speckle().field.cube_root;
    const double brightest = std::pow(root.mean + deviations * root.deviation, 3.0);
    // Fields of mirrored light and of scattered light add.
    return 2.0 * std::max(1.0, brightest);
}

namespace {

bool is_equivalent(const ExposureSlice& a, const ExposureSlice& b) {
    return a.material == b.material && a.pixels == b.pixels && a.glide.stand.along == b.glide.stand.along &&
           a.glide.stand.offset == b.glide.stand.offset && a.glide.u_first == b.glide.u_first &&
           a.glide.u_last == b.glide.u_last;
}

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
    constexpr double next_to_nothing = 0.25;  // px: it widens an image by 1/200 pixel
    const auto begin = static_cast<std::ptrdiff_t>(first);
    const auto count = static_cast<std::ptrdiff_t>(rate.size());
    const auto asked_from = static_cast<std::ptrdiff_t>(sum.from);
    const auto asked_to = static_cast<std::ptrdiff_t>(std::min(sum.to, sum.rate.size()));
    if (length < next_to_nothing) {
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

// Adds looks at the same light, of which speckle alone is different.
void MovingScene::add_look(const ExposureSlice& first, std::size_t alike, std::span<const ExposureSlice> looks,
                           Buffers& buffers) const {
    const Material& material = materials_[first.material];
    LightTable::Found& found = buffers.found[first.material];
    double weight = 0.0;
    for (const ExposureSlice& look : looks.first(alike)) weight += look.weight;
    if (!material.speckle) {
        material.light.add(first.glide, weight, found, buffers.all);
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
    material.light.add({first.glide.stand, u, u, first.glide.cell}, weight, found, light);
    if (light.first >= light.last) return;
    cut_off_undershoots(light);
    receiver::SpecklePattern& pattern = buffers.pattern;
    const std::size_t count = light.last - light.first;
    pattern.first = 0;
    pattern.intensity.assign(count, 0.0F);
    pattern.field.clear();
    for (const ExposureSlice& look : looks.first(alike)) {
        const auto share = static_cast<float>(look.weight / weight * look.speckle_share);
        material.speckle->add(look.speckle, look.pixels, share, light.first, light.last, buffers.speckle[look.material],
                              pattern);
        const auto even = static_cast<float>(look.weight / weight * (1.0 - look.speckle_share));
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
                                         Buffers& buffers) const {
    buffers.speckle.resize(materials_.size());
    buffers.found.resize(materials_.size());
    buffers.share.assign(materials_.size(), 0.0);
    const auto pixels = static_cast<std::size_t>(setup_.scenario.detector.pixels);
    buffers.all.clear(pixels);
    for (const ExposureSlice& look : looks) buffers.share[look.material] += look.weight;
    double ambient_rate = 0.0;
    DarkBound bound{std::numeric_limits<double>::infinity(), 0.0};
    buffers.backgrounds.clear();
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        if (buffers.share[m] <= 0.0) continue;
        ambient_rate += buffers.share[m] * materials_[m].ambient_rate;
        bound.join(add_background(materials_[m], timing.exposure, buffers.share[m], buffers));
    }
    const std::array<std::size_t, 2> window =
        buffers.whole ? std::array<std::size_t, 2>{0, pixels} : window_of(looks, bound, timing.exposure, buffers);
    buffers.all.from = window[0];
    buffers.all.to = window[1];
    for (std::size_t i = 0; i < looks.size();) {
        std::size_t alike = 0;
        while (i + alike < looks.size() && is_equivalent(looks[i + alike], looks[i])) ++alike;
        add_look(looks[i], alike, looks.subspan(i), buffers);
        i += alike;
    }
    cut_off_undershoots(buffers.all);
    return buffers.frame.expose(setup_, buffers.all.rate, window, ambient_rate, timing, buffers.backgrounds);
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
        LightTable::Found& found = buffers.found[look.material];
        material.light.reach(look.glide, least / material.brightening, found, pixels);
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

detector::Timing MovingScene::settled_timing(int threads) {
    const scenario::Scenario& s = setup_.scenario;
    const std::vector<Looks> looks{looks_of(0.0, s.exposure.exposure)};
    prepare(looks, s.exposure.exposure, threads);
    Buffers buffers;
    buffers.whole = true;
    const sensor::Pose& pose = pose_of(looks.front().of(0), {s.exposure.exposure, s.exposure.period[0]}, buffers);
    const double brightest = static_cast<double>(*std::max_element(pose.profile.rate.begin(), pose.profile.rate.end()));
    const double dark = detector::dark_current_at(s.detector, s.surroundings.temperature);
    return detector::settled_timing(s.exposure, s.detector.full_well, brightest + pose.ambient_rate + dark);
}

}  // namespace spotwright::measure
