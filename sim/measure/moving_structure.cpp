#include "sim/measure/moving_structure.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"

namespace spotwright::measure {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

// Of a shape. A circle's slope changes by a few thousandths from place to place; an edge moves by an eighth of the
// beam's radius.
struct StructureOfShape {
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
    std::array<Structure, 2> operator()(const target::Block& shape) const {
        const double beyond = reach(0.0, shape.height);
        const auto along = [&](double half) { return Structure{edge_step(), -half - beyond, half + beyond, 0.0}; };
        return {along(shape.half_width.x()), along(shape.half_width.y())};
    }
};

// Tangent of the largest angle between the part's normal and a way of light to the lens or from the emitter.
double flattest_way(const sensor::TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    const receiver::Receiver& r = setup.instrument.receiver;
    const double lens = std::atan(std::max(r.aperture.half_in_plane, r.aperture.half_out_of_plane) / r.object_distance);
    double turned = lens;
    for (const scenario::Pair& tilt : {s.mount.tilt, s.target.tilt}) turned += std::hypot(tilt[0], tilt[1]);
    const double view = std::max(std::abs(r.angle), std::abs(r.emitter_angle)) + turned;
    constexpr double flattest = 80.0 * base::degree;
    constexpr double spare = 1.25;  // the lens is nearer to a part before its reference point
    return spare * std::tan(std::min(view, flattest));
}

// What stays the same along one direction of the surface: across it, its structure.
struct Lines {
    Vector2d across = Vector2d::UnitX();  // unit, in the shape's x and y
    Structure structure;                  // along `across`
};

// Along the shape's axes. Lines that run along one of them make no difference there; lines aslant do along both.
std::array<Structure, 2> of_lines(const Lines& lines) {
    std::array<Structure, 2> both;
    constexpr double parallel = 1e-9;
    for (std::size_t axis = 0; axis < 2; ++axis) {
        const double share = lines.across[static_cast<Eigen::Index>(axis)];
        const double other = lines.across[static_cast<Eigen::Index>(1 - axis)];
        if (std::abs(share) < parallel) continue;
        both[axis].step = lines.structure.step;
        if (std::abs(other) >= parallel) continue;
        both[axis] = lines.structure;
        if (share < 0.0) {
            both[axis].first = -lines.structure.last;
            both[axis].last = -lines.structure.first;
        }
    }
    return both;
}

// Where both make a difference, one of them repeats or ends no more for the other.
Structure joined(const Structure& a, const Structure& b) {
    if (a.step <= 0.0) return b;
    if (b.step <= 0.0) return a;
    Structure both;
    both.step = std::min(a.step, b.step);
    if (a.period <= 0.0 && b.period <= 0.0) {
        both.first = std::min(a.first, b.first);
        both.last = std::max(a.last, b.last);
    }
    return both;
}

class StructureOfMarkings {
public:
    StructureOfMarkings(const MovedPart& part, double radius) : part_(part), radius_(radius) {}

    [[nodiscard]] std::array<Structure, 2> all() const {
        std::array<Structure, 2> both;
        const auto& markings = part_.prototype().markings;
        if (!markings) return both;
        const auto add = [&both](const std::array<Structure, 2>& more) {
            for (std::size_t axis = 0; axis < 2; ++axis) both[axis] = joined(both[axis], more[axis]);
        };
        const Structure anywhere{step()};
        if (markings->texture) add({anywhere, anywhere});
        if (markings->feed_marks) {
            const double spacing = markings->feed_marks->spacing;
            const Structure groove{std::min(step(), spacing / 16.0), 0.0, 0.0, spacing};
            add(of_lines({across(markings->feed_axes), groove}));
        }
        if (markings->cover) add(of(*markings->cover));
        return both;
    }

private:
    // The spot blurs whatever is finer.
    [[nodiscard]] double step() const { return radius_ / 8.0; }

    // The x of markings in the shape's x and y.
    [[nodiscard]] Vector2d across(const target::SurfaceAxes& axes) const {
        const Vector3d on_part(std::cos(axes.turn), std::sin(axes.turn), 0.0);
        return (part_.prototype().axes.transpose() * part_.prototype().markings->axes * on_part).head<2>();
    }

    [[nodiscard]] std::array<Structure, 2> of(const target::Cover& cover) const {
        const Structure anywhere{step()};
        const auto border = [&](const target::Border& one) {
            const Vector2d direction = across(cover.axes);
            const Vector2d along(std::cos(cover.axes.turn), std::sin(cover.axes.turn));
            const double at = along.dot(cover.axes.origin) - direction.dot(part_.written_offset());
            const double reach = 3.0 * radius_ + 0.5 * one.softness;
            return of_lines({direction, Structure{step(), at - reach, at + reach, 0.0}});
        };
        const auto bars = [&](const target::Bars& one) {
            return of_lines({across(cover.axes), Structure{std::min(step(), one.period), 0.0, 0.0, one.period}});
        };
        // The mask of a segment: x of the offset is the place along the segments, where the image of a share of a
        // Gaussian spot is smooth.
        const auto segment = [&](const target::AllBut& one) {
            return std::array<Structure, 2>{Structure{2.0 * step(), 0.0, 0.0, one.run}, Structure{}};
        };
        const auto other = [&](const auto& /*pattern*/) { return std::array<Structure, 2>{anywhere, anywhere}; };
        return std::visit(base::Cases{border, bars, segment, other}, cover.pattern);
    }

    const MovedPart& part_;
    double radius_;
};

}  // namespace

std::array<Structure, 2> structure_of(const sensor::TriangulationSetup& setup, const MovedPart& part, double radius) {
    const std::array<Structure, 2> marked = StructureOfMarkings(part, radius).all();
    if (part.is_segment()) return marked;
    std::array<Structure, 2> both = std::visit(StructureOfShape{radius, flattest_way(setup)}, part.prototype().shape);
    for (std::size_t axis = 0; axis < 2; ++axis) both[axis] = joined(both[axis], marked[axis]);
    return both;
}

bool has_edges(const target::Shape& shape) {
    return std::holds_alternative<target::Extrusion>(shape) || std::holds_alternative<target::HeightMap>(shape) ||
           std::holds_alternative<target::Block>(shape);
}

}  // namespace spotwright::measure
