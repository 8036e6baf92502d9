#include "sim/measure/moving_verdict.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/moving_response.hpp"

namespace spotwright::measure {

namespace {

using base::mm, base::ms, base::um, base::us;
using reading::Validity;

std::string lost_after_changes(const ExposureUse& use) {
    return fmt::format(
        "after each change of surface {:.3g} readings are lost: {:.3g} mm pass unread ({:.3g} saturated and {:.3g} too "
        "dark from one change to the next)",
        use.late, use.blind_length / mm, use.saturated_per_change, use.dark_per_change);
}

std::string lag_of(const Following& following) {
    return fmt::format("the output is {:.3g} ms behind the part: at {:.3g} mm/s along the beam (rms) that is {}",
                       following.delay / ms, following.speed / mm,
                       base::length_text(following.delay * following.speed, 3));
}

// What exposure and average leave of a vibration, where that is not nearly all of it.
std::string vibration_passed(const scenario::Scenario& s, const ReadResult& result) {
    const double f = s.motion.vibration_frequency;
    const double period = 1.0 / result.exposure_use->mean_rate;
    const double passed =
        exposure_response(f, result.exposure_use->longest_exposure) * average_response(f, s.reading.average, period);
    std::string text = fmt::format(
        "of the vibration at {:.4g} Hz exposure and average pass {:.3g} of the amplitude (bandwidth {:.3g} Hz)", f,
        passed, result.following->bandwidth);
    if (f * period > 0.5) {
        text += fmt::format("; at {:.4g} readings a second it shows as {:.4g} Hz", 1.0 / period, alias_of(f, period));
    }
    return text;
}

}  // namespace

std::vector<Contribution> contributions_on_the_move(const ReadResult& result) {
    const Following& following = *result.following;
    std::vector<Contribution> list;
    if (following.error_deviation) {
        list.push_back(
            {"error that changes during the motion: lag, noise, passing surfaces", *following.error_deviation, false});
    }
    if (result.systematic) list.push_back({"mean error on the way", std::abs(*result.systematic), true});
    return list;
}

std::string why_lost_on_the_move(Validity validity, const scenario::Scenario& s, const ReadResult& result) {
    const Following& following = *result.following;
    const bool is_dark = validity == Validity::too_dark || validity == Validity::no_peak;
    const bool is_outside = is_dark || validity == Validity::out_of_range;
    if (is_outside && following.outside_share > 0.0) {
        return fmt::format(
            "at {:.3g} % of readings the part is outside the range of {:.4g} to {:.4g} mm, or beside the beam",
            100.0 * following.outside_share, s.mount.range[0] / mm, s.mount.range[1] / mm);
    }
    if (validity == Validity::out_of_range) {
        return "the chosen peak is cut off by the end of the array, or lies beyond the calibration";
    }
    if (!is_dark && validity != Validity::saturated) return "see the scenario";
    const bool fixed = s.exposure.mode == scenario::ExposureMode::fixed;
    if (fixed) {
        return fmt::format("the fixed exposure of {:.4g} us is too {} for some of what passes",
                           s.exposure.exposure / us, is_dark ? "short" : "long");
    }
    const ExposureUse& use = *result.exposure_use;
    const bool at_limit =
        is_dark ? use.longest_exposure >= s.exposure.period[1] : use.shortest_exposure <= s.exposure.exposure;
    return fmt::format("the exposure, from {:.4g} to {:.4g} us, {}", use.shortest_exposure / us,
                       use.longest_exposure / us,
                       at_limit ? "reaches its limit, or follows too late" : "follows what passes too late");
}

std::optional<std::string> why_not_followed(const scenario::Scenario& s, const ReadResult& result) {
    if (!result.following) return std::nullopt;
    const double share = result.following->not_followed_share;
    if (!(share > 1.0 - s.requirement.stable_valid_share)) return std::nullopt;
    return fmt::format(
        "in {:.3g} % of readings more happens within an exposure than motion.sub_exposures = {} stretches of it "
        "follow: "
        "these readings are not reliable",
        100.0 * share, s.motion.sub_exposures);
}

std::vector<std::string> reasons_on_the_move(const scenario::Scenario& s, const ReadResult& result) {
    std::vector<std::string> reasons;
    const Following& following = *result.following;
    const ExposureUse& use = *result.exposure_use;
    if (use.changes > 0 && use.late > 0.0) reasons.push_back(lost_after_changes(use));
    constexpr double worth_telling = 0.01;
    const double lag = following.delay * following.speed;
    if (lag > worth_telling * s.requirement.tolerance) reasons.push_back(lag_of(following));
    if (s.motion.vibration > 0.0) reasons.push_back(vibration_passed(s, result));
    return reasons;
}

}  // namespace spotwright::measure
