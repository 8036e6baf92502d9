#include "sim/study/moving_speckle.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"

namespace spotwright::study {

namespace {

using base::pi, Eigen::Vector2d;

// 1/e^2 radius of the footprint, the geometric mean of its axes.
double footprint_radius(const Speckle& speckle) {
    return std::pow(speckle.view.irradiance.determinant(), -0.25);
}

// Ways that a run covers: steady motion, and what a path adds.
double covered(const scenario::Scenario& s, double duration) {
    double way = std::hypot(s.motion.across[0], s.motion.across[1]) * duration;
    const std::vector<double>& path = s.motion_path.across;
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

SpeckleAlong::SpeckleAlong(const scenario::Scenario& s, Speckle speckle, double duration, std::int64_t lookups)
    : scenario_(s), speckle_(std::move(speckle)) {
    const double radius = footprint_radius(speckle_);
    radius_ = radius;
    const double fine = radius / 16.0;
    constexpr double affordable = 2e7;  // some tenths of a second of one core
    const double way = covered(s, duration);
    const double patterns = std::min(way / fine, static_cast<double>(lookups)) + 1.0;
    constexpr double farthest = 1e8;  // places of the lattice that can be told apart, and some to spare
    const bool too_far = speckle_.plan && way > farthest * speckle_.plan->grid.pitch;
    if (speckle_.plan && (too_far || patterns * work_of_pattern(speckle_) > affordable)) {
        speckle_.plan.reset();
        speckle_.model = scenario::SpeckleModel::statistical;
        speckle_.why_statistical = "so much surface passes that its patterns would take too long wave by wave";
    }
    const double apart = std::sqrt(pi) * pi * pi / 16.0;
    step_ = speckle_.plan ? fine : apart * radius;
    if (comes_round(s)) {
        round_ = std::max<std::int64_t>(1, std::llround(2.0 * pi * s.target.cylinder.radius / step_));
        step_ = 2.0 * pi * s.target.cylinder.radius / static_cast<double>(round_);
    }
}

SpeckleAlong::Mix SpeckleAlong::mix_at(const PartPlace& place) const {
    if (speckle_.plan) {
        const Vector2d steps = place.passed / step_;
        std::int64_t x = std::llround(limited(steps.x()));
        std::int64_t y = std::llround(limited(steps.y()));
        if (round_ > 0) {
            x = folded(x, round_);
            y = folded(y, round_);
        }
        return {{x, y}, {x, y}, 0.0};
    }
    const double steps = limited((place.way - scenario_.target.segments.start) / step_);
    const auto whole = static_cast<std::int64_t>(std::floor(steps));
    return {{folded(whole, round_), 0}, {folded(whole + 1, round_), 0}, 0.5 * pi * (steps - std::floor(steps))};
}

receiver::SpecklePattern SpeckleAlong::draw(const Node& node, receiver::SpeckleWorkspace& workspace) const {
    // The surface runs one way under the beam, the place on it that is lit the other.
    const Vector2d place =
        speckle_.place - step_ * Vector2d(static_cast<double>(node.first), static_cast<double>(node.second));
    const std::int64_t index = speckle_.plan ? 0 : index_of(node.first);
    return pattern_of_place(speckle_, scenario_, index, place, workspace);
}

void SpeckleAlong::make(std::span<const Mix> mixes, int threads) {
    if (!speckle_.plan) return;
    std::map<Node, receiver::SpecklePattern> kept;
    std::vector<Node> missing;
    for (const Mix& mix : mixes) {
        if (!kept.try_emplace(mix.first).second) continue;
        const auto known = patterns_.find(mix.first);
        if (known == patterns_.end()) {
            missing.push_back(mix.first);
        } else {
            kept[mix.first] = std::move(known->second);
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
    constexpr std::size_t most_drawn = 8;
    auto known = scratch.drawn.find(node);
    if (known == scratch.drawn.end()) {
        if (scratch.drawn.size() >= most_drawn) scratch.drawn.clear();
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

void SpeckleAlong::add(const Mix& mix, std::int64_t pixels, float weight, std::size_t first, std::size_t last,
                       Scratch& scratch, receiver::SpecklePattern& sum) const {
    const std::int64_t count = scenario_.detector.pixels;
    // The place on the array that a pixel's light had at the start.
    const auto source = [&](std::size_t k) {
        return static_cast<std::size_t>(std::clamp<std::int64_t>(static_cast<std::int64_t>(k) - pixels, 0, count - 1));
    };
    if (first >= last) return;
    const Pixels wanted{static_cast<std::int64_t>(source(first)), static_cast<std::int64_t>(source(last - 1)) + 1};
    const receiver::SpecklePattern& one = found(mix.first, wanted, scratch);
    if (mix.angle == 0.0) {
        for (std::size_t k = first; k < last; ++k) sum.intensity[k - first] += weight * one.intensity[source(k)];
        if (one.field.empty()) return;
        sum.field.resize(last - first, 0.0F);
        for (std::size_t k = first; k < last; ++k) sum.field[k - first] += weight * one.field[source(k)];
        return;
    }
    std::vector<float>& mixed = scratch.mixed.intensity;
    mixed.resize(last - first);
    const auto share = static_cast<float>(std::cos(mix.angle));
    for (std::size_t k = first; k < last; ++k) mixed[k - first] = 1.0F + share * (one.intensity[source(k)] - 1.0F);
    const receiver::SpecklePattern& second = found(mix.second, wanted, scratch);
    const auto other = static_cast<float>(std::sin(mix.angle));
    for (std::size_t k = first; k < last; ++k) {
        const float value = mixed[k - first] + other * (second.intensity[source(k)] - 1.0F);
        sum.intensity[k - first] += weight * std::max(0.0F, value);
    }
}

receiver::SpecklePattern SpeckleAlong::pattern(const Mix& mix, std::int64_t pixels, Scratch& scratch) const {
    const auto count = static_cast<std::size_t>(scenario_.detector.pixels);
    receiver::SpecklePattern whole;
    whole.intensity.assign(count, 0.0F);
    add(mix, pixels, 1.0F, 0, count, scratch, whole);
    return whole;
}

}  // namespace spotwright::study
