#include "sim/measure/moving_light.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/border.hpp"
#include "sim/base/parallel.hpp"
#include "sim/measure/moving_structure.hpp"
#include "sim/receiver/image.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

constexpr double spacing_pixels = 8.0;

// Half the size of the spot along a position of the shape.
double radius_on(const emitter::Beam& beam, const Vector3d& lit) {
    const double along = emitter::travelled(beam, lit);
    return std::max(emitter::radius_at(beam, 0, along), emitter::radius_at(beam, 1, along));
}

}  // namespace

LightTable::LightTable(const sensor::TriangulationSetup& setup, const MovedPart& part, ShareTable* shares)
    : setup_(setup),
      part_(part),
      shares_(shares),
      surface_(sensor::surface_of(setup.scenario)),
      fine_(setup.instrument.receiver),
      spacing_(spacing_pixels * setup.instrument.receiver.pitch),
      follows_lit_(!has_edges(part.prototype().shape)),
      is_flat_(std::holds_alternative<target::Flat>(part.prototype().shape)) {
    if (surface_.volume) shares_ = nullptr;
    fine_.pixels = finer_pixels * (fine_.pixels + 2 * margin_pixels);
    fine_.pitch /= static_cast<double>(finer_pixels);
    const receiver::Receiver& r = setup.instrument.receiver;
    const double half = 0.5 * static_cast<double>(r.pixels) * r.pitch;
    // Of a shape, places far below or above its reference surface may be the lit ones.
    widest_ = is_flat_ ? half + static_cast<double>(margin_pixels) * r.pitch : 4.0 * half;
    receiver::Receiver endless = r;
    endless.pixels = std::int64_t{1} << 40;
    near_ = -receiver::measurable_range(endless, setup.scenario.mount.reference_distance).near;

    lit_at_zero_ = lit_place(0.0);
    const LitPlace further = lit_place(1.0);
    lit_per_along_ = {further.z - lit_at_zero_.z, further.axial - lit_at_zero_.axial,
                      further.transverse - lit_at_zero_.transverse};

    const double along_at_start = part_state_at(setup.scenario, 0.0).along;
    const auto at = receiver::trace(r, receiver::to_receiver(r, part.lit(along_at_start)), 0.0, 0.0);
    if (at && std::isfinite(at->u)) origin_ = at->u;
    const auto structure = structure_of(setup, part, radius_on(setup.instrument.beam, part.lit(along_at_start)));
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const Structure& along = structure[axis];
        Grid& grid = grid_[axis];
        grid.step = along.step;
        if (along.period > 0.0) {
            grid.round = static_cast<std::int64_t>(std::ceil(along.period / along.step));
            grid.step = along.period / static_cast<double>(grid.round);
        }
        // The shape's offset runs against the place on it that is lit.
        grid.first = -along.last;
        grid.last = -along.first;
    }
    const scenario::Motion& m = setup.scenario.motion;
    const bool goes_along =
        m.along != 0.0 || m.vibration != 0.0 || m.eccentricity != 0.0 || !setup.scenario.motion.places.time.empty();
    glides_ = goes_along || (!is_flat_ && follows_lit_ && moves(setup.scenario));
    find_visible_range();
}

// The ends of what is seen of the reference surface, by halving from a place within the range.
void LightTable::find_visible_range() {
    const auto is_seen = [&](double along) {
        const auto u = image_of_reference(along);
        return u && std::abs(*u) <= widest_;
    };
    const scenario::Pair& range = setup_.scenario.mount.range;
    const double middle = 0.5 * (range[0] + range[1]);
    seen_ = {middle, middle};
    if (!is_seen(middle)) return;
    constexpr double far = 1e4;  // m
    constexpr int halvings = 100;
    for (std::size_t end = 0; end < 2; ++end) {
        const double outside = end == 0 ? middle - far : middle + far;
        seen_[end] = base::border_between(middle, outside, is_seen, halvings).holds;
    }
}

double LightTable::image_or_end(const PartPose& stand) const {
    if (follows_lit_ && !is_flat_) {
        if (const auto u = spot_of(stand)) return *u;
    }
    return sight_of(stand.along);
}

