#include "sim/detector/exposure.hpp"

#include <algorithm>

namespace spotwright::detector {

Timing settled_timing(const scenario::Exposure& exposure, double full_well, double brightest_rate) {
    if (exposure.mode == scenario::ExposureMode::fixed) return {exposure.exposure, exposure.period[0]};
    const double longest = exposure.period[1];
    const double wanted = brightest_rate > 0.0 ? exposure.level * full_well / brightest_rate : longest;
    const double settled = std::clamp(wanted, std::min(exposure.exposure, longest), longest);
    return {settled, std::max(exposure.period[0], settled)};
}

}  // namespace spotwright::detector
