#include "sim/study/moving_light.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/receiver/image.hpp"

namespace spotwright::study {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

constexpr std::int64_t finer_pixels = 4;
constexpr double spacing_pixels = 8.0;
// Light that a shift brings in from beyond the array's ends: two spacings, and the reach of the cubic.
constexpr std::int64_t margin_pixels = 20;

// Half the size of the spot along a position of the shape.
double radius_on(const emitter::Beam& beam, const Vector3d& lit) {
    const double along = emitter::travelled(beam, lit);
    return std::max(emitter::radius_at(beam, 0, along), emitter::radius_at(beam, 1, along));
}

// How finely the positions of a shape are looked at, and over what of it. A circle's slope changes by a few thousandths
// from place to place; an edge moves by an eighth of the beam's radius.
struct Structure {
    double step = 0.0;
    double first = -std::numeric_limits<double>::infinity();
    double last = std::numeric_limits<double>::infinity();
    double period = 0.0;
};

struct StructureOf {
    double radius;  // of the beam
    double slant;   // tangent of the flattest way on which light comes or goes

    [[nodiscard]] double edge_step() const { return radius / 8.0; }
    [[nodiscard]] double round_step(double curvature_radius) const {
        return std::max(edge_step(), curvature_radius / 128.0);
    }
    // Beyond the outermost place of a shape: the beam's own width, and what heights hide or light.
    [[nodiscard]] double reach(double lowest, double highest) const {
        return 3.0 * radius + slant * (highest - lowest);
    }

    std::array<Structure, 2> operator()(const target::Flat& /*shape*/) const { return {}; }
    std::array<Structure, 2> operator()(const target::Extrusion& shape) const {
        const double beyond = reach(shape.lowest, shape.highest);
        return {Structure{edge_step(), shape.points.front().x() - beyond, shape.points.back().x() + beyond, 0.0},
                Structure{}};
    }
    std::array<Structure, 2> operator()(const target::Roll& shape) const {
        return {Structure{round_step(shape.radius), -2.0 * shape.radius, 2.0 * shape.radius, 0.0}, Structure{}};
    }
    std::array<Structure, 2> operator()(const target::Ball& shape) const {
        const Structure each{round_step(shape.radius), -2.0 * shape.radius, 2.0 * shape.radius, 0.0};
        return {each, each};
    }
    std::array<Structure, 2> operator()(const target::Ripple& shape) const {
        const double k = 2.0 * base::pi / shape.period;
        const double wanted = std::min(round_step(1.0 / (std::abs(shape.amplitude) * k * k + 1e-300)),
                                       std::max(edge_step(), shape.period / 64.0));
        return {Structure{wanted, 0.0, 0.0, shape.period}, Structure{}};
    }
    std::array<Structure, 2> operator()(const target::HeightMap& shape) const {
        const double beyond = reach(shape.lowest, shape.highest);
        return {Structure{edge_step(), shape.x.front() - beyond, shape.x.back() + beyond, 0.0},
                Structure{edge_step(), shape.y.front() - beyond, shape.y.back() + beyond, 0.0}};
    }
};

// Tangent of the largest angle between the part's normal and a way of light to the lens or from the emitter.
double flattest_way(const Instrument& instrument) {
    const scenario::Scenario& s = instrument.scenario;
    const receiver::Receiver& r = instrument.receiver;
    const double lens = std::atan(std::max(r.aperture.half_in_plane, r.aperture.half_out_of_plane) / r.object_distance);
    double turned = lens;
    for (const scenario::Pair& tilt : {s.mount.tilt, s.target.tilt}) turned += std::hypot(tilt[0], tilt[1]);
    const double view = std::max(std::abs(r.angle), std::abs(r.emitter_angle)) + turned;
    constexpr double flattest = 80.0 * base::degree;
    constexpr double spare = 1.25;  // the lens is nearer to a part before its reference point
    return spare * std::tan(std::min(view, flattest));
}

bool has_edges(const target::Shape& shape) {
    return std::holds_alternative<target::Extrusion>(shape) || std::holds_alternative<target::HeightMap>(shape);
}

}  // namespace