double LightTable::sight_of(double along) const {
    return image_of_reference(std::clamp(along, seen_[0], seen_[1])).value_or(0.0);
}

std::optional<double> LightTable::image_of_point(const std::optional<Vector3d>& point) const {
    if (!point || point->z() >= near_) return std::nullopt;
    const auto at = receiver::trace(setup_.instrument.receiver,
                                    receiver::to_receiver(setup_.instrument.receiver, *point), 0.0, 0.0);
    if (!at || !std::isfinite(at->u)) return std::nullopt;
    return at->u;
}

LightTable::LitPlace LightTable::lit_place(double along) const {
    const Vector3d lit = part_.lit(along);
    const receiver::ReceiverPoint seen = receiver::to_receiver(setup_.instrument.receiver, lit);
    return {lit.z(), seen.axial, seen.transverse};
}

// Looked for several times an exposure: in closed form, as `trace` has it for the ray through the middle of the lens,
// (b t - w s) / (s sin(beta) - t cos(beta)), w the array's offset. Without branches, so that many are found at once.
LightTable::Sight LightTable::sight_at(double along) const {
    const receiver::Receiver& r = setup_.instrument.receiver;
    const double axial = lit_at_zero_.axial + along * lit_per_along_.axial;
    const double transverse = lit_at_zero_.transverse + along * lit_per_along_.transverse;
    if (r.glass.thickness > 0.0) return sight_through_glass(along, axial, transverse);
    const double denominator = axial * r.sin_beta - transverse * r.cos_beta;
    const double u = (r.image_distance * transverse - r.array_offset * axial) / denominator;
    // Infinite values and NaN differ from themselves by NaN.
    const bool seen = (lit_at_zero_.z + along * lit_per_along_.z < near_) & (axial > 0.0) & (denominator > 0.0) &
                      (r.image_distance + u * r.cos_beta > 0.0) & (u - u == 0.0);
    return {u - r.array_shift, seen};
}

LightTable::Sight LightTable::sight_through_glass(double along, double axial, double transverse) const {
    const auto at = receiver::trace(setup_.instrument.receiver, {axial, transverse, 0.0}, 0.0, 0.0);
    const bool seen = lit_at_zero_.z + along * lit_per_along_.z < near_ && at && std::isfinite(at->u);
    return {at ? at->u : 0.0, seen};
}

std::optional<double> LightTable::image_of_reference(double along) const {
    const Sight sight = sight_at(along);
    return sight.seen ? std::optional(sight.u) : std::nullopt;
}

void LightTable::sights_of(std::span<const double> along, std::span<double> image) const {
    for (std::size_t i = 0; i < along.size(); ++i) {
        const Sight sight = sight_at(std::clamp(along[i], seen_[0], seen_[1]));
        image[i] = sight.seen ? sight.u : 0.0;
    }
}

