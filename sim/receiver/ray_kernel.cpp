// Rays followed side by side, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/ray_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/optics_lanes-inl.hpp"

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

// A beam's ray, before it is made a unit vector.
struct BeamLanes {
    Real3 axis;
    Real3 side;
    Real3 side_out;
    Real radius;
    Real radius_out;
    Real slope;
    Real slope_out;
    Real spread;
    Real spread_out;

    BeamLanes(const emitter::Beam& beam, double along, const Receiver& receiver)
        : axis(constant3(direction_to_receiver(receiver, beam.direction))),
          side(constant3(direction_to_receiver(receiver, beam.axes[0]))),
          side_out(constant3(direction_to_receiver(receiver, beam.axes[1]))),
          radius(emitter::radius_at(beam, 0, along)),
          radius_out(emitter::radius_at(beam, 1, along)),
          slope(emitter::radius_slope_at(beam, 0, along)),
          slope_out(emitter::radius_slope_at(beam, 1, along)),
          spread(Real(beam.beam_quality * beam.wavelength / base::pi) / radius),
          spread_out(Real(beam.beam_quality * beam.wavelength / base::pi) / radius_out) {}
};

void light_flat_kernel(const emitter::Beam& beam, double along, const FlatTarget& target, const Receiver& receiver,
                       const SampleBatch& samples, LitBatch& lit) {
    const BeamLanes b(beam, along, receiver);
    const TravelLanes travelled(beam, along, receiver);
    // Seen from where the axis of the beam stands at `along`, so that no digits are lost in the distance.
    const Eigen::Vector3d foot = beam.face + along * beam.direction;
    const ReceiverPoint from = to_receiver(receiver, foot);
    const Real height(target.normal.dot(foot - target.place));
    const Real3 normal = constant3(direction_to_receiver(receiver, target.normal));
    lit.count = samples.count;
    for (std::size_t i = 0; i < samples.count; i += hn::Lanes(RealTag())) {
        const Real x = Real::load(samples.offset.data() + i);
        const Real y = Real::load(samples.offset_out.data() + i);
        const Real turn = x * b.slope + Real::load(samples.spread.data() + i) * b.spread;
        const Real turn_out = y * b.slope_out + Real::load(samples.spread_out.data() + i) * b.spread_out;
        const Real3 beside = (x * b.radius) * b.side + (y * b.radius_out) * b.side_out;
        const Real3 way = b.axis + turn * b.side + turn_out * b.side_out;
        const Real length = root(Real(1.0) + turn * turn + turn_out * turn_out);
        const Real fall = -dot(normal, way);
        // Along the ray from the plane through the foot; the ray begins `along` before it.
        const Real onward = (height + dot(normal, beside)) / fall;
        const Real3 moved = beside + onward * way;
        const RealMask meets = both(fall > Real(0.0), Real(along) + onward * length > Real(0.0));
        store3({Real(from.axial) - moved.axial, Real(from.transverse) + moved.transverse,
                Real(from.out_of_plane) + moved.out_of_plane},
               lit.place, i);
        const Real shrink = Real(-1.0) / length;
        store3(shrink * way, lit.to_light, i);
        store3(normal, lit.normal, i);
        only(meets, Real::load(samples.power.data() + i)).store(lit.power.data() + i);
        if (lit.timed) travelled(moved).store(lit.travelled.data() + i);
    }
}

