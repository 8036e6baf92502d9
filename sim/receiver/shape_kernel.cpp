// Rays of the beam and light on its way to the lens against shapes, several side by side; one build per instruction
// set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/shape_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/optics_lanes-inl.hpp"

#include <limits>

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

// Directions of a shape's own frame in the receiver's axes and back.
struct FrameLanes {
    Real3 x;  // of the shape, in the receiver's axes
    Real3 y;
    Real3 z;
    Real3 origin;  // of the shape: a place

    FrameLanes(const target::Part& part, const Receiver& receiver)
        : x(constant3(direction_to_receiver(receiver, part.axes.col(0)))),
          y(constant3(direction_to_receiver(receiver, part.axes.col(1)))),
          z(constant3(direction_to_receiver(receiver, part.axes.col(2)))) {
        const ReceiverPoint from = to_receiver(receiver, part.origin);
        origin = {Real(from.axial), Real(from.transverse), Real(from.out_of_plane)};
    }

    // Axial places count against axial directions.
    HWY_INLINE Real3 from_origin(const Real3& place) const {
        return {origin.axial - place.axial, place.transverse - origin.transverse,
                place.out_of_plane - origin.out_of_plane};
    }
    HWY_INLINE Real3 part_state_at(const Real3& way) const {
        return {origin.axial - way.axial, origin.transverse + way.transverse, origin.out_of_plane + way.out_of_plane};
    }
    // Coordinates x, y, z of a direction of the receiver's axes.
    HWY_INLINE Real3 into(const Real3& v) const { return {dot(x, v), dot(y, v), dot(z, v)}; }
};

HWY_INLINE Real3 select3(RealMask where, const Real3& yes, const Real3& no) {
    return {select(where, yes.axial, no.axial), select(where, yes.transverse, no.transverse),
            select(where, yes.out_of_plane, no.out_of_plane)};
}

// Where a ray first meets a shape, infinitely far for a ray that misses; see `target::meet`. Places and normals by the
// shape's axes: x, then y, then z.
struct ShapeHit {
    Real distance;
    Real3 normal;
};

// Straight pieces.
class ProfileLanes {
public:
    explicit ProfileLanes(const target::Extrusion& shape) : points_(&shape.points) {}

    HWY_INLINE ShapeHit meet(const Real3& from, const Real3& way, Real nearest) const {
        const Real far(std::numeric_limits<double>::infinity());
        ShapeHit best{far, {Real(0.0), Real(0.0), Real(1.0)}};
        const Real x = from.axial;
        const Real z = from.out_of_plane;
        const Real way_x = way.axial;
        const Real way_z = way.out_of_plane;
        const auto& p = *points_;
        const RealMask falls = way_z < Real(0.0);
        const auto level = [&](double height, double edge, bool left) HWY_ATTR {
            const Real distance = (Real(height) - z) / way_z;
            const Real at = x + distance * way_x;
            const RealMask within = left ? at <= Real(edge) : Real(edge) <= at;
            const RealMask meets = both(both(falls, within), both(distance > nearest, distance < best.distance));
            keep(meets, distance, Real(0.0), Real(1.0), best);
        };
        level(p.front().y(), p.front().x(), true);
        level(p.back().y(), p.back().x(), false);
        for (std::size_t i = 0; i + 1 < p.size(); ++i) {
            const Eigen::Vector2d along = p[i + 1] - p[i];
            const double length2 = along.squaredNorm();
            if (length2 == 0.0) continue;
            const double length = std::sqrt(length2);
            const Real outward_x(-along.y());
            const Real outward_z(along.x());
            const Real from_x = x - Real(p[i].x());
            const Real from_z = z - Real(p[i].y());
            const Real approach = -(outward_x * way_x + outward_z * way_z);
            const Real distance = (outward_x * from_x + outward_z * from_z) / approach;
            const Real share =
                ((from_x + distance * way_x) * Real(along.x()) + (from_z + distance * way_z) * Real(along.y())) *
                Real(1.0 / length2);
            // Neighbours share their point; a little more than the piece, so that no ray slips through between them.
            const Real slack(1e-9);
            const RealMask within = both(-slack <= share, share <= Real(1.0) + slack);
            const RealMask meets =
                both(both(approach > Real(0.0), within), both(distance > nearest, distance < best.distance));
            keep(meets, distance, Real(-along.y() / length), Real(along.x() / length), best);
        }
        return best;
    }

private:
    static HWY_INLINE void keep(RealMask where, Real distance, Real normal_x, Real normal_z, ShapeHit& best) {
        best.distance = select(where, distance, best.distance);
        best.normal.axial = select(where, normal_x, best.normal.axial);
        best.normal.out_of_plane = select(where, normal_z, best.normal.out_of_plane);
    }