std::optional<double> LightTable::spot_of(const PartPose& stand) const {
    const emitter::Beam& beam = setup_.instrument.beam;
    if (is_flat_) return image_of_reference(stand.along);
    const auto hit = target::meet(part_.at(stand.along, stand.offset), {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    return image_of_point(beam.face + hit->distance * beam.direction);
}

std::optional<double> LightTable::image_of(const PartPose& stand) const {
    return follows_lit_ ? spot_of(stand) : image_of_reference(stand.along);
}

namespace {

// Two neighbours on a grid, and the share of the second.
struct Between {
    std::int64_t first = 0;
    double share = 0.0;
};

Between between(double place, double step) {
    constexpr double next_to_nothing = 1e-9;  // a place of the grid, but for rounding
    const double steps = place / step;
    const double nearest = std::round(steps);
    if (std::abs(steps - nearest) < next_to_nothing) return {static_cast<std::int64_t>(nearest), 0.0};
    return {static_cast<std::int64_t>(std::floor(steps)), steps - std::floor(steps)};
}

std::int64_t wrapped(std::int64_t index, std::int64_t round) {
    return round > 0 ? (index % round + round) % round : index;
}

}  // namespace

std::size_t LightTable::NodeHash::operator()(const Node& node) const {
    // Odd numbers spread neighbours of the grid over the table.
    const auto mixed = static_cast<std::uint64_t>(node.along) * 0x9E3779B97F4A7C15U +
                       static_cast<std::uint64_t>(node.x) * 0xC2B2AE3D27D4EB4FU +
                       static_cast<std::uint64_t>(node.y) * 0x165667B19E3779F9U;
    return static_cast<std::size_t>(mixed ^ (mixed >> 29U));
}

std::array<double, 2> LightTable::rounds() const {
    return {static_cast<double>(grid_[0].round), static_cast<double>(grid_[1].round)};
}

std::array<double, 2> LightTable::steps_of(const Vector2d& offset) const {
    std::array<double, 2> steps{};
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const Grid& grid = grid_[axis];
        if (grid.step <= 0.0) continue;
        const double place = offset[static_cast<Eigen::Index>(axis)];
        steps[axis] = (grid.round > 0 ? place : std::clamp(place, grid.first, grid.last)) / grid.step;
    }
    return steps;
}

std::optional<LightTable::Cell> LightTable::cell_of(const PartPose& stand) const {
    const auto u = image_of_reference(stand.along);
    if (!u || !(std::abs(*u) <= widest_)) return std::nullopt;
    Cell cell;
    const Between along = between(*u - origin_, spacing_);
    cell.node.along = along.first;
    cell.along = along.share;
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const Grid& grid = grid_[axis];
        if (grid.step <= 0.0) continue;
        double offset = stand.offset[static_cast<Eigen::Index>(axis)];
        if (grid.round > 0)
            offset = std::remainder(offset, static_cast<double>(grid.round) * grid.step);
        else
            offset = std::clamp(offset, grid.first, grid.last);
        const Between position = between(offset, grid.step);
        (axis == 0 ? cell.node.x : cell.node.y) = position.first;
        cell.position[axis] = position.share;
    }
    return cell;
}

// Corners of a cell that count, with their place among its 32 and their weight: two along, four at either axis.
template <class Take>
void LightTable::for_each_corner(const Cell& cell, const Take& take) const {
    if (cell.position[0] == 0.0 && cell.position[1] == 0.0) {  // as below: one corner of either axis has all the weight
        for (std::size_t second = 0; second < 2; ++second) {
            const double weight = second == 1 ? cell.along : 1.0 - cell.along;
            if (weight == 0.0) continue;
            const Node node{cell.node.along + static_cast<std::int64_t>(second), wrapped(cell.node.x, grid_[0].round),
                            wrapped(cell.node.y, grid_[1].round)};
            take(node, (second * 4 + 1) * 4 + 1, weight);
        }
        return;
    }
    const std::array<std::array<double, 4>, 2> share{cubic_shares(cell.position[0]), cubic_shares(cell.position[1])};
    for (std::size_t second = 0; second < 2; ++second) {
        const double along_share = second == 1 ? cell.along : 1.0 - cell.along;
        for (std::size_t x = 0; x < 4; ++x) {
            if (share[0][x] == 0.0) continue;
            for (std::size_t y = 0; y < 4; ++y) {
                const double weight = along_share * share[0][x] * share[1][y];
                if (weight == 0.0) continue;
                const Node node{cell.node.along + static_cast<std::int64_t>(second),
                                wrapped(cell.node.x + static_cast<std::int64_t>(x) - 1, grid_[0].round),
                                wrapped(cell.node.y + static_cast<std::int64_t>(y) - 1, grid_[1].round)};
                take(node, (second * 4 + x) * 4 + y, weight);
            }
        }
    }
}

std::vector<LightTable::Weighted> LightTable::nodes_of(const PartPose& stand) const {
    std::vector<Weighted> nodes;
    const auto cell = cell_of(stand);
    if (!cell) return nodes;
    for_each_corner(*cell, [&](const Node& node, std::size_t /*corner*/, double weight) {
        nodes.push_back({node, weight});
    });
    return nodes;
}

