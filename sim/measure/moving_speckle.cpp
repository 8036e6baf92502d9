#include "sim/measure/moving_speckle.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"

namespace spotwright::measure {

namespace {

using base::pi, Eigen::Vector2d;

// The way that most of the surface passes under the beam.
Vector2d passing(const scenario::Scenario& s) {
    Vector2d way(s.motion.across[0], s.motion.across[1]);
    const double turns = s.motion.rotation * 2.0 * pi * s.target.cylinder.radius;
    way[s.target.cylinder.axis == scenario::Direction::across ? 0 : 1] += turns;
    const Vector2d direction = way.stableNormalized();
    return direction.isZero() ? Vector2d(1.0, 0.0) : direction;
}

// How far apart patterns of the coherent model may be along x or y, and how alike two such neighbours are. The surface
// carries its speckle over the array while it changes under the beam.
struct Spacing {
    double step;   // [m]
    double alike;  // correlation. [1]
};

Spacing spacing_of(const sensor::Speckle& speckle, std::size_t axis, double radius) {
    const receiver::SpeckleView& view = speckle.view;
    const double along_array = std::abs(axis == 0 ? view.du_dx : view.du_dy);
    const double across_array = axis == 0 ? 0.0 : std::abs(view.dv_dy);
    const double width = std::hypot(speckle.field.size, view.row.pitch);
    const double height = std::hypot(speckle.field.size, view.row.height);
    double step = radius / 8.0;
    if (along_array > 0.0) step = std::min(step, width / 5.0 / along_array);
    if (across_array > 0.0) step = std::min(step, height / 16.0 / across_array);
    const double changed = step / radius;
    const double gone = step * along_array / width;
    const double alike =
        std::exp(-changed * changed - 4.0 * std::log(2.0) * gone * gone) * (1.0 - step * across_array / height);
    return {step, alike};
}

// 1/e^2 radius of the footprint, that way.
double footprint_radius(const sensor::Speckle& speckle, const Vector2d& direction) {
    return 1.0 / std::sqrt(direction.dot(speckle.view.irradiance * direction));
}

// Ways that a run covers: steady motion, and what a path adds.
double covered(const scenario::Scenario& s, double duration) {
    double way = std::hypot(s.motion.across[0], s.motion.across[1]) * duration;
    const std::vector<double>& path = s.motion.places.across;
    for (std::size_t i = 1; i < path.size(); ++i) way += std::abs(path[i] - path[i - 1]);
    const double round = 2.0 * pi * s.target.cylinder.radius;
    return way + std::min(1.0, std::abs(s.motion.rotation) * duration) * (s.motion.rotation != 0.0 ? round : 0.0);
}

// Numbers of patterns along the way, none of which a patch of the still part has.
std::int64_t index_of(std::int64_t node) {
    constexpr std::int64_t beyond_patches = std::int64_t{1} << 32;
    if (node == 0) return 0;
    return beyond_patches + (node > 0 ? 2 * node : -2 * node - 1);
}

// Only the rotation carries the surface: it comes round.
bool comes_round(const scenario::Scenario& s) {
    scenario::Scenario still = s;
    still.motion.rotation = 0.0;
    return s.motion.rotation != 0.0 && !surface_passes(still);
}

// Numbers of places stay far from the ends of whole numbers; nobody tells patterns there apart.
double limited(double steps) {
    return std::clamp(steps, -1e15, 1e15);
}

std::int64_t folded(std::int64_t index, std::int64_t round) {
    return round > 0 ? (index % round + round) % round : index;
}

}  // namespace

SpeckleAlong::SpeckleAlong(const scenario::Scenario& s, sensor::Speckle speckle, double duration, std::int64_t lookups)
    : scenario_(s), speckle_(std::move(speckle)) {
    radius_ = footprint_radius(speckle_, passing(s));
    constexpr double affordable = 1e8;  // about a second of one core
    const double way = covered(s, duration);
    // A way between the axes of the lattice passes pairs of its places.
    const Vector2d direction = passing(s);
    const double abreast = direction.cwiseAbs().minCoeff() > 1e-3 ? 2.0 : 1.0;
    double per_way = 0.0;
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const Vector2d unit = axis == 0 ? Vector2d(1.0, 0.0) : Vector2d(0.0, 1.0);
        const auto [step, alike] = spacing_of(speckle_, axis, footprint_radius(speckle_, unit));
        step_[axis] = step;
        alike_[axis] = alike;
        per_way += std::abs(direction.dot(unit)) / step;
    }
    const double patterns = abreast * (std::min(way * per_way, 2.0 * static_cast<double>(lookups)) + 2.0);
    constexpr double farthest = 1e8;  // places of the lattice that can be told apart, and some to spare
    const bool too_far = speckle_.plan && way > farthest * speckle_.plan->grid.pitch;
    if (speckle_.plan && (too_far || patterns * work_of_pattern(speckle_) > affordable)) {
        speckle_.plan.reset();
        speckle_.model = scenario::SpeckleModel::statistical;
        speckle_.why_statistical = "so much surface passes that its patterns would take too long wave by wave";
    }
    const bool round = comes_round(s);
    const double circumference = 2.0 * pi * s.target.cylinder.radius;
    const auto fit = [&](double& step, std::int64_t& steps) {
        steps = std::max<std::int64_t>(1, std::llround(circumference / step));
        step = circumference / static_cast<double>(steps);
    };
    along_step_ = std::sqrt(pi) * pi * pi / 16.0 * radius_;
    if (round) fit(along_step_, along_round_);
    const std::size_t carries = s.target.cylinder.axis == scenario::Direction::across ? 0 : 1;
    if (round) fit(step_[carries], round_[carries]);
}