    const std::vector<Eigen::Vector2d>* points_;
};

// A roll, of which y does not count, or a ball.
class RoundLanes {
public:
    explicit RoundLanes(const target::Roll& shape) : RoundLanes(shape.radius, shape.concave, 0.0) {}
    explicit RoundLanes(const target::Ball& shape) : RoundLanes(shape.radius, shape.concave, 1.0) {}

    HWY_INLINE ShapeHit meet(const Real3& from, const Real3& way, Real nearest) const {
        const Real far(std::numeric_limits<double>::infinity());
        const Real radius(radius_);
        const Real3 start{from.axial, Real(round_y_) * from.transverse,
                          concave_ ? from.out_of_plane - radius : from.out_of_plane + radius};
        const Real3 across{way.axial, Real(round_y_) * way.transverse, way.out_of_plane};
        // Distances t with t^2 + 2 half_b t + c = 0; the root far from zero first: the other would lose its digits in a
        // difference.
        const Real scale = dot(across, across);
        const Real half_b = dot(start, across) / scale;
        const Real c = (dot(start, start) - radius * radius) / scale;
        const Real discriminant = half_b * half_b - c;
        const Real reach = root(larger(discriminant, Real(0.0)));
        const Real far_root = select(half_b < Real(0.0), reach - half_b, -half_b - reach);
        const Real other = c / far_root;
        const Real distance = concave_ ? larger(far_root, other) : smaller(far_root, other);
        const Real3 outward = (Real(1.0) / radius) * (start + distance * across);
        const Real3 normal = concave_ ? Real(-1.0) * outward : outward;
        RealMask meets = both(both(scale > Real(0.0), Real(0.0) <= discriminant), distance > nearest);
        if (concave_) meets = both(meets, outward.out_of_plane <= Real(0.0));  // not above the rim
        return {select(meets, distance, far), normal};
    }

private:
    RoundLanes(double radius, bool concave, double round_y) : radius_(radius), round_y_(round_y), concave_(concave) {}

    double radius_;
    double round_y_;  // 1 where the shape is round along y too
    bool concave_;
};

// Which lanes a shape has.
template <class Do>
void with_lanes(const target::Shape& shape, const Do& act) {
    if (const auto* profile = std::get_if<target::Extrusion>(&shape)) act(ProfileLanes(*profile));
    if (const auto* roll = std::get_if<target::Roll>(&shape)) act(RoundLanes(*roll));
    if (const auto* ball = std::get_if<target::Ball>(&shape)) act(RoundLanes(*ball));
}

