#include "sim/study/moving_scene.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>

#include "sim/receiver/ambient.hpp"
#include "sim/receiver/image.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::study {

namespace {

using Eigen::Vector2d;

Instrument with_material(Instrument instrument, const scenario::Material& material) {
    instrument.scenario.material = material;
    return instrument;
}

double height_of(const scenario::Segments& segments, std::size_t piece) {
    return segments.height.empty() ? 0.0 : segments.height[piece];
}

// Extent of some values.
class Extent {
public:
    void add(double value) {
        least_ = std::min(least_, value);
        greatest_ = std::max(greatest_, value);
    }
    [[nodiscard]] double size() const { return greatest_ - least_; }

private:
    double least_ = std::numeric_limits<double>::infinity();
    double greatest_ = -std::numeric_limits<double>::infinity();
};

// Places at the middles of equal parts of an exposure; one where the part hardly moves.
std::vector<PartPlace> places_during(const scenario::Scenario& s, double begin, double exposure, double radius) {
    const auto parts = static_cast<std::size_t>(moves(s) ? s.motion.sub_exposures : 1);
    std::vector<PartPlace> places;
    Extent along;
    Extent x;
    Extent y;
    for (std::size_t k = 0; k < parts; ++k) {
        const double share = (static_cast<double>(k) + 0.5) / static_cast<double>(parts);
        places.push_back(place_at(s, begin + share * exposure));
        along.add(places.back().along);
        x.add(places.back().passed.x());
        y.add(places.back().passed.y());
    }
    constexpr double next_to_nothing = 50e-9;  // m; it widens the image by less than a thousandth of a pixel
    const bool rests = along.size() < next_to_nothing && std::max(x.size(), y.size()) < radius / 50.0;
    if (parts > 1 && rests) return {place_at(s, begin + 0.5 * exposure)};
    return places;
}

}  // namespace

MovingScene::Material::Material(const Instrument& of, const MovedPart& part) : instrument(of), light(instrument, part) {
    const scenario::Scenario& s = instrument.scenario;
    const double matt = target::matt_reflectance(part.prototype(), target::surface_of(s));
    ambient_rate = receiver::ambient_rate(s, instrument.receiver, matt);
}

MovingScene::MovingScene(const Instrument& instrument, double duration)
    : instrument_(instrument), part_(instrument.scenario) {
    const scenario::Scenario& s = instrument.scenario;
    if (s.run.model == scenario::LightModel::ray) {
        scenario::reject(s, "run.model", "the ray model follows the light of a part of one piece that stands still",
                         "spot");
    }
    const double along = emitter::travelled(instrument.beam, part_.lit(place_at(s, 0.0).along));
    radius_ = std::max(emitter::radius_at(instrument.beam, 0, along), emitter::radius_at(instrument.beam, 1, along));
    if (s.segment_materials.empty()) {
        add_material(s.material, duration);
        return;
    }
    std::map<std::string, std::size_t> known;
    for (std::size_t i = 0; i < s.segment_materials.size(); ++i) {
        const auto [entry, is_new] = known.try_emplace(s.target.segments.material[i], materials_.size());
        if (is_new) add_material(s.segment_materials[i], duration);
        of_piece_.push_back(entry->second);
    }
}

void MovingScene::add_material(const scenario::Material& material, double duration) {
    Material& added = materials_.emplace_back(with_material(instrument_, material), part_);
    const scenario::Scenario& s = added.instrument.scenario;
    // A part that comes into the range later speckles as well.
    const double along = std::clamp(place_at(s, 0.0).along, s.mount.range[0], s.mount.range[1]);
    const receiver::Profile light =
        receiver::image(added.instrument.beam, target::make_part(s, along), target::surface_of(s),
                        added.instrument.receiver, added.instrument.edge_spread, s.detector.quantum_efficiency);
    auto speckle = make_speckle(added.instrument, along, light);
    if (!speckle) return;
    const std::int64_t lookups = s.run.readings * s.motion.sub_exposures;
    added.speckle.emplace(s, std::move(*speckle), duration, lookups);
    added.speckle_image = added.light.spot_of({along, part_.offset_at({})});
}

