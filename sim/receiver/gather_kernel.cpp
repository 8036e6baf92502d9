// Sums of rays on the array, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/gather_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/real_lanes-inl.hpp"

#include "sim/receiver/gather.hpp"

// Vectors have no value of their own to begin with; each is set where it is made.
// NOLINTBEGIN(cppcoreguidelines-pro-type-member-init)
HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

// The terms of one ray fill as many vectors as they need; each is summed by itself, so the width of a vector does not
// matter to the result.
using TermTag = hn::CappedTag<double, pattern_terms>;

// Where the terms of the distances of many rays are found: four entries of the table with the shares of Lagrange's
// cubic. Beyond the table the last entry stands for all, but the first term, which has a tail of its own.
struct TermPlaces {
    alignas(64) Lane entry;
    std::array<Lane, 4> share;
    alignas(64) Lane correction;  // of the first term

    HWY_INLINE void find(const GatherPlan& plan, std::size_t i, Real distance) {
        constexpr double steps = round_aperture_steps_per_unit;
        constexpr double end = static_cast<double>(round_aperture_entries - 1);
        const Real zero(0.0);
        const Real one(1.0);
        const Real two(2.0);
        const RealMask negative = distance < zero;
        const Real place = magnitude(distance) * Real(steps);
        const RealMask beyond = Real(end) <= place;
        const Real whole = Real(hn::Floor(smaller(place, Real(end - 1.0)).v));
        const Real f = place - whole;
        const Real f_minus = f - one;
        const Real f_minus2 = f - two;
        const Real f_plus = f + one;
        const Real half(0.5);
        const Real sixth(1.0 / 6.0);
        const Real tail = Real(end) / larger(place, one);
        const Real first = half - Real(steps / plan.tail_slope) / larger(place, one);
        const Real last(plan.table[round_aperture_entries][0]);
        const auto put = [&](std::size_t k, Real inside, Real outside) {
            const Real value = select(beyond, outside, inside);
            select(negative, zero - value, value).store(share[k].data() + i);
        };
        put(0, zero - f * f_minus * f_minus2 * sixth, zero);
        put(1, f_plus * f_minus * f_minus2 * half, zero);
        put(2, zero - f_plus * f * f_minus2 * half, tail);
        put(3, f_plus * f * f_minus * sixth, zero);
        const Real off = only(beyond, first - tail * last);
        select(negative, zero - off, off).store(correction.data() + i);
        whole.store(entry.data() + i);
    }
};

HWY_INLINE hn::Vec<TermTag> terms_of(const TermPlaces& places, const PatternTerms* table, std::size_t i,
                                     std::size_t r) {
    const TermTag d;
    const double* entry = table[static_cast<std::size_t>(places.entry[i])].data() + r;
    auto sum = hn::Mul(hn::Set(d, places.share[0][i]), hn::Load(d, entry));
    for (std::size_t k = 1; k < 4; ++k) {
        sum = hn::Add(sum, hn::Mul(hn::Set(d, places.share[k][i]), hn::Load(d, entry + k * pattern_terms)));
    }
    return sum;
}

void gather_rays_kernel(const GatherPlan& plan, std::size_t count, const double* place, const double* v,
                        const double* power, PatternTerms* sums, double* on_row) {
    const TermTag d;
    TermPlaces upper;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled below
    TermPlaces lower;  // NOLINT(cppcoreguidelines-pro-type-member-init)
    for (std::size_t i = 0; i < count; i += hn::Lanes(RealTag())) {
        const Real at = Real::load(v + i) * Real(1.0 / plan.scale);
        upper.find(plan, i, Real(plan.half_height) - at);
        lower.find(plan, i, Real(-plan.half_height) - at);
    }
    for (std::size_t i = 0; i < count; ++i) {
        const auto bin = static_cast<std::size_t>(place[i]);
        const double beyond = place[i] - static_cast<double>(bin);
        double* const first = sums[bin].data();
        double* const second = sums[bin + 1].data();
        for (std::size_t r = 0; r < pattern_terms; r += hn::Lanes(d)) {
            auto share = hn::Sub(terms_of(upper, plan.table, i, r), terms_of(lower, plan.table, i, r));
            if (r == 0) {
                const double correction = upper.correction[i] - lower.correction[i];
                share = hn::Add(share, hn::IfThenElseZero(hn::FirstN(d, 1), hn::Set(d, correction)));
            }
            const auto light = hn::Mul(hn::Set(d, power[i]), share);
            if (r == 0) on_row[i] = hn::GetLane(light);
            const auto onward = hn::Mul(hn::Set(d, beyond), light);
            hn::Store(hn::Add(hn::Load(d, first + r), hn::Sub(light, onward)), d, first + r);
            hn::Store(hn::Add(hn::Load(d, second + r), onward), d, second + r);
        }
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();
// NOLINTEND(cppcoreguidelines-pro-type-member-init)

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(gather_rays_kernel);

void gather_rays(const GatherPlan& plan, std::size_t count, const double* place, const double* v, const double* power,
                 PatternTerms* sums, double* on_row) {
    HWY_DYNAMIC_DISPATCH(gather_rays_kernel)(plan, count, place, v, power, sums, on_row);
}

}  // namespace spotwright::receiver
#endif
