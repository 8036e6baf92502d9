// Mean electrons of pixels, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/detector/expose_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include <hwy/highway.h>

#include "sim/detector/expose.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::detector {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

// Pixels that do not fill a vector follow one by one, by vectors of one lane.
template <class D>
HWY_INLINE std::size_t expose_by(D d, const PixelExposure& e, const float* HWY_RESTRICT rate,
                                 const float* HWY_RESTRICT response, std::size_t k, std::size_t count,
                                 float* HWY_RESTRICT electrons) {
    const hn::Rebind<float, D> df;
    for (; k + hn::Lanes(d) <= count; k += hn::Lanes(d)) {
        const auto signal = rate == nullptr ? hn::Zero(d) : hn::PromoteTo(d, hn::LoadU(df, rate + k));
        const auto all = hn::Mul(hn::Add(signal, hn::Set(d, e.ambient_rate)), hn::Set(d, e.exposure));
        const auto light = hn::Mul(all, hn::PromoteTo(d, hn::LoadU(df, response + k)));
        const auto mean = hn::Min(hn::Add(light, hn::Set(d, e.dark)), hn::Set(d, e.most));
        hn::StoreU(hn::DemoteTo(df, mean), df, electrons + k);
    }
    return k;
}

void expose_kernel(const PixelExposure& e, const float* rate, std::span<const float> response,
                   std::span<float> electrons) {
    const std::size_t count = electrons.size();
    const std::size_t k = expose_by(hn::CappedTag<double, 8>(), e, rate, response.data(), 0, count, electrons.data());
    expose_by(hn::CappedTag<double, 1>(), e, rate, response.data(), k, count, electrons.data());
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::detector
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::detector {

HWY_EXPORT(expose_kernel);

void expose_pixels(const PixelExposure& exposure, std::span<const float> signal_rate, std::span<const float> response,
                   std::span<float> electrons) {
    const float* const rate = signal_rate.empty() ? nullptr : signal_rate.data();
    HWY_DYNAMIC_DISPATCH(expose_kernel)(exposure, rate, response, electrons);
}

}  // namespace spotwright::detector
#endif