std::size_t MovingScene::material_at(double way) const {
    return of_piece_.empty() ? 0 : of_piece_[piece_at(instrument_.scenario.target.segments, way)];
}

Moment MovingScene::moment_of(double begin, const detector::Timing& timing) const {
    const scenario::Scenario& s = instrument_.scenario;
    const scenario::Segments& segments = s.target.segments;
    Moment moment;
    moment.time = begin + 0.5 * timing.exposure;
    moment.exposure = timing.exposure;
    moment.period = timing.period;
    const PartPlace place = place_at(s, moment.time);
    moment.way = place.way - segments.start;
    moment.turned = place.turned;
    const bool parallel = s.target.shape == scenario::ShapeKind::step
                              ? s.target.step.edge == scenario::Direction::parallel
                              : s.target.cylinder.axis == scenario::Direction::parallel;
    moment.across = parallel ? place.across.y() : place.across.x();
    moment.smear = std::abs(place_at(s, begin + timing.exposure).along - place_at(s, begin).along);
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

std::vector<Look> MovingScene::looks_of(double begin, double exposure) const {
    const scenario::Scenario& s = instrument_.scenario;
    const scenario::Segments& segments = s.target.segments;
    const std::vector<PartPlace> places = places_during(s, begin, exposure, radius_);
    const double each = 1.0 / static_cast<double>(places.size());
    std::vector<Look> looks;
    const auto look_at = [&](const PartPlace& place, std::size_t material, double height, double weight) {
        Look look{material, weight, {place.along - height, part_.offset_at(place)}, {}, 0};
        const Material& of = materials_[material];
        if (of.speckle) {
            look.speckle = of.speckle->mix_at(place);
            const auto u = of.light.spot_of(look.stand);
            if (u && of.speckle_image)
                look.pixels = std::llround((*u - *of.speckle_image) / of.instrument.receiver.pitch);
        }
        looks.push_back(look);
    };
    for (const PartPlace& place : places) {
        if (of_piece_.empty()) {
            look_at(place, 0, 0.0, each);
            continue;
        }
        for (const PieceShare& lit : lit_pieces(segments, place.way, radius_)) {
            look_at(place, of_piece_[lit.piece], height_of(segments, lit.piece), each * lit.share);
        }
    }
    return looks;
}

void MovingScene::prepare(std::span<const std::vector<Look>> readings, double exposure, int threads) {
    std::vector<std::vector<LightTable::Node>> nodes(materials_.size());
    std::vector<std::vector<SpeckleAlong::Mix>> mixes(materials_.size());
    for (const std::vector<Look>& looks : readings) {
        for (const Look& look : looks) {
            for (const LightTable::Weighted& each : materials_[look.material].light.nodes_of(look.stand)) {
                nodes[look.material].push_back(each.node);
            }
            mixes[look.material].push_back(look.speckle);
        }
    }
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        Material& material = materials_[m];
        material.light.make(nodes[m], threads);
        if (material.speckle) material.speckle->make(mixes[m], threads);
        for (const double at : background_exposures(exposure)) {
            if (material.background.count(at) > 0) continue;
            material.background[at] = measure_background(material.instrument, material.ambient_rate, at);
        }
    }
}

// Exposures at which the background is measured for this one. A fixed exposure has its own; an automatic one lies
// between two of a scale of which each is a quarter longer than the one before.
std::array<double, 2> MovingScene::background_exposures(double exposure) const {
    const scenario::Exposure& e = instrument_.scenario.exposure;
    if (e.mode == scenario::ExposureMode::fixed) return {exposure, exposure};
    constexpr double quarter_longer = 1.25;
    const double step = std::floor(std::log(exposure / e.exposure) / std::log(quarter_longer));
    return {e.exposure * std::pow(quarter_longer, step), e.exposure * std::pow(quarter_longer, step + 1.0)};
}