template <class Lanes>
void light(const emitter::Beam& beam, double along, const target::Part& part, const Lanes& shape,
           const Receiver& receiver, const SampleBatch& samples, LitBatch& lit) {
    const FrameLanes frame(part, receiver);
    const TravelLanes travelled(beam, along, receiver);
    const emitter::BeamSection section = emitter::section_at(beam, along);
    const auto in_receiver = [&receiver](const Eigen::Vector3d& v) {
        return constant3(direction_to_receiver(receiver, v));
    };
    const Real3 axis = in_receiver(section.direction);
    const Real3 foot = in_receiver(section.foot - part.origin);
    const Real3 radius = in_receiver(section.radius[0]);
    const Real3 radius_out = in_receiver(section.radius[1]);
    const Real3 slope = in_receiver(section.slope[0]);
    const Real3 slope_out = in_receiver(section.slope[1]);
    const Real3 spread = in_receiver(section.angular_radius[0]);
    const Real3 spread_out = in_receiver(section.angular_radius[1]);
    lit.count = samples.count;
    for (std::size_t i = 0; i < samples.count; i += hn::Lanes(RealTag())) {
        const Real x = Real::load(samples.offset.data() + i);
        const Real y = Real::load(samples.offset_out.data() + i);
        const Real3 turned = axis + x * slope + y * slope_out + Real::load(samples.spread.data() + i) * spread +
                             Real::load(samples.spread_out.data() + i) * spread_out;
        const Real3 way = (Real(1.0) / root(dot(turned, turned))) * turned;
        const Real3 from = foot + x * radius + y * radius_out - Real(along) * way;  // from the shape's origin
        const ShapeHit hit = shape.meet(frame.into(from), frame.into(way), Real(0.0));
        const RealMask meets = hit.distance < Real(std::numeric_limits<double>::infinity());
        const Real distance = select(meets, hit.distance, Real(along));
        const Real3 at = from + distance * way;
        store3(frame.part_state_at(at), lit.place, i);
        store3(Real(-1.0) * way, lit.to_light, i);
        const Real3 normal =
            hit.normal.axial * frame.x + hit.normal.transverse * frame.y + hit.normal.out_of_plane * frame.z;
        store3(select3(meets, normal, Real(-1.0) * way), lit.normal, i);
        only(meets, Real::load(samples.power.data() + i)).store(lit.power.data() + i);
        if (lit.timed) travelled(at - foot).store(lit.travelled.data() + i);
    }
}

template <class Lanes>
void hide(const target::Part& part, const Lanes& shape, const Receiver& receiver, const LitBatch& lit,
          CollectedBatch& collected) {
    const FrameLanes frame(part, receiver);
    for (std::size_t i = 0; i < lit.count; i += hn::Lanes(RealTag())) {
        const Real power = Real::load(collected.power.data() + i);
        const Real3 place = load3(lit.place, i);
        const Real3 way{place.axial, Real::load(collected.in_plane.data() + i) - place.transverse,
                        Real::load(collected.out_of_plane.data() + i) - place.out_of_plane};
        const Real length = root(dot(way, way));
        const Real3 unit = (Real(1.0) / length) * way;
        const ShapeHit hit =
            shape.meet(frame.into(frame.from_origin(place)), frame.into(unit), Real(target::own_neighbourhood));
        only(length <= hit.distance, power).store(collected.power.data() + i);
    }
}

void light_shape_kernel(const emitter::Beam& beam, double along, const target::Part& part, const Receiver& receiver,
                        const SampleBatch& samples, LitBatch& lit) {
    with_lanes(part.shape, [&](const auto& shape) { light(beam, along, part, shape, receiver, samples, lit); });
}

void hide_shape_kernel(const target::Part& part, const Receiver& receiver, const LitBatch& lit,
                       CollectedBatch& collected) {
    with_lanes(part.shape, [&](const auto& shape) { hide(part, shape, receiver, lit, collected); });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(light_shape_kernel);
HWY_EXPORT(hide_shape_kernel);

bool has_shape_kernel(const target::Shape& shape) {
    // Every ray is held against all pieces of a profile.
    constexpr std::size_t most_points = 24;
    const auto* profile = std::get_if<target::Extrusion>(&shape);
    if (profile != nullptr) return profile->points.size() <= most_points;
    return std::holds_alternative<target::Roll>(shape) || std::holds_alternative<target::Ball>(shape);
}

void light_shape(const emitter::Beam& beam, double along, const target::Part& part, const Receiver& receiver,
                 const SampleBatch& samples, LitBatch& lit) {
    HWY_DYNAMIC_DISPATCH(light_shape_kernel)(beam, along, part, receiver, samples, lit);
}

void hide_by_shape(const target::Part& part, const Receiver& receiver, const LitBatch& lit, CollectedBatch& collected) {
    HWY_DYNAMIC_DISPATCH(hide_shape_kernel)(part, receiver, lit, collected);
}

}  // namespace spotwright::receiver
#endif
