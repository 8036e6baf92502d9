// Light of a moving part, pixel by pixel; one build per instruction set, chosen at run time.
// Multiplications and additions stay separate (no fused multiply-add), so every instruction set gives the same bits.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/measure/moving_light_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include <hwy/highway.h>

#include "sim/measure/moving_light_kernel.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::measure {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// Runs `body(d, k)` on vectors of pixels: whole ones, then four pixels each, then one.
template <class Body>
HWY_INLINE void for_each_vector(std::size_t count, const Body& body) {
    const hn::CappedTag<float, 16> whole;
    const hn::CappedTag<float, 4> four;
    const hn::CappedTag<float, 1> one;
    std::size_t k = 0;
    for (; k + hn::Lanes(whole) <= count; k += hn::Lanes(whole)) body(whole, k);
    for (; k + hn::Lanes(four) <= count; k += hn::Lanes(four)) body(four, k);
    for (; k < count; ++k) body(one, k);
}

template <class D, class Value>
HWY_INLINE hn::Vec<D> sum_of_taps(D d, const Value* const* sample, const Value* share, std::size_t k) {
    auto sum = hn::Mul(hn::Set(d, share[0]), hn::LoadU(d, sample[0] + k));
    for (std::size_t t = 1; t < 4; ++t) {
        sum = hn::Add(sum, hn::Mul(hn::Set(d, share[t]), hn::LoadU(d, sample[t] + k)));
    }
    return sum;
}

void add_taps_kernel(const std::array<const float*, 4>& sample, const std::array<float, 4>& share,
                     std::span<float> to) {
    float* const out = to.data();
    const float* const* const samples = sample.data();
    const float* const shares = share.data();
    for_each_vector(to.size(), [=](auto d, std::size_t k) HWY_ATTR {
        hn::StoreU(hn::Add(hn::LoadU(d, out + k), sum_of_taps(d, samples, shares, k)), d, out + k);
    });
}

template <class D>
HWY_INLINE std::size_t add_difference_by(D d, const DoubleTaps& ahead, const DoubleTaps& behind, double scale,
                                         std::size_t k, std::size_t count, float* HWY_RESTRICT to) {
    const hn::Rebind<float, D> df;
    for (; k + hn::Lanes(d) <= count; k += hn::Lanes(d)) {
        const auto more = hn::Sub(sum_of_taps(d, ahead.sample.data(), ahead.share.data(), k),
                                  sum_of_taps(d, behind.sample.data(), behind.share.data(), k));
        const auto light = hn::DemoteTo(df, hn::Mul(hn::Set(d, scale), more));
        hn::StoreU(hn::Add(hn::LoadU(df, to + k), light), df, to + k);
    }
    return k;
}

void add_difference_kernel(const DoubleTaps& ahead, const DoubleTaps& behind, double scale, std::span<float> to) {
    const std::size_t k = add_difference_by(hn::CappedTag<double, 8>(), ahead, behind, scale, 0, to.size(), to.data());
    add_difference_by(hn::CappedTag<double, 1>(), ahead, behind, scale, k, to.size(), to.data());
}

template <class D>
HWY_INLINE hn::Vec<D> mixed_at(D d, const MixedPatterns& mixed, float weight, std::size_t k) {
    const auto one = hn::Set(d, 1.0F);
    auto sum = one;
    for (std::size_t i = 0; i < mixed.count; ++i) {
        const auto less = hn::Sub(hn::LoadU(d, mixed.intensity[i] + k), one);
        sum = hn::Add(sum, hn::Mul(hn::Set(d, mixed.share[i]), less));
    }
    return hn::Mul(hn::Set(d, weight), hn::Max(sum, hn::Zero(d)));
}

void add_mixed_kernel(const MixedPatterns& mixed, float weight, std::span<float> sum) {
    float* const out = sum.data();
    for_each_vector(sum.size(), [&mixed, weight, out](auto d, std::size_t k) HWY_ATTR {
        hn::StoreU(hn::Add(hn::LoadU(d, out + k), mixed_at(d, mixed, weight, k)), d, out + k);
    });
}

void put_under_kernel(const MixedPatterns& mixed, float weight, float even, std::span<float> rate) {
    float* const out = rate.data();
    for_each_vector(rate.size(), [&mixed, weight, even, out](auto d, std::size_t k) HWY_ATTR {
        const auto light = hn::Max(hn::LoadU(d, out + k), hn::Zero(d));
        hn::StoreU(hn::Mul(light, hn::Add(mixed_at(d, mixed, weight, k), hn::Set(d, even))), d, out + k);
    });
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::measure
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::measure {

HWY_EXPORT(add_taps_kernel);
HWY_EXPORT(add_difference_kernel);
HWY_EXPORT(add_mixed_kernel);
HWY_EXPORT(put_under_kernel);

void add_taps(const std::array<const float*, 4>& sample, const std::array<float, 4>& share, std::span<float> to) {
    HWY_DYNAMIC_DISPATCH(add_taps_kernel)(sample, share, to);
}

void add_difference(const DoubleTaps& ahead, const DoubleTaps& behind, double scale, std::span<float> to) {
    HWY_DYNAMIC_DISPATCH(add_difference_kernel)(ahead, behind, scale, to);
}

void add_mixed(const MixedPatterns& mixed, float weight, std::span<float> sum) {
    HWY_DYNAMIC_DISPATCH(add_mixed_kernel)(mixed, weight, sum);
}

void put_under(const MixedPatterns& mixed, float weight, float even, std::span<float> rate) {
    HWY_DYNAMIC_DISPATCH(put_under_kernel)(mixed, weight, even, rate);
}

}  // namespace spotwright::measure
#endif
