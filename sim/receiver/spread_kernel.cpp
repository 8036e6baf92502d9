// Sums over places for many pixels side by side; one build per instruction set, chosen at run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "sim/receiver/spread_kernel.cpp"
#include <hwy/foreach_target.h>
// The order matters: the target list comes first.
#include "sim/receiver/real_lanes-inl.hpp"

#include "sim/receiver/spread.hpp"

HWY_BEFORE_NAMESPACE();
namespace spotwright::receiver {
namespace HWY_NAMESPACE {

void add_places_kernel(std::span<const double> light, const double* shares, std::size_t step, std::size_t pixels,
                       double* sums) {
    const RealTag d;
    const std::size_t lanes = hn::Lanes(d);
    // Four vectors side by side: each waits for its own additions.
    constexpr std::size_t side_by_side = 4;
    for (std::size_t k = 0; k < pixels; k += side_by_side * lanes) {
        double* out = sums + k;
        auto a = hn::LoadU(d, out);
        auto b = hn::LoadU(d, out + lanes);
        auto c = hn::LoadU(d, out + 2 * lanes);
        auto e = hn::LoadU(d, out + 3 * lanes);
        const double* from = shares + k;
        for (std::size_t p = 0; p < light.size(); ++p, from += step) {
            const auto power = hn::Set(d, light[p]);
            a = hn::Add(a, hn::Mul(power, hn::LoadU(d, from)));
            b = hn::Add(b, hn::Mul(power, hn::LoadU(d, from + lanes)));
            c = hn::Add(c, hn::Mul(power, hn::LoadU(d, from + 2 * lanes)));
            e = hn::Add(e, hn::Mul(power, hn::LoadU(d, from + 3 * lanes)));
        }
        hn::StoreU(a, d, out);
        hn::StoreU(b, d, out + lanes);
        hn::StoreU(c, d, out + 2 * lanes);
        hn::StoreU(e, d, out + 3 * lanes);
    }
}

}  // namespace HWY_NAMESPACE
}  // namespace spotwright::receiver
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace spotwright::receiver {

HWY_EXPORT(add_places_kernel);

void add_places(std::span<const double> light, const double* shares, std::size_t step, std::size_t pixels,
                double* sums) {
    HWY_DYNAMIC_DISPATCH(add_places_kernel)(light, shares, step, pixels, sums);
}

}  // namespace spotwright::receiver
#endif