void LightTable::want(const Cell& cell, Wanted& wanted) const {
    // Of a place on the grid itself some corners weigh nothing, and are not asked for.
    const std::array<bool, 3> between{cell.along != 0.0, cell.position[0] != 0.0, cell.position[1] != 0.0};
    if (wanted.cell == cell.node) {
        const auto is_there = [&](std::size_t i) { return wanted.between[i] || !between[i]; };
        if (is_there(0) && is_there(1) && is_there(2)) return;
    }
    wanted.cell = cell.node;
    wanted.between = between;
    for_each_corner(cell,
                    [&](const Node& node, std::size_t /*corner*/, double /*weight*/) { wanted.nodes.push_back(node); });
}

PartPose LightTable::stand_of(const Node& node) const {
    const double displacement =
        receiver::displacement_at(setup_.instrument.receiver, origin_ + static_cast<double>(node.along) * spacing_);
    return {part_.along_of(-displacement),
            {static_cast<double>(node.x) * grid_[0].step, static_cast<double>(node.y) * grid_[1].step}};
}

receiver::Profile LightTable::profile_of(const PartPose& stand) const {
    // As exact as an image on the pixels themselves.
    receiver::Tolerance tolerance;
    tolerance.centroid *= static_cast<double>(finer_pixels);
    return receiver::image(setup_.instrument.beam, part_.at(stand.along, stand.offset), surface_, fine_,
                           setup_.instrument.edge_spread, setup_.scenario.detector.quantum_efficiency, tolerance,
                           setup_.walk ? &*setup_.walk : nullptr);
}

// Of the spot on the whole surface, before lines across the way of the segments.
ShareImages LightTable::shares_at(std::int64_t along) const {
    const PartPose stand = stand_of({along, 0, 0});
    const target::Part part = part_.at(stand.along, stand.offset);
    const emitter::Beam& beam = setup_.instrument.beam;
    // A beam aslant lights a longer stretch of the surface.
    const double fall = std::max(-part.normal().dot(beam.direction), 0.1);
    const double reach = 3.0 * radius_on(beam, part_.lit(stand.along)) / fall;
    constexpr int steps = 48;
    receiver::LinesAcross lines{part_.lit(stand.along), part.markings->axes.col(0), {}};
    for (int i = 0; i <= steps; ++i) lines.place.push_back(reach * (2.0 * i / steps - 1.0));
    return {lines, receiver::images_before(beam, part, surface_, fine_, setup_.instrument.edge_spread,
                                           setup_.scenario.detector.quantum_efficiency, lines)};
}

// What of the spot falls on the segment: it comes again after each run.
receiver::Profile LightTable::segment_profile(const Node& node) const {
    const auto& segment = std::get<target::AllBut>(part_.prototype().markings->cover->pattern);
    const ShareImages& shares = shares_->at(node.along);
    receiver::Profile profile;
    profile.rate.assign(static_cast<std::size_t>(fine_.pixels), 0.0F);
    profile.mirrored = profile.rate;
    const double way = stand_of(node).offset.x();
    const double first = std::ceil((way - shares.reach() - segment.to) / segment.run);
    for (double run = first; segment.from + run * segment.run - way < shares.reach(); run += 1.0) {
        const double begin = run * segment.run - way;
        shares.add_between(segment.from + begin, segment.to + begin, profile.rate, profile.mirrored);
    }
    return profile;
}

LightTable::Image LightTable::make_image(const Node& node) const {
    const PartPose stand = stand_of(node);
    Image image;
    image.u = image_of(stand);
    if (!image.u) return image;
    const receiver::Profile profile = shares_ != nullptr ? segment_profile(node) : profile_of(stand);
    image.all = make_samples(profile.rate, glides_);
    image.mirrored = make_samples(profile.mirrored, glides_);
    image.extents = extents_of(image.all);
    return image;
}

