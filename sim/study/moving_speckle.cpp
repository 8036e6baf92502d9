#include "sim/study/moving_speckle.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"

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
    const double fine = radius / 16.0;
    constexpr double affordable = 1e8;  // about five seconds of one core
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

const receiver::SpecklePattern& SpeckleAlong::found(const Node& node, Scratch& scratch) const {
    if (const auto known = patterns_.find(node); known != patterns_.end()) return known->second;
    constexpr std::size_t most_drawn = 8;
    if (const auto known = scratch.drawn.find(node); known != scratch.drawn.end()) return known->second;
    if (scratch.drawn.size() >= most_drawn) scratch.drawn.clear();
    if (speckle_.plan && scratch.workspace.surface.empty())
        scratch.workspace = receiver::make_workspace(*speckle_.plan);
    return scratch.drawn[node] = draw(node, scratch.workspace);
}

const receiver::SpecklePattern& SpeckleAlong::pattern(const Mix& mix, std::int64_t pixels, Scratch& scratch) const {
    receiver::SpecklePattern& mixed = scratch.mixed;
    const std::int64_t count = scenario_.detector.pixels;
    mixed.first = 0;
    mixed.intensity.resize(static_cast<std::size_t>(count));
    mixed.field.clear();
    // The place on the array that this pixel's light had at the start.
    const auto source = [&](std::int64_t k) {
        return static_cast<std::size_t>(std::clamp<std::int64_t>(k - pixels, 0, count - 1));
    };
    {
        const receiver::SpecklePattern& first = found(mix.first, scratch);
        const auto share = static_cast<float>(std::cos(mix.angle));
        for (std::int64_t k = 0; k < count; ++k) {
            mixed.intensity[static_cast<std::size_t>(k)] = 1.0F + share * (first.intensity[source(k)] - 1.0F);
        }
        if (mix.angle == 0.0 && !first.field.empty()) {
            mixed.field.resize(static_cast<std::size_t>(count));
            for (std::int64_t k = 0; k < count; ++k) mixed.field[static_cast<std::size_t>(k)] = first.field[source(k)];
        }
    }
    if (mix.angle > 0.0) {
        const receiver::SpecklePattern& second = found(mix.second, scratch);
        const auto share = static_cast<float>(std::sin(mix.angle));
        for (std::int64_t k = 0; k < count; ++k) {
            float& value = mixed.intensity[static_cast<std::size_t>(k)];
            value = std::max(0.0F, value + share * (second.intensity[source(k)] - 1.0F));
        }
    }
    return mixed;
}

}  // namespace spotwright::study