SpeckleAlong::Mix SpeckleAlong::mix_at(const PartState& place) const {
    Mix mix;
    const auto add = [&mix](const Node& node, double share) {
        if (share == 0.0) return;
        mix.node[mix.count] = node;
        mix.share[mix.count++] = static_cast<float>(share);
    };
    if (!speckle_.plan) {
        const double steps = limited((place.way - scenario_.target.segments.start) / along_step_);
        const auto whole = static_cast<std::int64_t>(std::floor(steps));
        const double angle = 0.5 * pi * (steps - std::floor(steps));
        if (angle == 0.0) {
            add({folded(whole, along_round_), 0}, 1.0);
            return mix;
        }
        add({folded(whole, along_round_), 0}, std::cos(angle));
        add({folded(whole + 1, along_round_), 0}, std::sin(angle));
        return mix;
    }
    std::array<std::int64_t, 2> first{};
    std::array<std::array<double, 2>, 2> share{};
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const double steps = limited(place.passed[static_cast<Eigen::Index>(axis)] / step_[axis]);
        first[axis] = static_cast<std::int64_t>(std::floor(steps));
        const double f = steps - std::floor(steps);
        const double left = std::sqrt(f * f + (1.0 - f) * (1.0 - f) + 2.0 * f * (1.0 - f) * alike_[axis]);
        share[axis] = {(1.0 - f) / left, f / left};
    }
    for (std::size_t x = 0; x < 2; ++x) {
        for (std::size_t y = 0; y < 2; ++y) {
            add({folded(first[0] + static_cast<std::int64_t>(x), round_[0]),
                 folded(first[1] + static_cast<std::int64_t>(y), round_[1])},
                share[0][x] * share[1][y]);
        }
    }
    return mix;
}

receiver::SpecklePattern SpeckleAlong::draw(const Node& node, receiver::SpeckleWorkspace& workspace) const {
    // The surface runs one way under the beam, the place on it that is lit the other.
    const Vector2d place = speckle_.place - Vector2d(step_[0] * static_cast<double>(node.first),
                                                     step_[1] * static_cast<double>(node.second));
    return pattern_of_patch(speckle_, scenario_, 0, place, workspace);
}

