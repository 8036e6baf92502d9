#include "sim/detector/exposure_control.hpp"

#include <algorithm>
#include <cmath>

namespace spotwright::detector {

namespace {

bool is_fixed(const scenario::Exposure& rule) {
    return rule.mode == scenario::ExposureMode::fixed;
}

double within_limits(const scenario::Exposure& rule, double exposure) {
    const double longest = rule.period[1];
    return std::clamp(exposure, std::min(rule.exposure, longest), longest);
}

}  // namespace

double exposure_change(const scenario::Exposure& exposure, double full_well, double peak) {
    const double g = exposure.step_ratio;
    constexpr double half = 0.5;
    if (peak >= full_well) return std::max(std::min(std::pow(exposure.level, exposure.loop_gain), half), 1.0 / g);
    if (!(peak > 0.0)) return g;
    return std::clamp(std::pow(exposure.level * full_well / peak, exposure.loop_gain), 1.0 / g, g);
}

ExposureController::ExposureController(const scenario::Exposure& exposure, double full_well, double first)
    : rule_(exposure),
      full_well_(full_well),
      exposure_(is_fixed(exposure) ? exposure.exposure : within_limits(exposure, first)) {}

Timing ExposureController::timing() const {
    if (is_fixed(rule_)) return {exposure_, rule_.period[0]};
    return {exposure_, std::max(rule_.period[0], exposure_)};
}

void ExposureController::answer(double peak) {
    if (is_fixed(rule_)) return;
    asked_.push_back(exposure_change(rule_, full_well_, peak));
    if (asked_.size() <= static_cast<std::size_t>(rule_.latency)) return;
    exposure_ = within_limits(rule_, exposure_ * asked_.front());
    asked_.pop_front();
}

}  // namespace spotwright::detector
