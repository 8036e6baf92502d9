#include "sim/measure/moving_verdict.hpp"

#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/moving_response.hpp"

namespace spotwright::measure {

namespace {

using reading::Validity;

// What exposure and average leave of a vibration.
VibrationReduced vibration_passed(const scenario::Scenario& s, const ReadResult& result) {
    const double f = s.motion.vibration_frequency;
    const double period = 1.0 / result.exposure_use->mean_rate;
    VibrationReduced reason{f, 0.0, result.tracking->bandwidth, 1.0 / period, std::nullopt};
    reason.passed =
        exposure_response(f, result.exposure_use->longest_exposure) * average_response(f, s.reading.average, period);
    if (f * period > 0.5) reason.alias = alias_of(f, period);
    return reason;
}

}  // namespace

std::vector<Contribution> contributions_on_the_move(const ReadResult& result) {
    const TrackingResult& tracking = *result.tracking;
    std::vector<Contribution> list;
    if (tracking.error_deviation) {
        list.push_back({Cause::change_in_motion, *tracking.error_deviation, false});
    }
    if (result.systematic) list.push_back({Cause::mean_in_motion, std::abs(*result.systematic), true});
    return list;
}

WhyLost why_lost_on_the_move(Validity validity, const scenario::Scenario& s, const ReadResult& result) {
    const TrackingResult& tracking = *result.tracking;
    const bool is_dark = validity == Validity::too_dark || validity == Validity::no_peak;
    const bool is_outside = is_dark || validity == Validity::out_of_range;
    if (is_outside && tracking.outside_share > 0.0) {
        return PartLeavesRange{tracking.outside_share, s.mount.range[0], s.mount.range[1]};
    }
    if (validity == Validity::out_of_range) return PeakCutOff{};
    if (!is_dark && validity != Validity::saturated) return Unexplained{};
    if (s.exposure.mode == scenario::ExposureMode::fixed) return FixedExposureUnfit{s.exposure.exposure, is_dark};
    const ExposureUse& use = *result.exposure_use;
    const bool at_limit =
        is_dark ? use.longest_exposure >= s.exposure.period[1] : use.shortest_exposure <= s.exposure.exposure;
    return ExposureTooSlow{use.shortest_exposure, use.longest_exposure, at_limit};
}

std::optional<TooMuchWithinExposures> why_unresolved(const scenario::Scenario& s, const ReadResult& result) {
    if (!result.tracking) return std::nullopt;
    const double share = result.tracking->unresolved_share;
    if (!(share > 1.0 - s.requirement.stable_valid_share)) return std::nullopt;
    const bool on_array = scenario::abilities_of(s.principle).array;
    return TooMuchWithinExposures{share, on_array ? s.motion.sub_exposures : 0};
}

std::vector<Reason> reasons_on_the_move(const scenario::Scenario& s, const ReadResult& result) {
    std::vector<Reason> reasons;
    const TrackingResult& tracking = *result.tracking;
    const ExposureUse& use = *result.exposure_use;
    if (use.changes > 0 && use.late > 0.0) {
        reasons.emplace_back(
            LostAfterChanges{use.late, use.blind_length, use.saturated_per_change, use.dark_per_change});
    }
    constexpr double worth_telling = 0.01;
    const double lag = tracking.delay * tracking.speed;
    if (lag > worth_telling * s.requirement.tolerance) {
        reasons.emplace_back(OutputLags{tracking.delay, tracking.speed});
    }
    const auto by_phase = [&](const PhaseDetails&) {
        const double cyclic = cyclic_motion_error(s, tracking.speed, result.timing.exposure);
        if (cyclic > worth_telling * s.requirement.tolerance) {
            reasons.emplace_back(MovesBetweenBuckets{tracking.smear, cyclic});
        }
    };
    std::visit(base::Cases{by_phase, [](const auto&) {}}, result.details);
    // Only worth naming where it shows: see `surface_passes`.
    const bool borders = s.target.segments.made_of.size() > 1 || s.target.pattern.kind != scenario::PatternKind::none;
    const bool errs = tracking.largest_error.value_or(0.0) > s.requirement.tolerance / s.requirement.uncertainty_ratio;
    if (borders && tracking.surface_passes && errs) {
        reasons.emplace_back(BordersPass{result.spot_radius, tracking.largest_error});
    }
    if (s.motion.vibration > 0.0) reasons.emplace_back(vibration_passed(s, result));
    return reasons;
}

}  // namespace spotwright::measure
