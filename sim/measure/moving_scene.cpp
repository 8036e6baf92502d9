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
    if (setup.scenario.target.made_of == material) return setup;
    setup.scenario.target.made_of = material;
    setup.walk = sensor::make_walk(setup);
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
    const auto around = sensor::ambient_rates(s, setup.instrument.receiver, setup.instrument.beam, part.prototype());
    ambient_rate = around.both();
    glow_rate = around.glow;
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
        for (std::size_t i = 0; i < of_piece_.size(); ++i) {
            segments_.emplace_back(materials_[of_piece_[i]], part_.only(s.target.segments, i));
        }
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
    ExposureDivider::Division division;
    Looks looks;
    look(begin, timing.exposure, division, looks);
    return moment_of(begin, timing, division);
}

// The ends of the exposure are those of its stretches, and so is its middle where there is one stretch.
Moment MovingScene::moment_of(double begin, const detector::Timing& timing,
                              const ExposureDivider::Division& division) const {
    return moment_of(begin, timing, division.stretches, division.followed);
}

Moment MovingScene::moment_of(double begin, const detector::Timing& timing, std::span<const Interval> stretches,
                              bool followed) const {
    const scenario::Scenario& s = setup_.scenario;
    const scenario::Segments& segments = s.target.segments;
    Moment moment;
    moment.time = begin + 0.5 * timing.exposure;
    moment.exposure = timing.exposure;
    moment.period = timing.period;
    moment.followed = followed;
    const bool whole = stretches.size() == 1;
    const PartState place = whole ? stretches.front().middle : course_.at(moment.time);
    moment.way = place.way - segments.start;
    moment.turned = place.turned;
    const bool parallel = s.target.shape == scenario::ShapeKind::step
                              ? s.target.step.edge == scenario::Direction::parallel
                              : s.target.cylinder.axis == scenario::Direction::parallel;
    moment.across = parallel ? place.across.y() : place.across.x();
    moment.smear = std::abs(stretches.back().end.along - stretches.front().begin.along);
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
std::size_t MovingScene::table_index(const ExposureSlice& slice) const {
    return slice.segment ? materials_.size() + *slice.segment : slice.material;
}

const LightTable& MovingScene::light_of(const ExposureSlice& slice) const {
    return slice.segment ? segments_[*slice.segment].light : materials_[slice.material].light;
}

void MovingScene::look_at(const Interval& stretch, std::size_t material, double height, double share,
                          std::optional<std::size_t> segment, Looks& looks) const {
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
    look.segment = segment;
    look.weight = share * stretch.weight;
    look.image_weight = stretch.weight;
    look.glide.stand = {mean(begin.along, middle.along, end.along), middle.offset};
    // All materials are the same shape under the same sensor.
    const auto image_at = [&](const PartPose& stand, std::size_t place) {
        return moves_ && height == 0.0 ? stretch.image[place] : of.light.image_or_end(stand);
    };
    const double u_begin = image_at(begin, 0);
    const double u_middle = image_at(middle, 1);
    const double u_end = image_at(end, 2);
    const double u = mean(u_begin, u_middle, u_end);
    look.glide.u_first = u - 0.5 * (u_end - u_begin);
    look.glide.u_last = u + 0.5 * (u_end - u_begin);
    if (segment) look.glide.stand.offset = {stretch.middle.way, 0.0};
    look.glide.cell = light_of(look).cell_of(look.glide.stand);
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

double MovingScene::flicker_of(const Moment& moment) const {
    return receiver::flicker_factor(setup_.scenario.surroundings, moment.time - 0.5 * moment.exposure, moment.exposure);
}

void MovingScene::look(double begin, double exposure, ExposureDivider::Division& division, Looks& looks) const {
    const scenario::Segments& segments = setup_.scenario.target.segments;
    division.followed = true;
    if (moves_) {
        divider_->divide(begin, exposure, division);
    } else {
        const PartState place = course_.at(begin + 0.5 * exposure);
        division.stretches.assign(1, {1.0, place, place, place, {}});
    }
    for (const Interval& stretch : division.stretches) {
        if (of_piece_.empty()) {
            look_at(stretch, 0, 0.0, 1.0, std::nullopt, looks);
            continue;
        }
        if (const auto piece = borders_->alone(stretch.middle.way)) {
            look_at(stretch, of_piece_[*piece], height_of(segments, *piece), 1.0, std::nullopt, looks);
            continue;
        }
        for (const PieceShare& lit : lit_segments(segments, stretch.middle.way, radius_)) {
            look_at(stretch, of_piece_[lit.piece], height_of(segments, lit.piece), lit.share, lit.piece, looks);
        }
    }
    looks.end.push_back(looks.all.size());
}

void MovingScene::look(std::span<const double> begins, const detector::Timing& timing, Buffers& buffers, Looks& looks,
                       std::span<Moment> moments) const {
    ExposureDivider::Together& together = buffers.together;
    const bool plainly = moves_ && of_piece_.empty() && divider_->take_whole(begins, timing.exposure, together);
    for (std::size_t i = 0; i < begins.size(); ++i) {
        if (plainly && together.whole[i]) {
            look_at(together.stretch[i], 0, 0.0, 1.0, std::nullopt, looks);
            looks.end.push_back(looks.all.size());
            moments[i] = moment_of(begins[i], timing, std::span(together.stretch).subspan(i, 1), true);
            continue;
        }
        look(begins[i], timing.exposure, buffers.division, looks);
        moments[i] = moment_of(begins[i], timing, buffers.division);
    }
}

MovingScene::Looks MovingScene::looks_of(double begin, double exposure) const {
    ExposureDivider::Division division;
    Looks looks;
    look(begin, exposure, division, looks);
    return looks;
}

void MovingScene::prepare(std::span<const Looks> looks, double exposure, int threads) {
    std::vector<LightTable::Wanted> wanted(materials_.size() + segments_.size());
    std::vector<std::vector<SpeckleAlong::Mix>> mixes(materials_.size());
    for (const Looks& some : looks) {
        for (const ExposureSlice& look : some.all) {
            const Material& of = materials_[look.material];
            if (look.glide.cell) light_of(look).want(*look.glide.cell, wanted[table_index(look)]);
            // Neighbours often have the same patterns.
            if (!of.speckle || !of.speckle->speckle().plan) continue;
            std::vector<SpeckleAlong::Mix>& known = mixes[look.material];
            if (known.empty() || known.back().count != look.speckle.count || known.back().node != look.speckle.node) {
                known.push_back(look.speckle);
            }
        }
    }
    for (std::size_t i = 0; i < segments_.size(); ++i) {
        segments_[i].light.make(wanted[materials_.size() + i].nodes, threads);
    }
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        Material& material = materials_[m];
        material.light.make(wanted[m].nodes, threads);
        if (material.speckle) material.speckle->make(mixes[m], threads);
        for (const double at : background_exposures(exposure)) {
            if (material.dark.count(at) > 0) continue;
            const double flicker = std::abs(receiver::flicker_amplitude(setup_.scenario.surroundings, at));
            const double brightest = material.ambient_rate + flicker * (material.ambient_rate - material.glow_rate);
            material.dark.emplace(at, make_dark_frame(material.setup, material.ambient_rate, brightest, at));
        }
    }
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

detector::Timing MovingScene::settled_timing(int threads) {
    const scenario::Scenario& s = setup_.scenario;
    const std::vector<Looks> looks{looks_of(0.0, s.exposure.exposure)};
    prepare(looks, s.exposure.exposure, threads);
    Buffers buffers;
    buffers.whole = true;
    const sensor::Pose& pose = pose_of(looks.front().of(0), {s.exposure.exposure, s.exposure.period[0]}, buffers);
    const double brightest = static_cast<double>(*std::max_element(pose.profile.rate.begin(), pose.profile.rate.end()));
    const double dark = detector::dark_current_at(s.detector, scenario::sensor_temperature(s));
    return detector::settled_timing(s.exposure, s.detector.full_well, brightest + pose.ambient_rate + dark);
}

}  // namespace spotwright::measure