void SpeckleAlong::make(std::span<const Mix> mixes, int threads) {
    if (!speckle_.plan) return;
    std::map<Node, receiver::SpecklePattern> kept;
    std::vector<Node> missing;
    for (const Mix& mix : mixes) {
        for (std::size_t i = 0; i < mix.count; ++i) {
            const Node& node = mix.node[i];
            if (!kept.try_emplace(node).second) continue;
            const auto known = patterns_.find(node);
            if (known == patterns_.end()) {
                missing.push_back(node);
            } else {
                kept[node] = std::move(known->second);
            }
        }
    }
    std::vector<receiver::SpecklePattern> made(missing.size());
    constexpr std::size_t at_once = 16;
    const std::size_t lots = (missing.size() + at_once - 1) / at_once;
    base::parallel_for(static_cast<std::int64_t>(lots), threads, [&](std::int64_t lot) {
        receiver::SpeckleWorkspace workspace = receiver::make_workspace(*speckle_.plan);
        const std::size_t first = static_cast<std::size_t>(lot) * at_once;
        for (std::size_t i = first; i < std::min(first + at_once, missing.size()); ++i) {
            made[i] = draw(missing[i], workspace);
        }
    });
    for (std::size_t i = 0; i < missing.size(); ++i) kept[missing[i]] = std::move(made[i]);
    patterns_ = std::move(kept);
}

const receiver::SpecklePattern& SpeckleAlong::found(const Node& node, const Pixels& pixels, Scratch& scratch) const {
    if (speckle_.plan) {
        if (const auto known = patterns_.find(node); known != patterns_.end()) return known->second;
    }
    auto known = scratch.drawn.find(node);
    if (known == scratch.drawn.end()) {
        known = scratch.drawn.try_emplace(node).first;
        if (speckle_.plan) {
            if (scratch.workspace.surface.empty()) scratch.workspace = receiver::make_workspace(*speckle_.plan);
            known->second.pattern = draw(node, scratch.workspace);
        }
    }
    if (!speckle_.plan) draw_blocks(node, pixels, known->second);
    return known->second.pattern;
}

// Draws those blocks of the fast model's pattern that are asked for and not there yet.
void SpeckleAlong::draw_blocks(const Node& node, const Pixels& pixels, Scratch::Drawn& drawn) const {
    constexpr std::int64_t block = base::block_pixels;
    const std::int64_t first = pixels[0] / block;
    const std::int64_t last = (pixels[1] + block - 1) / block;
    std::vector<float>& intensity = drawn.pattern.intensity;
    const auto draw_some = [&](std::int64_t from, std::int64_t to) {
        if (from >= to) return;
        const std::span<float> part = std::span(intensity).subspan(static_cast<std::size_t>(from * block),
                                                                   static_cast<std::size_t>((to - from) * block));
        receiver::draw_speckle(speckle_.field, static_cast<std::uint64_t>(scenario_.seed), index_of(node.first), from,
                               part);
    };
    if (intensity.empty()) {
        const std::int64_t blocks = (scenario_.detector.pixels + block - 1) / block;
        intensity.resize(static_cast<std::size_t>(blocks * block));
        drawn.first_block = drawn.last_block = first;
    }
    draw_some(first, drawn.first_block);
    draw_some(drawn.last_block, last);
    drawn.first_block = std::min(drawn.first_block, first);
    drawn.last_block = std::max(drawn.last_block, last);
}

double SpeckleAlong::unseen_share(double way) const {
    if (way <= radius_) return 1.0;
    const double apart = way / radius_;
    return std::min(1.0, std::sqrt(std::sqrt(pi) / apart / (1.0 + 2.0 * std::exp(-apart * apart))));
}

// A pattern that is found stays while the others of its mix are.
void SpeckleAlong::make_room(const Mix& mix, Scratch& scratch) {
    constexpr std::size_t most_drawn = 8;
    if (scratch.drawn.size() + mix.count > most_drawn) scratch.drawn.clear();
}