LightTable::LightTable(const Instrument& instrument, const MovedPart& part)
    : instrument_(instrument),
      part_(part),
      surface_(target::surface_of(instrument.scenario)),
      fine_(instrument.receiver),
      spacing_(spacing_pixels * instrument.receiver.pitch),
      follows_lit_(!has_edges(part.prototype().shape)) {
    fine_.pixels = finer_pixels * (fine_.pixels + 2 * margin_pixels);
    fine_.pitch /= static_cast<double>(finer_pixels);
    const target::Shape& shape = part.prototype().shape;
    const bool flat = std::holds_alternative<target::Flat>(shape);
    const receiver::Receiver& r = instrument.receiver;
    const double half = 0.5 * static_cast<double>(r.pixels) * r.pitch;
    // Of a shape, places far below or above its reference surface may be the lit ones.
    widest_ = flat ? half + static_cast<double>(margin_pixels) * r.pitch : 4.0 * half;
    receiver::Receiver endless = r;
    endless.pixels = std::int64_t{1} << 40;
    near_ = -receiver::measurable_range(endless, instrument.scenario.mount.reference_distance).near;

    const double along_at_start = place_at(instrument.scenario, 0.0).along;
    const auto at = receiver::trace(r, receiver::to_receiver(r, part.lit(along_at_start)), 0.0, 0.0);
    if (at && std::isfinite(at->u)) origin_ = at->u;
    const StructureOf structure_of{radius_on(instrument.beam, part.lit(along_at_start)), flattest_way(instrument)};
    const auto structure = std::visit(structure_of, shape);
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
}

std::optional<double> LightTable::image_of_point(const std::optional<Vector3d>& point) const {
    if (!point || point->z() >= near_) return std::nullopt;
    const auto at =
        receiver::trace(instrument_.receiver, receiver::to_receiver(instrument_.receiver, *point), 0.0, 0.0);
    if (!at || !std::isfinite(at->u)) return std::nullopt;
    return at->u;
}

