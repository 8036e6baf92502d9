// Levels, and why a verdict has its level.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/measure/verdict.hpp"

namespace spotwright::measure {

namespace {

using scenario::Requirement;

// "a quarter of the tolerance"
std::string share_of_tolerance(double ratio) {
    constexpr std::array<std::string_view, 11> names{
        "", "", "half", "a third", "a quarter", "a fifth", "a sixth", "a seventh", "an eighth", "a ninth", "a tenth"};
    if (ratio == 1.0) return "the tolerance";
    const bool has_name = ratio >= 2.0 && ratio <= 10.0 && ratio == std::floor(ratio);
    if (has_name) return fmt::format("{} of the tolerance", names[static_cast<std::size_t>(ratio)]);
    return fmt::format("1/{:.4g} of the tolerance", ratio);
}

// Two numbers with as few digits as still show on which side of the other each is.
template <class Text>
std::string apart_from(double value, double limit, int digits, const Text& text) {
    constexpr int most = 12;
    while (value != limit && digits < most && text(value, digits) == text(limit, digits)) ++digits;
    return text(value, digits);
}

std::string length_apart(double value, double limit) {
    const auto text = [](double length, int digits) {
        return digits == 2 ? base::uncertainty_text(length) : base::length_text(length, digits);
    };
    return apart_from(value, limit, 2, text);
}

std::string found_text(double limit, double found) {
    return fmt::format("{} allowed, {} found", base::length_text(limit, 4), length_apart(found, limit));
}

std::string share_text(double share, double limit) {
    const auto text = [](double each, int digits) { return fmt::format("{:.{}g} %", 100.0 * each, digits); };
    // What falls short by less than four digits show is not rounded up to it.
    return apart_from(share, limit, 4, text);
}

// The share of valid readings is what holds the level down.
std::string too_few_valid(const Verdict& verdict, double limit, Level wanted) {
    return fmt::format("only {} of readings are valid, and {} asks for {}", share_text(verdict.valid_share, limit),
                       name_of(wanted), share_text(limit, verdict.valid_share));
}

std::string why_marginal(const Verdict& verdict, const Requirement& r) {
    const double found = *verdict.expanded_uncertainty;
    const double allowed = allowed_error(r);
    if (found > allowed) {
        return fmt::format("errors within the tolerance, but not within {}, {}; tolerance {}",
                           share_of_tolerance(r.uncertainty_ratio), found_text(allowed, found),
                           base::length_text(r.tolerance, 4));
    }
    return fmt::format("errors within {}, {}, but {}", share_of_tolerance(r.uncertainty_ratio),
                       found_text(allowed, found), too_few_valid(verdict, r.stable_valid_share, Level::stable));
}

std::string why_unstable(const Verdict& verdict, const Requirement& r) {
    const double found = *verdict.expanded_uncertainty;
    if (found > r.tolerance) return "errors beyond the tolerance, " + found_text(r.tolerance, found);
    if (verdict.valid_share < r.marginal_valid_share) {
        return too_few_valid(verdict, r.marginal_valid_share, Level::marginal);
    }
    return "more happens within an exposure than the readings can be relied on for";
}

std::string why_unreadable(const Verdict& verdict) {
    constexpr double half = 0.5;
    if (verdict.valid_share >= half) return "too few valid outputs for a standard deviation";
    return fmt::format("{} of readings are valid, fewer than half", share_text(verdict.valid_share, half));
}

}  // namespace

std::string_view name_of(Level level) {
    static constexpr std::array<std::string_view, 4> names{"stable", "marginal", "unstable", "unreadable"};
    return names[static_cast<std::size_t>(level)];
}

std::string_view name_of(Covers covers) {
    static constexpr std::array<std::string_view, 2> names{
        "the part as it stands, on any patch of its surface",
        "the part wherever and however `[uncertainty]` lets it stand, on any patch of its surface"};
    return names[static_cast<std::size_t>(covers)];
}

double allowed_error(const Requirement& requirement) {
    return requirement.tolerance / requirement.uncertainty_ratio;
}

Level level_of(const Requirement& requirement, double share, std::optional<double> uncertainty) {
    constexpr double half = 0.5;
    if (share < half || !uncertainty) return Level::unreadable;
    if (*uncertainty <= allowed_error(requirement) && share >= requirement.stable_valid_share) return Level::stable;
    if (*uncertainty <= requirement.tolerance && share >= requirement.marginal_valid_share) return Level::marginal;
    return Level::unstable;
}

std::string explanation(const Verdict& verdict, const Requirement& requirement) {
    switch (verdict.level) {
        case Level::stable:
            return fmt::format("errors within {}, {}", share_of_tolerance(requirement.uncertainty_ratio),
                               found_text(allowed_error(requirement), *verdict.expanded_uncertainty));
        case Level::marginal:
            return why_marginal(verdict, requirement);
        case Level::unstable:
            return why_unstable(verdict, requirement);
        case Level::unreadable:
            break;
    }
    return why_unreadable(verdict);
}

namespace {

// What a practitioner tries against a cause.
std::string_view step_against(Cause cause) {
    switch (cause) {
        case Cause::noise:
        case Cause::shot_noise:
        case Cause::read_noise:
        case Cause::timing_noise:
            return "more light: a longer exposure or more power; or average more readings";
        case Cause::speckle:
        case Cause::patches:
        case Cause::grain:
            return "a wider aperture, a larger angle or a line-shaped spot; averaging helps while the surface moves";
        case Cause::bias:
        case Cause::linearity:
        case Cause::material:
        case Cause::inside:
            return "set zero on this material where it stands, or calibrate on it (reading.calibrated_on)";
        case Cause::pixels:
        case Cause::digitising:
            return "a wider spot on the array, or finer pixels";
        case Cause::image:
            return "more rays (run.rays): the computed image is not exact enough";
        case Cause::change_in_motion:
        case Cause::mean_in_motion:
        case Cause::motion:
            return "a shorter exposure and fewer readings averaged, or a slower part";
        case Cause::ambient_noise:
        case Cause::ambient_change:
        case Cause::flicker:
        case Cause::background:
            return "a shade, a narrower filter, or more power for a shorter exposure";
        case Cause::tilt:
            return "guide the part so that it tilts less, or turn the sensor so that the error depends less on tilt";
        case Cause::temperature:
            return "set zero once the sensor is warm, and again when its temperature has changed";
        case Cause::reference:
            return "set zero on a reference that is known better";
        case Cause::markings:
            return "keep borders and marks out of the spot, or turn the sensor so that they lie in its plane";
        case Cause::hot_air:
            return "a tube round the light, a stream of cool air across the part, or a longer average";
        case Cause::mount_vibration:
            return "a stiffer mount, or an average over whole periods of the vibration";
        case Cause::neighbour:
            return "let the two sensors light in turn (neighbour.timing = \"alternating\")";
        case Cause::pointing:
            return "average more readings";
        case Cause::making:
            return "a specimen of closer tolerances, or set zero on this material where it stands";
    }
    return "";
}

// What the user of a sensor that is bought tries: it has the optics that it has.
std::string_view user_step_against(Cause cause, const scenario::Scenario& s) {
    constexpr std::string_view other = "another sensor of the shelf (`shortlist`)";
    switch (cause) {
        case Cause::bias:
        case Cause::linearity:
        case Cause::material:
        case Cause::inside:
            return scenario::offer_of(s, "reading.calibrated_on") != nullptr
                       ? step_against(cause)
                       : "set zero on this material where it stands";
        case Cause::noise:
        case Cause::shot_noise:
        case Cause::read_noise:
        case Cause::timing_noise:
            return "a longer exposure, or average more readings";
        case Cause::speckle:
        case Cause::patches:
        case Cause::grain:
            return "average while the surface moves, or the mean of several places; else another sensor of the shelf "
                   "(`shortlist`)";
        case Cause::pixels:
        case Cause::digitising:
            return other;
        case Cause::ambient_noise:
        case Cause::ambient_change:
        case Cause::flicker:
        case Cause::background:
            return "a shade";
        default:
            return step_against(cause);
    }
}

// A tilt of the sensor turns the part the other way; half way between beam and receiver a mirror sends one into the
// other.
std::string user_step_for_mirrored_beam(const scenario::Scenario& s) {
    const double between = 0.5 * (s.emitter.angle + s.receiver.angle);
    const double part = s.target.tilt[0] - s.mount.tilt[0];
    return fmt::format(
        "tilt the sensor by {:+.1f} deg in its plane (mount.tilt_deg), so that the mirrored beam meets "
        "the lens",
        (part - between) / base::degree);
}

std::optional<std::string> step_against_turn(const Verdict& verdict) {
    for (const Reason& reason : verdict.reasons) {
        const auto* longer = std::get_if<TurnedSensorReadsLonger>(&reason);
        if (longer == nullptr || !longer->largest) continue;
        return fmt::format("multiply readings by {:.5f}: the sensor measures along its turned beam",
                           std::cos(longer->turn));
    }
    return std::nullopt;
}

// What the sensor itself brings, where its largest error is a bias.
std::optional<std::string_view> step_against_instrument(const Verdict& verdict) {
    const bool biased = !verdict.contributions.empty() && verdict.contributions.front().cause == Cause::bias;
    for (const Reason& reason : verdict.reasons) {
        if (std::holds_alternative<FilterCutsLight>(reason)) return "a wider filter, or a cooler sensor";
        if (!biased) continue;
        if (std::holds_alternative<GlassLiftsPart>(reason))
            return "set zero or calibrate with the cover glass in place";
        if (std::holds_alternative<GhostCounts>(reason)) {
            return "a threshold above the ghost, or the strongest peak (reading.choose)";
        }
        if (std::holds_alternative<LensErrsForPart>(reason)) {
            return "set zero on this material where it stands, or a specimen of closer tolerances";
        }
    }
    return std::nullopt;
}

// A setting before other optics: light that lifts more of a speckled spot over the threshold.
std::optional<std::string> step_against_cut_spot(const Verdict& verdict, const scenario::Scenario& s, bool of_user) {
    for (const Reason& reason : verdict.reasons) {
        const auto* stays = std::get_if<SpeckleStays>(&reason);
        if (stays == nullptr || !stays->is_cut) continue;
        return fmt::format("a longer or automatic exposure, so that more of the spot passes the threshold; then {}",
                           of_user ? user_step_against(Cause::speckle, s) : step_against(Cause::speckle));
    }
    return std::nullopt;
}

bool is_outside(const WhyLost& why) {
    return std::holds_alternative<PartOutside>(why) || std::holds_alternative<PartLeavesRange>(why);
}

// Of readings that are lost.
std::string step_against_loss(const WhyLost& why, const scenario::Scenario& s) {
    const bool of_user = !s.sensor_file.file.empty();
    const bool automatic = s.exposure.mode == scenario::ExposureMode::automatic;
    if (is_outside(why)) {
        return of_user ? "mount the sensor so that the part stays within the range, or take a sensor of another range "
                         "(`shortlist`)"
                       : "mount the sensor so that the part stays within the range";
    }
    if (std::holds_alternative<TooMuchLight>(why)) {
        if (!automatic) return "a shorter exposure, or automatic exposure";
        return of_user ? "turn the part's reflection away from the lens, or another sensor of the shelf (`shortlist`): "
                         "automatic exposure can go no lower"
                       : "a lower limit of automatic exposure (exposure.exposure_us), or less power";
    }
    if (std::holds_alternative<PeakTooLow>(why)) {
        if (automatic) {
            return of_user ? "a longer sampling period (exposure.period_us), or another sensor of the shelf "
                             "(`shortlist`)"
                           : "a longer sampling period (exposure.period_us), or more power";
        }
        return of_user ? "a longer exposure, or automatic exposure"
                       : "a longer exposure, more power, or automatic exposure";
    }
    if (const auto* slow = std::get_if<ExposureTooSlow>(&why); slow != nullptr && slow->at_limit && !of_user) {
        return "wider limits of automatic exposure (exposure.exposure_us, exposure.period_us), or another power";
    }
    if (const auto* unfit = std::get_if<FixedExposureUnfit>(&why)) {
        return unfit->too_short ? "automatic exposure, or a longer one" : "automatic exposure, or a shorter one";
    }
    return "`advise` tries what would help";
}

}  // namespace

std::string next_step(const Verdict& verdict, const scenario::Scenario& scenario) {
    const bool of_user = !scenario.sensor_file.file.empty();
    if (verdict.level == Level::stable) return {};
    // What else may be said of a part that is not there helps nobody.
    for (const Reason& reason : verdict.reasons) {
        const auto* lost = std::get_if<ReadingsLost>(&reason);
        if (lost != nullptr && is_outside(lost->why)) return step_against_loss(lost->why, scenario);
    }
    for (const Reason& reason : verdict.reasons) {
        const auto* lay = std::get_if<LayTurnsLightAway>(&reason);
        if (lay != nullptr && lay->is_lost) {
            return lay->is_default ? "say which way the tool marks run (target.lay_deg), and measure across them"
                                   : "measure across the tool marks";
        }
        if (std::holds_alternative<BackFaceRead>(reason) || std::holds_alternative<BehindPlateRead>(reason)) {
            return scenario.reading.choose.rule == scenario::PeakRule::nearest
                       ? "tilt the plate so that its front face is seen, or count fainter peaks (reading.threshold)"
                       : "choose the nearest peak (reading.choose), or tilt the plate so that its front face is seen";
        }
        if (std::holds_alternative<NeighbourInView>(reason) || std::holds_alternative<NeighbourBeats>(reason) ||
            std::holds_alternative<NeighbourPulses>(reason)) {
            return std::string(step_against(Cause::neighbour));
        }
        if (std::holds_alternative<BeyondTable>(reason)) {
            return "a table of corrections over a wider range (flight.intensity_range)";
        }
        if (std::holds_alternative<DirtTakesLight>(reason)) return "clean the window";
        if (std::holds_alternative<MirroredBeamMisses>(reason) || std::holds_alternative<OnlyHaze>(reason)) {
            const bool tilts = of_user && scenario::abilities_of(scenario.principle).array;
            return tilts ? user_step_for_mirrored_beam(scenario)
                         : "a specular mount, or a tilt at which the mirrored beam meets the lens";
        }
    }
    if (!verdict.reasons.empty()) {
        if (const auto* lost = std::get_if<ReadingsLost>(&verdict.reasons.front()))
            return step_against_loss(lost->why, scenario);
        if (std::holds_alternative<LostOnOtherPatches>(verdict.reasons.front())) {
            return "automatic exposure, or an exposure with room for darker and brighter places";
        }
    }
    if (const auto step = step_against_turn(verdict)) return *step;
    if (const auto step = step_against_instrument(verdict)) return std::string(*step);
    if (const auto step = step_against_cut_spot(verdict, scenario, of_user)) return *step;
    if (verdict.contributions.empty()) return "`advise` tries what would help";
    const Cause cause = verdict.contributions.front().cause;
    const auto warms_up = [](const Reason& reason) { return std::holds_alternative<SensorWarmsUp>(reason); };
    if (cause == Cause::bias && std::any_of(verdict.reasons.begin(), verdict.reasons.end(), warms_up)) {
        return "let the sensor warm up before it reads";
    }
    return std::string(of_user ? user_step_against(cause, scenario) : step_against(cause));
}

bool speckle_decides(const Verdict& verdict) {
    return verdict.level != Level::stable && !verdict.contributions.empty() &&
           verdict.contributions.front().cause == Cause::speckle;
}

}  // namespace spotwright::measure
