// Rays drawn from a lattice, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/sample_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/real_lanes-inl.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/ray_batch.hpp"

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

// Offsets drawn across the beam, and the beam's Gaussian, sqrt(2 / pi) exp(-2 x^2), over the density of the draw.
struct Drawn {
    Real offset;
    Real weight;
};

// Beyond three radii lies 4e-9 of the light; it is left out, for the array would have to be gathered far and wide.
HWY_INLINE Real gaussian(Real x) {
    constexpr double reach = 3.0;
    const double scale = std::sqrt(2.0 / base::pi);
    return only(magnitude(x) < Real(reach), Real(scale) * exp_of_negative(Real(-2.0) * x * x));
}

// Along the array: x = a s / sqrt(1 - s^2), s = 2 t - 1, of density (1 + x^2 / a^2)^(-3/2) / (2 a). It follows the
// Gaussian within a few tenths, takes more rays from its flanks, and with all derivatives of the quotient it falls to 0
// at both ends, as lattice rules like it.
// Equation (receiver.11b).
HWY_INLINE Drawn draw_along(Real t) {
    constexpr double a = 0.6;
    const Real s = t + t - Real(1.0);
    const Real rest = Real(1.0) - s * s;
    const Real inverse_root = Real(1.0) / root(rest);
    const Real offset = Real(a) * s * inverse_root;
    return {offset, gaussian(offset) * Real(2.0 * a) * inverse_root * inverse_root * inverse_root};
}

// Across it: offsets distributed as the Gaussian itself, half the quantile of the standard normal distribution, so that
// all rays carry the same power and neighbouring pixels differ by no chance of weights. Relative error of the quantile
// 1.2e-9; source: rational approximations of P. J. Acklam (2003), from memory, held against Boost's by a test.
HWY_INLINE Drawn draw_across(Real t) {
    const Real one(1.0);
    const Real q = t - Real(0.5);
    const Real r = q * q;
    Real top(-3.969683028665376e+01);
    for (const double c : {2.209460984245205e+02, -2.759285104469687e+02, 1.383577518672690e+02, -3.066479806614716e+01,
                           2.506628277459239e+00}) {
        top = top * r + Real(c);
    }
    Real bottom(-5.447609879822406e+01);
    for (const double c :
         {1.615858368580409e+02, -1.556989798598866e+02, 6.680131188771972e+01, -1.328068155288572e+01, 1.0}) {
        bottom = bottom * r + Real(c);
    }
    const Real central = top * q / bottom;
    constexpr double end_of_tail = 0.02425;
    const Real rare = smaller(t, one - t);
    const RealMask is_rare = rare < Real(end_of_tail);
    // Most vectors hold no tail, and a tail takes longer than all the rest.
    if (hn::AllFalse(RealTag(), is_rare)) return {Real(0.5) * central, one};
    const Real far = root(Real(-2.0) * logarithm(rare));
    Real tail_top(-7.784894002430293e-03);
    for (const double c : {-3.223964580411365e-01, -2.400758277161838e+00, -2.549732539343734e+00,
                           4.374664141464968e+00, 2.938163982698783e+00}) {
        tail_top = tail_top * far + Real(c);
    }
    Real tail_bottom(7.784695709041462e-03);
    for (const double c : {3.224671290700398e-01, 2.445134137142996e+00, 3.754408661907416e+00, 1.0}) {
        tail_bottom = tail_bottom * far + Real(c);
    }
    const Real lower = tail_top / tail_bottom;
    const Real tail = select(q < Real(0.0), lower, -lower);
    return {Real(0.5) * select(is_rare, tail, central), one};
}

// See `BeamWindow`. The density is 1 in the window and 1 / (1 + d / fade)^2 at a distance d from it; its integral from
// the window outwards is d / (1 + d / fade), which is easily turned about.
struct WindowLanes {
    Real from;
    Real to;
    Real inverse_fade;
    Real below;  // integral on either side, and of all
    Real below_and_in;
    Real all;
    bool whole;

    explicit WindowLanes(const BeamWindow& window)
        : from(window.from), to(window.to), inverse_fade(1.0 / window.fade), whole(window == BeamWindow{}) {
        const auto tail = [&window](double length) { return length / (1.0 + length / window.fade); };
        const double before = tail(window.from + target::beam_reach);
        const double behind = tail(target::beam_reach - window.to);
        below = Real(before);
        below_and_in = Real(before + (window.to - window.from));
        all = Real(before + (window.to - window.from) + behind);
    }