std::optional<double> LightTable::spot_of(const Stand& stand) const {
    const emitter::Beam& beam = instrument_.beam;
    if (std::holds_alternative<target::Flat>(part_.prototype().shape)) return image_of_point(part_.lit(stand.along));
    const auto hit = target::meet(part_.at(stand.along, stand.offset), {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    return image_of_point(beam.face + hit->distance * beam.direction);
}

std::optional<double> LightTable::image_of(const Stand& stand) const {
    return follows_lit_ ? spot_of(stand) : image_of_point(part_.lit(stand.along));
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

// Shares of four neighbours, the first before the two that a place lies between: Lagrange's cubic.
std::array<double, 4> cubic_shares(double f) {
    return {-f * (f - 1.0) * (f - 2.0) / 6.0, (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0, -(f + 1.0) * f * (f - 2.0) / 2.0,
            (f + 1.0) * f * (f - 1.0) / 6.0};
}

std::int64_t wrapped(std::int64_t index, std::int64_t round) {
    return round > 0 ? (index % round + round) % round : index;
}

}  // namespace

std::vector<LightTable::Weighted> LightTable::nodes_of(const Stand& stand) const {
    const Vector3d reference = part_.lit(stand.along);
    const receiver::Receiver& r = instrument_.receiver;
    if (!(reference.z() < near_)) return {};
    const auto at = receiver::trace(r, receiver::to_receiver(r, reference), 0.0, 0.0);
    if (!at || !(std::abs(at->u) <= widest_)) return {};
    const Between along = between(at->u - origin_, spacing_);
    std::array<Between, 2> position;
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const Grid& grid = grid_[axis];
        if (grid.step <= 0.0) continue;
        double offset = stand.offset[static_cast<Eigen::Index>(axis)];
        if (grid.round > 0)
            offset = std::remainder(offset, static_cast<double>(grid.round) * grid.step);
        else
            offset = std::clamp(offset, grid.first, grid.last);
        position[axis] = between(offset, grid.step);
    }
    std::vector<Weighted> nodes;
    const std::array<std::array<double, 4>, 2> share{cubic_shares(position[0].share), cubic_shares(position[1].share)};
    const auto node_of = [&](std::size_t axis, std::size_t tap) {
        return wrapped(position[axis].first + static_cast<std::int64_t>(tap) - 1, grid_[axis].round);
    };
    for (const std::int64_t second : {0, 1}) {
        const double along_share = second == 1 ? along.share : 1.0 - along.share;
        for (std::size_t x = 0; x < 4; ++x) {
            for (std::size_t y = 0; y < 4; ++y) {
                const double weight = along_share * share[0][x] * share[1][y];
                if (weight == 0.0) continue;
                nodes.push_back({{along.first + second, node_of(0, x), node_of(1, y)}, weight});
            }
        }
    }
    return nodes;
}

Stand LightTable::stand_of(const Node& node) const {
    const double displacement =
        receiver::displacement_at(instrument_.receiver, origin_ + static_cast<double>(node.along) * spacing_);
    return {part_.along_of(-displacement),
            {static_cast<double>(node.x) * grid_[0].step, static_cast<double>(node.y) * grid_[1].step}};
}

LightTable::Image LightTable::make_image(const Node& node) const {
    const Stand stand = stand_of(node);
    Image image;
    image.u = image_of(stand);
    if (!image.u) return image;
    const target::Part part = part_.at(stand.along, stand.offset);
    const receiver::Profile profile = receiver::image(instrument_.beam, part, surface_, fine_, instrument_.edge_spread,
                                                      instrument_.scenario.detector.quantum_efficiency);
    const auto summed = [](const std::vector<float>& rate) {
        Samples samples;
        if (rate.empty()) return samples;
        const float seen = 1e-8F * *std::max_element(rate.begin(), rate.end());
        const auto lit = [seen](float value) { return value > seen; };
        const auto first = std::find_if(rate.begin(), rate.end(), lit);
        if (first == rate.end()) return samples;
        const auto last = std::find_if(rate.rbegin(), rate.rend(), lit).base();
        samples.first = (first - rate.begin()) - (finer_pixels - 1);
        samples.sum.assign(static_cast<std::size_t>(last - first + finer_pixels - 1), 0.0F);
        for (auto value = first; value != last; ++value) {
            for (std::ptrdiff_t k = 0; k < finer_pixels; ++k)
                samples.sum[static_cast<std::size_t>(value - first + k)] += *value;
        }
        return samples;
    };
    image.all = summed(profile.rate);
    image.mirrored = summed(profile.mirrored);
    return image;
}

void LightTable::make(std::span<const Node> nodes, int threads) {
    std::vector<Node> missing;
    for (const Node& node : nodes) {
        if (images_.try_emplace(node).second) missing.push_back(node);
    }
    std::vector<Image> made(missing.size());
    base::parallel_for(static_cast<std::int64_t>(missing.size()), threads, [&](std::int64_t i) {
        made[static_cast<std::size_t>(i)] = make_image(missing[static_cast<std::size_t>(i)]);
    });
    for (std::size_t i = 0; i < missing.size(); ++i) images_[missing[i]] = std::move(made[i]);
}

// Shifts by a cubic through four samples (Lagrange), which keeps the light and its centroid.
void LightTable::add_samples(const Samples& samples, double shift, double weight, std::vector<float>& rate) {
    if (samples.sum.empty()) return;
    const double begin = static_cast<double>(finer_pixels * margin_pixels) - shift;
    const auto whole = static_cast<std::ptrdiff_t>(std::floor(begin));
    const double f = begin - std::floor(begin);
    const std::array<double, 4> exact = cubic_shares(f);
    std::array<float, 4> tap{};
    for (std::size_t t = 0; t < tap.size(); ++t) tap[t] = static_cast<float>(weight * exact[t]);
    const auto count = static_cast<std::ptrdiff_t>(samples.sum.size());
    const auto pixels = static_cast<std::ptrdiff_t>(rate.size());
    const std::ptrdiff_t offset = whole - 1 - samples.first;  // of the first tap of pixel 0
    const std::ptrdiff_t first = std::clamp<std::ptrdiff_t>((-offset - 3) / finer_pixels - 1, 0, pixels);
    const std::ptrdiff_t last = std::clamp<std::ptrdiff_t>((count - offset) / finer_pixels + 1, 0, pixels);
    for (std::ptrdiff_t k = first; k < last; ++k) {
        for (std::ptrdiff_t t = 0; t < 4; ++t) {
            const std::ptrdiff_t i = finer_pixels * k + offset + t;
            if (i < 0 || i >= count) continue;
            rate[static_cast<std::size_t>(k)] +=
                tap[static_cast<std::size_t>(t)] * samples.sum[static_cast<std::size_t>(i)];
        }
    }
}

void LightTable::add(const Stand& stand, double weight, LightSum& sum) const {
    const auto u = image_of(stand);
    if (!u) return;
    for (const Weighted& each : nodes_of(stand)) {
        const Image& image = images_.at(each.node);
        if (!image.u) continue;
        const double shift = (*u - *image.u) / fine_.pitch;
        add_samples(image.all, shift, weight * each.weight, sum.rate);
        if (image.mirrored.sum.empty()) continue;
        sum.mirrored.resize(sum.rate.size(), 0.0F);
        add_samples(image.mirrored, shift, weight * each.weight, sum.mirrored);
    }
}

}  // namespace spotwright::study