void LightTable::make(std::span<const Node> nodes, int threads) {
    constexpr std::size_t most_kept = std::size_t{1} << 25U;  // samples: some 400 MB with their integrals
    if (kept_ > most_kept) drop_but(nodes);
    std::vector<Node> missing;
    for (const Node& node : nodes) {
        if (images_.try_emplace(node).second) missing.push_back(node);
    }
    if (shares_ != nullptr) make_shares(missing, threads);
    std::vector<Image> made(missing.size());
    base::parallel_for(static_cast<std::int64_t>(missing.size()), threads, [&](std::int64_t i) {
        made[static_cast<std::size_t>(i)] = make_image(missing[static_cast<std::size_t>(i)]);
    });
    for (std::size_t i = 0; i < missing.size(); ++i) {
        kept_ += static_cast<std::size_t>(made[i].all.count + made[i].mirrored.count);
        mirrors_ = mirrors_ || made[i].mirrored.count > 0;
        images_[missing[i]] = std::move(made[i]);
    }
}

void LightTable::make_shares(std::span<const Node> nodes, int threads) {
    std::vector<std::int64_t> missing;
    for (const Node& node : nodes) {
        if (shares_->try_emplace(node.along).second) missing.push_back(node.along);
    }
    std::vector<ShareImages> made(missing.size());
    base::parallel_for(static_cast<std::int64_t>(missing.size()), threads, [&](std::int64_t i) {
        made[static_cast<std::size_t>(i)] = shares_at(missing[static_cast<std::size_t>(i)]);
    });
    for (std::size_t i = 0; i < missing.size(); ++i) (*shares_)[missing[i]] = std::move(made[i]);
}

void LightTable::drop_but(std::span<const Node> nodes) {
    std::unordered_map<Node, Image, NodeHash> kept;
    for (const Node& node : nodes) {
        if (auto known = images_.extract(node)) kept.insert(std::move(known));
    }
    images_ = std::move(kept);
    kept_ = 0;
    for (const auto& [node, image] : images_) kept_ += static_cast<std::size_t>(image.all.count + image.mirrored.count);
    ++dropped_;
}

void LightTable::add(const PartPose& stand, double weight, LightSum& sum) const {
    const auto u = image_of(stand);
    Found found;
    if (u) add({stand, *u, *u, cell_of(stand)}, weight, found, sum);
}

const LightTable::Image& LightTable::image_at(const Node& node, std::size_t corner, Found& found) const {
    const Image*& image = found.images[corner];
    if (image == nullptr) image = &images_.at(node);
    return *image;
}

void LightTable::turn_to(const Cell& cell, Found& found) const {
    if (found.cell == cell.node && found.dropped == dropped_) return;
    found.cell = cell.node;
    found.dropped = dropped_;
    found.images.fill(nullptr);
}

void LightTable::add(const Glide& glide, double weight, Found& found, LightSum& sum) const {
    if (!glide.cell) return;
    turn_to(*glide.cell, found);
    const double low = std::min(glide.u_first, glide.u_last) / fine_.pitch;
    const double high = std::max(glide.u_first, glide.u_last) / fine_.pitch;
    for_each_corner(*glide.cell, [&](const Node& node, std::size_t corner, double share) {
        const Image& image = image_at(node, corner, found);
        if (!image.u) return;
        const double at = *image.u / fine_.pitch;
        const Smear smear{low - at, high - at};
        add_samples(image.all, smear, weight * share, found.integrals, sum.rate, sum);
        if (image.mirrored.count == 0) return;
        sum.mirrored.resize(sum.rate.size(), 0.0F);
        add_samples(image.mirrored, smear, weight * share, found.integrals, sum.mirrored, sum);
    });
}

void LightTable::reach(const Glide& glide, double min_rate, Found& found, std::array<std::int64_t, 2>& pixels) const {
    if (!glide.cell) return;
    turn_to(*glide.cell, found);
    const double low = std::min(glide.u_first, glide.u_last) / fine_.pitch;
    const double high = std::max(glide.u_first, glide.u_last) / fine_.pitch;
    for_each_corner(*glide.cell, [&](const Node& node, std::size_t corner, double /*share*/) {
        const Image& image = image_at(node, corner, found);
        // Sums of shares, which may be below zero, are at most twice the brightest.
        if (!image.u || !(2.0 * image.extents.brightest >= min_rate)) return;
        const double at = *image.u / fine_.pitch;
        widen(image.all, image.extents, {low - at, high - at}, 0.5 * min_rate, pixels);
    });
}

}  // namespace spotwright::measure