    HWY_INLINE Drawn operator()(Real t) const {
        const Real sum = t * all;
        const Real one(1.0);
        const RealMask is_below = sum < below;
        const RealMask is_behind = sum > below_and_in;
        const Real part = only(is_below, below - sum) + only(is_behind, sum - below_and_in);
        const Real distance = part / (one - part * inverse_fade);
        const Real inside = from + (sum - below);
        const Real offset = select(is_below, from - distance, select(is_behind, to + distance, inside));
        const Real sparse = one + distance * inverse_fade;
        return {offset, gaussian(offset) * all * sparse * sparse};
    }
};

// sin and cos of 2 pi t, t in [0, 1], within 1e-12: by series about the nearest quarter turn.
struct Turn {
    Real sine;
    Real cosine;

    explicit HWY_INLINE Turn(Real t) {
        const Real magic(6755399441055744.0);
        const Real quarter = (Real(4.0) * t + magic) - magic;
        const Real x = (Real(4.0) * t - quarter) * Real(0.5 * base::pi);
        const Real x2 = x * x;
        Real s(-1.0 / 39916800.0);
        for (const double c : {1.0 / 362880.0, -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0}) s = s * x2 + Real(c);
        s = s * x;
        Real c(1.0 / 479001600.0);
        for (const double k : {-1.0 / 3628800.0, 1.0 / 40320.0, -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0})
            c = c * x2 + Real(k);
        const RealMask is_odd = magnitude(magnitude(quarter - Real(2.0)) - Real(1.0)) < Real(0.5);
        const RealMask sine_falls = both(Real(1.5) < quarter, quarter < Real(3.5));
        const RealMask cosine_falls = both(Real(0.5) < quarter, quarter < Real(2.5));
        const Real sine_size = select(is_odd, c, s);
        const Real cosine_size = select(is_odd, s, c);
        sine = select(sine_falls, -sine_size, sine_size);
        cosine = select(cosine_falls, -cosine_size, cosine_size);
    }
};

// As `aperture_point`.
HWY_INLINE void place_in_aperture(const Aperture& aperture, Real first, Real second, Real& in_plane,
                                  Real& out_of_plane) {
    const auto folded = [](Real t) { return select(t < Real(0.5), Real(2.0) * t, Real(2.0) - Real(2.0) * t); };
    const Real one(1.0);
    if (aperture.shape == ApertureShape::rectangular) {
        in_plane = (Real(2.0) * folded(first) - one) * Real(aperture.half_in_plane);
        out_of_plane = (Real(2.0) * folded(second) - one) * Real(aperture.half_out_of_plane);
        return;
    }
    const Real radius = Real(aperture.half_in_plane) * root(folded(first));
    const Turn turn(second);
    in_plane = radius * turn.cosine;
    out_of_plane = radius * turn.sine;
}

// Coordinates of the lattice become rays.
void draw_samples_kernel(const SamplePlan& plan, double power, const LatticePoints& places, SampleBatch& samples) {
    const WindowLanes window(plan.window);
    const Real each(power);
    for (std::size_t i = 0; i < samples.count; i += hn::Lanes(RealTag())) {
        const auto coordinate = [&places, i](std::size_t d) { return Real::load(places[d].data() + i); };
        const Drawn x = draw_along(coordinate(0));
        const Drawn y = window.whole ? draw_across(coordinate(1)) : window(coordinate(1));
        x.offset.store(samples.offset.data() + i);
        y.offset.store(samples.offset_out.data() + i);
        Real weight = each * x.weight * y.weight;
        if (plan.aperture) {
            Real in_plane;
            Real through_out;
            place_in_aperture(*plan.aperture, coordinate(2), coordinate(3), in_plane, through_out);
            in_plane.store(samples.in_plane.data() + i);
            through_out.store(samples.through_out.data() + i);
        }
        if (plan.spread) {
            const std::size_t d = plan.aperture ? 4 : 2;
            const Drawn spread = draw_across(coordinate(d));
            const Drawn spread_out = draw_across(coordinate(d + 1));
            weight = weight * spread.weight * spread_out.weight;
            spread.offset.store(samples.spread.data() + i);
            spread_out.offset.store(samples.spread_out.data() + i);
        } else {
            Real(0.0).store(samples.spread.data() + i);
            Real(0.0).store(samples.spread_out.data() + i);
        }
        weight.store(samples.power.data() + i);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(draw_samples_kernel);

void draw_samples(const SamplePlan& plan, const Lattice& lattice, std::int64_t part, std::int64_t first,
                  SampleBatch& samples) {
    const std::int64_t left = lattice.count / lattice_parts - first;
    samples.count = std::min(batch_rays, static_cast<std::size_t>(left));
    LatticePoints places;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled below
    fill_points(lattice, part, first, samples.count, plan.dimensions(), places);
    HWY_DYNAMIC_DISPATCH(draw_samples_kernel)(plan, plan.power / static_cast<double>(lattice.count), places, samples);
}

}  // namespace spotwright::receiver
#endif