std::vector<float> MovingScene::background_of(const Material& material, double exposure) const {
    const auto [shorter, longer] = background_exposures(exposure);
    std::vector<float> background = material.background.at(shorter);
    if (longer <= shorter) return background;
    const std::vector<float>& other = material.background.at(longer);
    const auto share = static_cast<float>((exposure - shorter) / (longer - shorter));
    for (std::size_t k = 0; k < background.size(); ++k) background[k] += share * (other[k] - background[k]);
    return background;
}

namespace {

// Adds light, under its speckle where it has one.
void add_speckled(const LightSum& light, const receiver::SpecklePattern* pattern, std::vector<float>& sum) {
    if (pattern == nullptr) {
        for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += light.rate[k];
        return;
    }
    receiver::Profile profile;
    profile.rate = light.rate;
    profile.mirrored = light.mirrored;
    const std::vector<float> speckled = under_pattern(profile, *pattern);
    for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += speckled[k];
}

bool under_one_pattern(const Look& a, const Look& b) {
    return a.material == b.material && a.pixels == b.pixels && a.speckle.first == b.speckle.first &&
           a.speckle.second == b.speckle.second && a.speckle.angle == b.speckle.angle;
}

}  // namespace

Pose MovingScene::pose_of(const std::vector<Look>& looks, const detector::Timing& timing, Buffers& buffers) const {
    buffers.speckle.resize(materials_.size());
    const auto pixels = static_cast<std::size_t>(instrument_.scenario.detector.pixels);
    Pose pose;
    pose.timing = timing;
    pose.profile.rate.assign(pixels, 0.0F);
    std::vector<double> share(materials_.size(), 0.0);
    for (std::size_t i = 0; i < looks.size();) {
        const Look& first = looks[i];
        const Material& material = materials_[first.material];
        LightSum light{std::vector<float>(pixels, 0.0F), {}};
        for (; i < looks.size() && under_one_pattern(looks[i], first); ++i) {
            material.light.add(looks[i].stand, looks[i].weight, light);
            share[first.material] += looks[i].weight;
        }
        // The cubic undershoots next to sharp edges of light.
        for (float& rate : light.rate) rate = std::max(rate, 0.0F);
        for (std::size_t k = 0; k < light.mirrored.size(); ++k) {
            light.mirrored[k] = std::clamp(light.mirrored[k], 0.0F, light.rate[k]);
        }
        const receiver::SpecklePattern* pattern = nullptr;
        if (material.speckle) {
            pattern = &material.speckle->pattern(first.speckle, first.pixels, buffers.speckle[first.material]);
        }
        add_speckled(light, pattern, pose.profile.rate);
    }
    for (std::size_t m = 0; m < materials_.size(); ++m) {
        if (share[m] <= 0.0) continue;
        pose.ambient_rate += share[m] * materials_[m].ambient_rate;
        const std::vector<float> background = background_of(materials_[m], timing.exposure);
        pose.background.resize(background.size(), 0.0F);
        const auto weight = static_cast<float>(share[m]);
        for (std::size_t k = 0; k < background.size(); ++k) pose.background[k] += weight * background[k];
    }
    expose_pose(instrument_, pose);
    return pose;
}

detector::Timing MovingScene::settled_timing(int threads) {
    const scenario::Scenario& s = instrument_.scenario;
    const std::vector<std::vector<Look>> looks{looks_of(0.0, s.exposure.exposure)};
    prepare(looks, s.exposure.exposure, threads);
    Buffers buffers;
    const Pose pose = pose_of(looks.front(), {s.exposure.exposure, s.exposure.period[0]}, buffers);
    const double brightest = static_cast<double>(*std::max_element(pose.profile.rate.begin(), pose.profile.rate.end()));
    const double dark = detector::dark_current_at(s.detector, s.surroundings.temperature);
    return detector::settled_timing(s.exposure, s.detector.full_well, brightest + pose.ambient_rate + dark);
}

}  // namespace spotwright::study
