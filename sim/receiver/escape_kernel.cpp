// Light that leaves a translucent part, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/escape_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/optics_lanes-inl.hpp"

#include <limits>

#include "sim/base/constants.hpp"
#include "sim/receiver/escape_batch.hpp"

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

// tan t of the ray outside, from Newton's iteration as in `target::exit_ray`; the depth is small against the height, so
// that the start is good to the ratio of both, and each step squares that. Each lane stops by itself, so that the width
// of a vector does not matter.
HWY_INLINE Real tangent_outside(Real height, Real depth, Real distance, double index) {
    const Real square(index * index);
    const Real bent((index - 1.0) * (index + 1.0));
    Real u = distance / (height + depth * Real(1.0 / index));
    RealMask going = height > Real(0.0);
    for (int i = 0; i < 12 && !hn::AllFalse(RealTag(), going); ++i) {
        const Real root2 = square + bent * u * u;
        const Real inverse = Real(1.0) / root(root2);
        const Real step =
            (distance - height * u - depth * u * inverse) / (height + depth * square * inverse * inverse * inverse);
        u = select(going, u + step, u);
        going = both(going, magnitude(step) > Real(1e-7) * u + Real(1e-12));
    }
    return u;
}

// 1 - R of Fresnel's equations for unpolarised light, from both cosines.
HWY_INLINE Real passed_share(Real outside, Real inside, double index) {
    const Real n(index);
    const Real s = (outside - n * inside) / (outside + n * inside);
    const Real p = (n * outside - inside) / (n * outside + inside);
    return Real(1.0) - Real(0.5) * (s * s + p * p);
}

// Per steradian.
HWY_INLINE Real share_towards(Real spread, Real cos_turn, Real cos_inside, double anisotropy) {
    const double g2 = anisotropy * anisotropy;
    const Real distance = Real(1.0 + g2) - Real(2.0 * anisotropy) * cos_turn;
    const Real forward = Real((1.0 - g2) / (4.0 * base::pi)) / (distance * root(distance));
    const Real backing = cos_inside * Real(1.0 / base::pi);
    const Real others = select(spread > Real(0.5 * (spread_forward + spread_by_backing)), backing, forward);
    return select(spread < Real(0.5 * spread_forward), Real(0.25 / base::pi), others);
}

void follow_out_kernel(const LensView& view, double anisotropy, EscapeBatch& b) {
    const ArrayLanes array(*view.receiver);
    const double n = view.index;
    const Real taken(view.area * view.receiver->transmission / (n * n));
    const Real infinite(std::numeric_limits<double>::infinity());
    for (std::size_t i = 0; i < b.count; i += hn::Lanes(RealTag())) {
        const Real in_plane = Real::load(b.in_plane.data() + i);
        const Real out_of_plane = Real::load(b.out_of_plane.data() + i);
        const auto through = [&](int axis) {
            return Real(view.centre[axis]) + in_plane * Real(view.in_plane[axis]) +
                   out_of_plane * Real(view.across[axis]);
        };
        const Real height = through(2);
        const Real depth = Real::load(b.depth.data() + i);
        const Real from_x = Real::load(b.from_x.data() + i);
        const Real from_y = Real::load(b.from_y.data() + i);
        const Real beside_x = through(0) - from_x;
        const Real beside_y = through(1) - from_y;
        const Real distance = root(beside_x * beside_x + beside_y * beside_y);
        const Real u = tangent_outside(height, depth, distance, n);
        const Real cosine = Real(1.0) / root(Real(1.0) + u * u);
        const Real sine_inside = u * cosine * Real(1.0 / n);
        const Real cos_inside = root(Real(1.0) - sine_inside * sine_inside);
        const RealMask upright = distance <= Real(0.0);
        const Real inverse = Real(1.0) / select(upright, Real(1.0), distance);
        const Real unit_x = select(upright, Real(1.0), beside_x * inverse);
        const Real unit_y = beside_y * inverse;
        const Real inside = depth / cos_inside;
        const Real exit_x = from_x + inside * sine_inside * unit_x;
        const Real exit_y = from_y + inside * sine_inside * unit_y;
        const Real cos_lens =
            u * cosine * (unit_x * Real(view.lens[0]) + unit_y * Real(view.lens[1])) + cosine * Real(view.lens[2]);
        const Real ratio = cosine / cos_inside;
        const Real length = inside * Real(1.0 / n);
        const Real outside = height / cosine;
        const Real solid_angle = taken * ratio * cos_lens / ((outside + length) * (outside + length * ratio * ratio));
        const Real cos_turn = Real::load(b.before_x.data() + i) * sine_inside * unit_x +
                              Real::load(b.before_y.data() + i) * sine_inside * unit_y +
                              Real::load(b.before_z.data() + i) * cos_inside;
        const Real phase = share_towards(Real::load(b.spread.data() + i), cos_turn, cos_inside, anisotropy);
        const Real kept = exp_of_negative(-(Real::load(b.extinction.data() + i) * inside));
        const Real light =
            Real::load(b.power.data() + i) * phase * kept * passed_share(cosine, cos_inside, n) * solid_angle;
        only(both(height > Real(0.0), cos_lens > Real(0.0)), light).store(b.light.data() + i);
        exit_x.store(b.exit_x.data() + i);
        exit_y.store(b.exit_y.data() + i);
        (Real(n) * inside).store(b.way.data() + i);
        for (std::size_t k = 0; k < EscapeBatch::neighbours; ++k) {
            const Real at_x = exit_x + Real::load(b.beside_x[k].data() + i);
            const Real at_y = exit_y + Real::load(b.beside_y[k].data() + i);
            const Real3 place = constant3({view.from.axial, view.from.transverse, view.from.out_of_plane}) +
                                (at_x * constant3(view.along_x) + at_y * constant3(view.along_y));
            const auto landing = array.trace(place, in_plane, out_of_plane);
            select(landing.arrives, landing.u, infinite).store(b.u[k].data() + i);
            landing.v.store(b.v[k].data() + i);
        }
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(follow_out_kernel);

void follow_out(const LensView& view, double anisotropy, EscapeBatch& batch) {
    HWY_DYNAMIC_DISPATCH(follow_out_kernel)(view, anisotropy, batch);
}

}  // namespace spotwright::receiver
#endif
