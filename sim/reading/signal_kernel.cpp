// Pixel by pixel work on a frame, one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/reading/signal_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include <hwy/highway.h>

#include <algorithm>

#include "sim/reading/locate.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::reading {
namespace HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
using Floats = hn::CappedTag<float, 16>;

void net_signal_kernel(std::span<const float> digits, std::span<const float> background, float gain, float top_digit,
                       std::span<float> net) {
    const Floats d;
    const std::size_t lanes = hn::Lanes(d);
    const std::size_t size = net.size();
    const float* of = digits.data();
    const float* dark = background.data();
    float* out = net.data();
    const float per_digit = 1.0F / gain;
    std::size_t k = 0;
    for (; k + lanes <= size; k += lanes) {
        const auto digit = hn::LoadU(d, of + k);
        const auto value = hn::Mul(hn::Sub(digit, hn::LoadU(d, dark + k)), hn::Set(d, per_digit));
        const auto at_top = hn::Ge(digit, hn::Set(d, top_digit));
        hn::StoreU(hn::IfThenElse(at_top, hn::Set(d, saturated_signal), value), d, out + k);
    }
    for (; k < size; ++k) out[k] = of[k] >= top_digit ? saturated_signal : (of[k] - dark[k]) * per_digit;
}

std::uint64_t above_kernel(std::span<const float> net, float threshold) {
    const Floats d;
    const std::size_t lanes = hn::Lanes(d);
    const float* of = net.data();
    std::uint64_t above = 0;
    std::size_t k = 0;
    for (; k + lanes <= net.size(); k += lanes) {
        std::uint8_t bits[8] = {};
        const std::size_t bytes = hn::StoreMaskBits(d, hn::Gt(hn::LoadU(d, of + k), hn::Set(d, threshold)), bits);
        for (std::size_t i = 0; i < bytes; ++i) above |= static_cast<std::uint64_t>(bits[i]) << (k + 8 * i);
    }
    for (; k < net.size(); ++k) above |= static_cast<std::uint64_t>(of[k] > threshold ? 1 : 0) << k;
    return above;
}

std::size_t highest_kernel(std::span<const float> net) {
    const Floats d;
    const std::size_t lanes = hn::Lanes(d);
    const float* of = net.data();
    float highest = of[0];
    std::size_t k = 0;
    if (net.size() >= lanes) {
        auto most = hn::LoadU(d, of);
        for (k = lanes; k + lanes <= net.size(); k += lanes) most = hn::Max(most, hn::LoadU(d, of + k));
        highest = hn::GetLane(hn::MaxOfLanes(d, most));
    }
    for (; k < net.size(); ++k) highest = std::max(highest, of[k]);
    for (k = 0; k + lanes <= net.size(); k += lanes) {
        const auto found = hn::FindFirstTrue(d, hn::Eq(hn::LoadU(d, of + k), hn::Set(d, highest)));
        if (found >= 0) return k + static_cast<std::size_t>(found);
    }
    while (of[k] != highest) ++k;
    return k;
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::reading
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::reading {

HWY_EXPORT(net_signal_kernel);
HWY_EXPORT(above_kernel);
HWY_EXPORT(highest_kernel);

// Equation (reading.1).
void net_signal(std::span<const float> digits, std::span<const float> background, float gain, float top_digit,
                std::span<float> net) {
    HWY_DYNAMIC_DISPATCH(net_signal_kernel)(digits, background, gain, top_digit, net);
}

std::uint64_t samples_above(std::span<const float> net, float threshold) {
    return HWY_DYNAMIC_DISPATCH(above_kernel)(net, threshold);
}

std::size_t highest_sample(std::span<const float> net) {
    return HWY_DYNAMIC_DISPATCH(highest_kernel)(net);
}

}  // namespace spotwright::reading
#endif