void scatter_kernel(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                    const LitBatch& lit, const SampleBatch& samples, CollectedBatch& out) {
    const ScatterLanes scatter(surface, light);
    const ArrayLanes array(receiver);
    const Real area(area_of(receiver.aperture) * receiver.transmission);
    out.count = lit.count;
    out.mirrored = false;
    for (std::size_t i = 0; i < lit.count; i += hn::Lanes(RealTag())) {
        const Real3 place = load3(lit.place, i);
        const Real3 normal = load3(lit.normal, i);
        const Real in_plane = Real::load(samples.in_plane.data() + i);
        const Real through_out = Real::load(samples.through_out.data() + i);
        const Real3 path{place.axial, in_plane - place.transverse, through_out - place.out_of_plane};
        const Real distance2 = dot(path, path);
        const Real3 to_view = (Real(1.0) / root(distance2)) * path;
        const Real cos_view = dot(normal, to_view);
        const Real factor = to_view.axial / distance2 * area;
        const Real power =
            Real::load(lit.power.data() + i) * scatter(load3(lit.to_light, i), to_view, normal) * cos_view * factor;
        const ArrayLanes::Landing landing = array.trace(place, in_plane, through_out);
        only(both(cos_view > Real(0.0), landing.arrives), power).store(out.power.data() + i);
        landing.u.store(out.u.data() + i);
        landing.v.store(out.v.data() + i);
        in_plane.store(out.in_plane.data() + i);
        through_out.store(out.out_of_plane.data() + i);
        if (lit.timed) {
            (Real::load(lit.travelled.data() + i) + array.path(place, landing)).store(out.path.data() + i);
        }
    }
}

// A mirrored ray as it leaves the part for good.
struct Leaving {
    Real3 place;
    Real share;  // of the incident power
    Real path;   // beyond the front face. [m]
};

// Light that goes on in the mirrored direction, from where `leave` says, through the aperture or past it.
template <class Leave>
HWY_INLINE void pass_on(const emitter::Polarisation& light, const Receiver& receiver, const LitBatch& lit,
                        const Leave& leave, CollectedBatch& out) {
    const PolarisationLanes polarisation(light);
    const ArrayLanes array(receiver);
    const Aperture& aperture = receiver.aperture;
    const bool round = aperture.shape == ApertureShape::round;
    const Real half(aperture.half_in_plane);
    const Real half_out(aperture.half_out_of_plane);
    const Real transmission(receiver.transmission);
    const Real zero(0.0);
    out.count = lit.count;
    out.mirrored = true;
    for (std::size_t i = 0; i < lit.count; i += hn::Lanes(RealTag())) {
        const Real3 normal = load3(lit.normal, i);
        const Real3 to_light = load3(lit.to_light, i);
        const Real cosine = dot(to_light, normal);
        const Leaving leaving =
            leave(load3(lit.place, i), cosine * normal - to_light, cosine, polarisation.s_share(to_light, normal));
        const Real3& place = leaving.place;
        const Real3 way = (Real(2.0) * cosine) * normal - to_light;
        const Real3 seen =
            array.bare ? place : array.lifted(place, way.axial * array.cos_mount + way.transverse * array.sin_mount);
        const Real length = seen.axial / way.axial;
        const Real in_plane = seen.transverse + way.transverse * length;
        const Real out_of_plane = seen.out_of_plane + way.out_of_plane * length;
        const RealMask inside = round ? in_plane * in_plane + out_of_plane * out_of_plane <= half * half
                                      : both(magnitude(in_plane) <= half, magnitude(out_of_plane) <= half_out);
        const RealMask forward = both(both(way.axial > zero, place.axial > zero), cosine > zero);
        const ArrayLanes::Landing landing = array.trace(place, in_plane, out_of_plane);
        const Real power = Real::load(lit.power.data() + i) * leaving.share * transmission;
        only(both(both(inside, forward), landing.arrives), power).store(out.power.data() + i);
        landing.u.store(out.u.data() + i);
        landing.v.store(out.v.data() + i);
        in_plane.store(out.in_plane.data() + i);
        out_of_plane.store(out.out_of_plane.data() + i);
        if (lit.timed) {
            const Real until = Real::load(lit.travelled.data() + i) + leaving.path;
            (until + array.path(place, landing)).store(out.path.data() + i);
        }
    }
}

void mirror_kernel(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                   const LitBatch& lit, CollectedBatch& out) {
    const LobeLanes lobe(*surface.gloss);
    const auto leave = [&lobe](const Real3& place, const Real3& /*along*/, Real cosine, Real s_share) HWY_ATTR {
        return Leaving{place, lobe.mirror_share(cosine) * lobe.interface.reflectance(cosine).mean(s_share), Real(0.0)};
    };
    pass_on(light, receiver, lit, leave, out);
}

