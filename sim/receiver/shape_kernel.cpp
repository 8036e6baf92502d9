// Rays of the beam and light on its way to the lens against profiles of straight pieces, several side by side; one
// build per instruction set, chosen at run time.
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
    HWY_INLINE Real3 place_at(const Real3& way) const {
        return {origin.axial - way.axial, origin.transverse + way.transverse, origin.out_of_plane + way.out_of_plane};
    }
    // Coordinates x, y, z of a direction of the receiver's axes.
    HWY_INLINE Real3 into(const Real3& v) const { return {dot(x, v), dot(y, v), dot(z, v)}; }
};

// Where a ray first meets a profile of straight pieces; see `target::meet`.
struct ProfileHit {
    Real distance;
    Real normal_x;
    Real normal_z;
};

class ProfileLanes {
public:
    explicit ProfileLanes(const target::Extrusion& shape) : points_(&shape.points) {}

    // Beyond `nearest`; infinitely far for a ray that misses. Places by shape axes: x, then y, then z.
    HWY_INLINE ProfileHit meet(const Real3& from, const Real3& way, Real nearest) const {
        const Real far(std::numeric_limits<double>::infinity());
        ProfileHit best{far, Real(0.0), Real(1.0)};
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
    static HWY_INLINE void keep(RealMask where, Real distance, Real normal_x, Real normal_z, ProfileHit& best) {
        best.distance = select(where, distance, best.distance);
        best.normal_x = select(where, normal_x, best.normal_x);
        best.normal_z = select(where, normal_z, best.normal_z);
    }

    const std::vector<Eigen::Vector2d>* points_;
};

void light_profile_kernel(const emitter::Beam& beam, double along, const target::Part& part,
                          const target::Extrusion& shape, const Receiver& receiver, const SampleBatch& samples,
                          LitBatch& lit) {
    const FrameLanes frame(part, receiver);
    const ProfileLanes profile(shape);
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
        const ProfileHit hit = profile.meet(frame.into(from), frame.into(way), Real(0.0));
        const RealMask meets = hit.distance < Real(std::numeric_limits<double>::infinity());
        const Real distance = select(meets, hit.distance, Real(along));
        const Real3 at = from + distance * way;
        store3(frame.place_at(at), lit.place, i);
        store3(Real(-1.0) * way, lit.to_light, i);
        store3(hit.normal_x * frame.x + hit.normal_z * frame.z, lit.normal, i);
        only(meets, Real::load(samples.power.data() + i)).store(lit.power.data() + i);
        (Real(along) + dot(at - foot, axis)).store(lit.travelled.data() + i);
    }
}

void hide_profile_kernel(const target::Part& part, const target::Extrusion& shape, const Receiver& receiver,
                         const LitBatch& lit, CollectedBatch& collected) {
    const FrameLanes frame(part, receiver);
    const ProfileLanes profile(shape);
    for (std::size_t i = 0; i < lit.count; i += hn::Lanes(RealTag())) {
        const Real power = Real::load(collected.power.data() + i);
        const Real3 place = load3(lit.place, i);
        const Real3 way{place.axial, Real::load(collected.in_plane.data() + i) - place.transverse,
                        Real::load(collected.out_of_plane.data() + i) - place.out_of_plane};
        const Real length = root(dot(way, way));
        const Real3 unit = (Real(1.0) / length) * way;
        const ProfileHit hit =
            profile.meet(frame.into(frame.from_origin(place)), frame.into(unit), Real(target::own_neighbourhood));
        only(length <= hit.distance, power).store(collected.power.data() + i);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(light_profile_kernel);
HWY_EXPORT(hide_profile_kernel);

void light_profile(const emitter::Beam& beam, double along, const target::Part& part, const target::Extrusion& shape,
                   const Receiver& receiver, const SampleBatch& samples, LitBatch& lit) {
    HWY_DYNAMIC_DISPATCH(light_profile_kernel)(beam, along, part, shape, receiver, samples, lit);
}

void hide_by_profile(const target::Part& part, const target::Extrusion& shape, const Receiver& receiver,
                     const LitBatch& lit, CollectedBatch& collected) {
    HWY_DYNAMIC_DISPATCH(hide_profile_kernel)(part, shape, receiver, lit, collected);
}

}  // namespace spotwright::receiver
#endif