// Most often no pixel is looked up beyond the ends.
std::optional<MixedPatterns> SpeckleAlong::even_mix(const Mix& mix, std::int64_t pixels, std::size_t first,
                                                    std::size_t last, Scratch& scratch) const {
    const auto begin = static_cast<std::ptrdiff_t>(first) - pixels;
    const auto end = static_cast<std::ptrdiff_t>(last) - pixels;
    if (begin < 0 || begin >= end || end > scenario_.detector.pixels) return std::nullopt;
    make_room(mix, scratch);
    MixedPatterns mixed;
    mixed.count = mix.count;
    for (std::size_t i = 0; i < mix.count; ++i) {
        mixed.intensity[i] = found(mix.node[i], {begin, end}, scratch).intensity.data() + begin;
        mixed.share[i] = mix.share[i];
    }
    return mixed;
}

bool SpeckleAlong::cover(const Mix& mix, std::int64_t pixels, float weight, float even, std::size_t first,
                         Scratch& scratch, std::span<float> rate) const {
    const auto mixed = even_mix(mix, pixels, first, first + rate.size(), scratch);
    if (mixed) put_under(*mixed, weight, even, rate);
    return mixed.has_value();
}

void SpeckleAlong::add(const Mix& mix, std::int64_t pixels, float weight, std::size_t first, std::size_t last,
                       Scratch& scratch, receiver::SpecklePattern& sum) const {
    const std::int64_t count = scenario_.detector.pixels;
    // The place on the array that a pixel's light had at the start.
    const auto source = [&](std::size_t k) {
        return static_cast<std::size_t>(std::clamp<std::int64_t>(static_cast<std::int64_t>(k) - pixels, 0, count - 1));
    };
    if (first >= last) return;
    const auto first_source = static_cast<std::ptrdiff_t>(first) - pixels;
    const auto patterns = even_mix(mix, pixels, first, last, scratch);
    if (!patterns) make_room(mix, scratch);
    const Pixels wanted{static_cast<std::int64_t>(source(first)), static_cast<std::int64_t>(source(last - 1)) + 1};
    const auto add_shifted = [&](const std::vector<float>& values, float share, float less, std::vector<float>& to) {
        if (patterns) {
            const float* const from = values.data() + first_source;
            for (std::size_t k = 0; k < to.size(); ++k) to[k] += share * (from[k] - less);
            return;
        }
        for (std::size_t k = first; k < last; ++k) to[k - first] += share * (values[source(k)] - less);
    };
    std::vector<float>& field = scratch.mixed.field;
    std::vector<float>& mixed = scratch.mixed.intensity;
    if (!patterns) mixed.assign(last - first, 1.0F);
    bool has_field = false;
    for (std::size_t i = 0; i < mix.count; ++i) {
        const receiver::SpecklePattern& one = found(mix.node[i], wanted, scratch);
        const float share = mix.share[i];
        if (!patterns) add_shifted(one.intensity, share, 1.0F, mixed);
        if (one.field.empty()) continue;
        if (!has_field) field.assign(last - first, 0.0F);
        has_field = true;
        add_shifted(one.field, share, 0.0F, field);
    }
    if (patterns) {
        add_mixed(*patterns, weight, sum.intensity);
    } else {
        for (std::size_t k = 0; k < mixed.size(); ++k) sum.intensity[k] += weight * std::max(0.0F, mixed[k]);
    }
    if (!has_field) return;
    sum.field.resize(last - first, 0.0F);
    for (std::size_t k = 0; k < field.size(); ++k) sum.field[k] += weight * field[k];
}

receiver::SpecklePattern SpeckleAlong::pattern(const Mix& mix, std::int64_t pixels, Scratch& scratch) const {
    const auto count = static_cast<std::size_t>(scenario_.detector.pixels);
    receiver::SpecklePattern whole;
    whole.intensity.assign(count, 0.0F);
    add(mix, pixels, 1.0F, 0, count, scratch, whole);
    return whole;
}

}  // namespace spotwright::measure