HWY_INLINE Real to_power(Real x, int exponent) {
    Real product(1.0);
    for (int i = 0; i < exponent; ++i) product = product * x;
    return product;
}

void plate_mirror_kernel(const target::Surface& surface, const emitter::Polarisation& light, const target::Slab& slab,
                         const PlatePath& path, const Receiver& receiver, const LitBatch& lit, CollectedBatch& out) {
    const LobeLanes lobe(*surface.gloss);
    const FresnelLanes face({surface.gloss->index.real(), 0.0});
    const bool to_backing = path.mirrors > 0;
    const LobeLanes metal(to_backing ? *slab.backing->gloss : *surface.gloss);
    const Real index = face.n;
    const Real through_plate(2.0 * path.plate_passes * slab.thickness);
    const Real through_gap(2.0 * path.gap_passes * slab.gap);
    const auto leave = [&](const Real3& place, const Real3& along, Real cosine, Real s_share) HWY_ATTR {
        const Real one(1.0);
        // n cos t' = sqrt(n^2 - sin^2 t), and tan t' = sin t / (n cos t'); `along` has the length of sin t.
        const Real refracted = root(index * index - (one - cosine * cosine));
        const FresnelLanes::Powers r = face.reflectance(cosine);
        Real s = to_power(one - r.s, path.passed_faces) * to_power(r.s, path.reflections);
        Real p = to_power(one - r.p, path.passed_faces) * to_power(r.p, path.reflections);
        Real smooth = lobe.mirror_share(cosine);
        if (to_backing) {
            const FresnelLanes::Powers m = metal.interface.reflectance(cosine);
            s = s * to_power(m.s, path.mirrors);
            p = p * to_power(m.p, path.mirrors);
            smooth = smooth * to_power(metal.mirror_share(cosine), path.mirrors);
        }
        const Real beside = through_plate / refracted + through_gap / larger(cosine, Real(1e-12));
        const Real length = through_plate * index * index / refracted + through_gap / larger(cosine, Real(1e-12));
        const Real3 exit{place.axial - beside * along.axial, place.transverse + beside * along.transverse,
                         place.out_of_plane + beside * along.out_of_plane};
        return Leaving{exit, Real(path.coefficient) * FresnelLanes::Powers{s, p}.mean(s_share) * smooth, length};
    };
    pass_on(light, receiver, lit, leave, out);
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(light_flat_kernel);
HWY_EXPORT(scatter_kernel);
HWY_EXPORT(mirror_kernel);
HWY_EXPORT(plate_mirror_kernel);

// Equation (target.4).
void light_flat(const emitter::Beam& beam, double along, const FlatTarget& target, const Receiver& receiver,
                const SampleBatch& samples, LitBatch& lit) {
    HWY_DYNAMIC_DISPATCH(light_flat_kernel)(beam, along, target, receiver, samples, lit);
}

void scatter_to_array(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                      const LitBatch& lit, const SampleBatch& samples, CollectedBatch& collected) {
    HWY_DYNAMIC_DISPATCH(scatter_kernel)(surface, light, receiver, lit, samples, collected);
}

void mirror_to_array(const target::Surface& surface, const emitter::Polarisation& light, const Receiver& receiver,
                     const LitBatch& lit, CollectedBatch& collected) {
    HWY_DYNAMIC_DISPATCH(mirror_kernel)(surface, light, receiver, lit, collected);
}

void plate_mirror_to_array(const target::Surface& surface, const emitter::Polarisation& light, const target::Slab& slab,
                           const PlatePath& path, const Receiver& receiver, const LitBatch& lit,
                           CollectedBatch& collected) {
    HWY_DYNAMIC_DISPATCH(plate_mirror_kernel)(surface, light, slab, path, receiver, lit, collected);
}

}  // namespace spotwright::receiver
#endif
