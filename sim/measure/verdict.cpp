#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "sim/receiver/ambient.hpp"
#include "sim/flight/phase_shift.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/measure/moving_verdict.hpp"
#include "sim/measure/part_reasons.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/measure/timed_reasons.hpp"
#include "sim/base/cases.hpp"

namespace spotwright::measure {

namespace {

using reading::Validity;

constexpr double coverage_factor = 2.0;

// How much a contribution adds to U by itself.
double effect(const Contribution& c) {
    return c.systematic ? c.size : coverage_factor * c.size;
}

// Speckle that is the same in every reading; where surface passes, it is part of what changes.
bool stays_speckled(const ReadResult& result) {
    return result.speckle && !(result.tracking && result.tracking->surface_passes);
}

// What the scatter of outputs stands on.
std::optional<double> scatter_of(const ReadResult& result) {
    return result.tracking ? result.tracking->error_deviation : result.statistics.standard_deviation;
}

// A spot of a second sensor that is bright enough to count as a peak, or nearly.
std::optional<NeighbourInView> neighbour_in_view(const scenario::Scenario& s, const sensor::Pose& pose) {
    if (pose.neighbour.empty()) return std::nullopt;
    const bool has_clock = s.neighbour.timing == scenario::NeighbourTiming::free;
    float own = 0.0F;
    float other = 0.0F;
    for (std::size_t k = 0; k < pose.neighbour.size(); ++k) {
        own = std::max(own, pose.profile.rate[k] - (has_clock ? 0.0F : pose.neighbour[k]));
        other = std::max(other, pose.neighbour[k]);
    }
    constexpr double counts = 0.5;  // of the threshold
    const double electrons = static_cast<double>(other) * pose.timing.exposure;
    if (!(own > 0.0F) || electrons < counts * s.reading.threshold * s.detector.full_well) return std::nullopt;
    return NeighbourInView{static_cast<double>(other / own), sensor::met_share(s.neighbour, pose.timing.exposure),
                           has_clock};
}

// Whether readings jump to a second sensor with a clock of its own: over more than half of what lies between both spots
// as displacement. Their scatter is then its doing; what is noise of it is not told apart.
bool jumps_to_neighbour(const scenario::Scenario& s, const ReadResult& result) {
    const auto* details = std::get_if<TriangulationDetails>(&result.details);
    const SeriesStatistics& series = result.statistics;
    if (details == nullptr || !series.least || s.neighbour.timing != scenario::NeighbourTiming::free) return false;
    if (!neighbour_in_view(s, details->pose)) return false;
    const double apart =
        std::abs(s.neighbour.position[0] * std::cos(s.receiver.angle) / std::sin(s.receiver.angle - s.emitter.angle));
    return apart > 0.0 && *series.greatest - *series.least > 0.5 * apart;
}

std::vector<Contribution> contributions_of(const scenario::Scenario& s, const ReadResult& result) {
    std::vector<Contribution> list;
    if (result.tracking) {
        list = contributions_on_the_move(result);
    } else if (result.statistics.standard_deviation) {
        const double all = *result.statistics.standard_deviation;
        const double disturbed =
            std::hypot(std::hypot(result.air_wander, result.mount_shake), result.neighbour_scatter);
        const Cause rest = jumps_to_neighbour(s, result) ? Cause::neighbour : Cause::noise;
        list.push_back({rest, std::sqrt(std::max(0.0, all * all - disturbed * disturbed)), false});
        if (result.air_wander > 0.0) list.push_back({Cause::hot_air, result.air_wander, false});
        if (result.mount_shake > 0.0) list.push_back({Cause::mount_vibration, result.mount_shake, false});
        if (result.neighbour_scatter > 0.0) list.push_back({Cause::neighbour, result.neighbour_scatter, false});
    }
    if (result.systematic && !result.tracking) {
        const double markings = result.marking_error.value_or(0.0);
        const double shift = result.neighbour_shift;
        list.push_back({Cause::bias, std::abs(*result.systematic - markings - shift), true});
        if (shift != 0.0) list.push_back({Cause::neighbour, std::abs(shift), true});
        if (markings != 0.0) list.push_back({Cause::markings, std::abs(markings), true});
    }
    if (result.inside_error) list.push_back({Cause::inside, std::abs(*result.inside_error), true});
    if (result.pixel_error) list.push_back({Cause::pixels, *result.pixel_error, false});
    if (result.model_error) list.push_back({Cause::image, *result.model_error, false});
    if (stays_speckled(result) && result.speckle->standard_deviation) {
        // Patches show speckle and grains together.
        const double all = *result.speckle->standard_deviation;
        const double grain = std::min(result.speckle->grain_deviation.value_or(0.0), all);
        list.push_back({Cause::speckle, std::sqrt(all * all - grain * grain), false});
        if (grain > 0.0) list.push_back({Cause::grain, grain, false});
    }
    std::stable_sort(list.begin(), list.end(),
                     [](const Contribution& a, const Contribution& b) { return effect(a) > effect(b); });
    return list;
}

// What is systematic adds up with its signs to the bias of the part, which stands here once.
double expanded(const std::vector<Contribution>& list, double bias) {
    double variance = 0.0;
    for (const Contribution& c : list) {
        if (!c.systematic) variance += c.size * c.size;
    }
    return coverage_factor * std::sqrt(variance) + std::abs(bias);
}

double all_bias(const ReadResult& result) {
    return result.systematic.value_or(0.0) + result.inside_error.value_or(0.0);
}

bool stands_outside(const scenario::Scenario& s, const ReadResult& result) {
    return result.true_displacement < s.mount.range[0] || result.true_displacement > s.mount.range[1];
}

PartOutside outside(const scenario::Scenario& s, const ReadResult& result) {
    return {result.true_displacement, s.mount.range[0], s.mount.range[1]};
}

WhyLost why_saturated(const scenario::Scenario& s, const ReadResult& result) {
    const double background = result.signal.background / s.detector.full_well;
    const double asked = result.signal.peak_share + background;
    const double glow = result.signal.glow / s.detector.full_well;
    if (background > s.exposure.level && glow > 0.5 * background) {
        return GlowFillsPixels{glow, s.target.temperature.value_or(0.0)};
    }
    if (background > s.exposure.level) return AmbientFillsPixels{background};
    if (asked <= s.exposure.level) return OffsetSaturates{asked};
    return TooMuchLight{asked, s.exposure.level};
}

WhyLost why_dark(const scenario::Scenario& s, const ReadResult& result) {
    return PeakTooLow{result.signal.peak_share, s.reading.threshold, s.exposure.level};
}

constexpr double some_electrons = 1e-3;

WhyLost why_pulses_are_lost(const scenario::Scenario& s, const PulseDetails& pulse) {
    if (pulse.electrons < some_electrons) return NoLight{};
    if (s.flight.timing == scenario::PulseTiming::photon_counting) return PhotonsInBackground{pulse.electrons};
    return PulseTooWeak{pulse.noise_ratio, s.flight.threshold_ratio};
}

WhyLost why_phase_is_lost(const scenario::Scenario& s, const ReadResult& result, const PhaseDetails& phase) {
    FrequencyResult least = phase.frequencies.front();
    for (const FrequencyResult& each : phase.frequencies) {
        if (each.amplitude < least.amplitude) least = each;
    }
    if (least.amplitude < some_electrons) return NoLight{};
    const double amplitude = least.amplitude / s.detector.full_well;
    const double charge = least.offset / s.detector.full_well;
    constexpr double ample = 0.25;
    if (charge > ample) return ModulationTooWeak{amplitude, s.reading.threshold, charge};
    return AmplitudeTooLow{amplitude, s.reading.threshold, result.signal.peak_share, s.exposure.level};
}

bool photons_crowd(const scenario::Scenario& s, const PulseDetails& pulse) {
    return s.flight.timing == scenario::PulseTiming::photon_counting && pulse.electrons > 1.0;
}

WhyLost why_no_peak(const scenario::Scenario& s, const ReadResult& result) {
    if (result.signal.peak_share < s.reading.threshold) return why_dark(s, result);
    if (s.reading.choose.rule == scenario::PeakRule::index) return NoSuchPeak{s.reading.choose.index};
    return PeakUnfit{};
}

bool is_dark(Validity validity) {
    return validity == Validity::too_dark || validity == Validity::no_peak;
}

WhyLost why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result,
                 const TriangulationDetails& /*details*/) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (stands_outside(s, result)) return outside(s, result);
    switch (validity) {
        case Validity::too_dark:
            return why_dark(s, result);
        case Validity::no_peak:
            return why_no_peak(s, result);
        case Validity::out_of_range:
            return PeakCutOff{};
        case Validity::saturated:
        case Validity::ambiguous:
        case Validity::valid:
            break;
    }
    return Unexplained{};
}

// What both ways of timing have in common, after what each has of its own.
WhyLost why_time_is_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result) {
    if (stands_outside(s, result)) return outside(s, result);
    if (validity == Validity::out_of_range) return BeyondCalibration{};
    return Unexplained{};
}

WhyLost why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result, const PhaseDetails& phase) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (validity == Validity::ambiguous && stands_outside(s, result)) {
        return DistanceRepeats{outside(s, result), phase.light.unambiguous_distance};
    }
    if (validity == Validity::ambiguous) return WrapUnsure{phase.wrap_error_chance};
    return is_dark(validity) ? why_phase_is_lost(s, result, phase) : why_time_is_lost(validity, s, result);
}

WhyLost why_lost(Validity validity, const scenario::Scenario& s, const ReadResult& result, const PulseDetails& pulse) {
    if (validity == Validity::saturated) return why_saturated(s, result);
    if (validity == Validity::ambiguous) {
        return DistanceRepeats{outside(s, result), pulse.light.unambiguous_distance};
    }
    if (photons_crowd(s, pulse)) return PhotonsCrowd{pulse.electrons};
    return is_dark(validity) ? why_pulses_are_lost(s, pulse) : why_time_is_lost(validity, s, result);
}

ReadingsLost reason_for(Validity validity, double share, const scenario::Scenario& s, const ReadResult& result) {
    if (result.tracking) return {validity, share, why_lost_on_the_move(validity, s, result)};
    return {validity, share,
            std::visit([&](const auto& details) { return why_lost(validity, s, result, details); }, result.details)};
}

void add_validity_reasons(const scenario::Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    std::array<std::size_t, reading::validity_count> order{};
    std::iota(order.begin(), order.end(), std::size_t{0});
    const auto& counts = result.statistics.validity;
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return counts[a] > counts[b]; });
    for (const std::size_t i : order) {
        const auto validity = static_cast<Validity>(i);
        if (validity == Validity::valid || counts[i] == 0) continue;
        const double share = static_cast<double>(counts[i]) / static_cast<double>(result.statistics.readings);
        reasons.emplace_back(reason_for(validity, share, s, result));
    }
}

// Of a sensor whose beam stands askew on the mounting: a true displacement d is read as d / cos.
std::optional<TurnedSensorReadsLonger> why_longer(const scenario::Scenario& s, const ReadResult& result) {
    constexpr double worth_telling = 0.05;  // of the tolerance
    if (result.tracking || !result.systematic || s.emitter.angle != 0.0) return std::nullopt;
    const double error = sensor::excess_of_turned(s.mount.tilt, result.true_displacement);
    if (std::abs(error) < worth_telling * s.requirement.tolerance) return std::nullopt;
    const bool largest = std::abs(*result.systematic - error) < 0.5 * std::abs(error);
    return TurnedSensorReadsLonger{std::acos(sensor::scale_of_turned(s.mount.tilt)), error, largest};
}

// A translucent part whose largest error is its bias, beyond what a turned sensor explains.
std::optional<LightEntersPart> why_too_far(const scenario::Scenario& s, const ReadResult& result,
                                           const Verdict& verdict) {
    const bool enters = s.target.made_of.volume && scenario::abilities_of(s.principle).array;
    if (!enters || !result.systematic || verdict.level == Level::stable) return std::nullopt;
    const Cause first = verdict.contributions.front().cause;
    const bool is_reference = s.target.made_of.name == s.reading.reference.name;
    if (result.inside_error) {
        if (first != Cause::inside) return std::nullopt;
        return LightEntersPart{*result.inside_error, is_reference, true};
    }
    if (first != Cause::bias && first != Cause::mean_in_motion) return std::nullopt;
    const auto longer = why_longer(s, result);
    if (longer && longer->largest) return std::nullopt;
    return LightEntersPart{*result.systematic - (longer ? longer->error : 0.0), is_reference, false};
}

// Where light that is not the emitter's is much beside the peak, or flickers beyond its own noise.
void add_ambient_reasons(const scenario::Scenario& s, const ReadResult& result, Verdict& verdict) {
    const Signal& signal = result.signal;
    constexpr double much = 0.5;
    const bool fills = signal.background > s.exposure.level * s.detector.full_well;
    const bool on_array = scenario::abilities_of(s.principle).array;
    // Electrons below the noise of a dark pixel rival nothing, and a peak of next to nothing has no rival: the part is
    // dark.
    constexpr double next_to_nothing = 0.01;
    const bool counts = signal.lamps + signal.glow > s.detector.read_noise &&
                        signal.peak > next_to_nothing * (signal.lamps + signal.glow);
    if (on_array && verdict.level != Level::stable && !fills && counts &&
        signal.lamps + signal.glow > much * signal.peak) {
        verdict.reasons.emplace_back(AmbientRivalsPeak{signal.lamps, signal.glow, signal.peak});
    }
    // Buckets are filled one after the other.
    const auto of_bucket = [&](const PhaseDetails&) {
        return flight::slot_time(result.timing.exposure, s.flight.buckets, s.flight.taps);
    };
    const auto whole = [&](const auto&) { return result.timing.exposure; };
    const double duration = std::visit(base::Cases{of_bucket, whole}, result.details);
    const double swing = std::abs(receiver::flicker_amplitude(s.surroundings, duration)) * signal.lamps;
    const double noise = std::sqrt(signal.background + s.detector.read_noise * s.detector.read_noise);
    if (swing > noise) {
        verdict.reasons.emplace_back(LampsFlicker{swing, noise, 2.0 * s.surroundings.mains_frequency, on_array});
    }
}

// Standard error of U by the patches that speckle and grain were looked at on: that of a standard deviation sigma of n
// normal values is sigma / sqrt(2 (n - 1)), and dU = k sigma_s / sigma d sigma_s.
std::optional<TooNearLimit> why_undecided(const scenario::Requirement& requirement, const ReadResult& result,
                                          const Verdict& verdict) {
    if (!stays_speckled(result) || !result.speckle->standard_deviation || !verdict.expanded_uncertainty) {
        return std::nullopt;
    }
    const double found = *verdict.expanded_uncertainty;
    const double whole = (found - std::abs(all_bias(result))) / coverage_factor;
    const std::int64_t patches = result.speckle->patches_read;
    const double speckle = *result.speckle->standard_deviation;
    if (!(whole > 0.0) || patches < 2) return std::nullopt;
    const double error =
        coverage_factor * speckle * speckle / (whole * std::sqrt(2.0 * static_cast<double>(patches - 1)));
    constexpr double errors = 2.0;  // 95 %
    for (const double limit : {allowed_error(requirement), requirement.tolerance}) {
        if (std::abs(found - limit) < errors * error) return TooNearLimit{found, limit, error, patches};
    }
    return std::nullopt;
}

// Whether a longer exposure would let much more of the spot pass the threshold: fewer speckles then decide less.
bool is_cut_by_threshold(const scenario::Scenario& s, const ReadResult& result) {
    constexpr double room = 0.5;
    constexpr double rim = 0.05;  // of the peak: below that the rim of a spot weighs little
    const double share = result.signal.peak_share;
    return s.exposure.mode == scenario::ExposureMode::fixed && share < room * s.exposure.level &&
           s.reading.threshold > rim * share;
}

// What shakes the reading though part and sensor are at rest, and light that is another sensor's.
void add_disturbances(const scenario::Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    constexpr double worth_telling = 0.05;  // of the tolerance
    const double enough = worth_telling * s.requirement.tolerance;
    if (result.air_wander > enough) {
        reasons.emplace_back(HotAirWanders{result.air_wander, result.air_wander_single, s.surroundings.hot_air_height});
    }
    if (result.mount_shake > enough) {
        const double amplitude = s.motion.mount_vibration;
        reasons.emplace_back(MountShakes{amplitude, s.motion.mount_vibration_frequency,
                                         std::sqrt(2.0) * result.mount_shake / amplitude});
    }
    const auto on_array = [&](const TriangulationDetails& details) {
        if (const auto seen = neighbour_in_view(s, details.pose)) reasons.emplace_back(*seen);
    };
    std::visit(base::Cases{on_array, [](const auto&) {}}, result.details);
}

// Tool marks that send the light past the lens say more than that it is dark.
void put_cause_of_darkness_first(std::vector<Reason>& reasons) {
    std::stable_partition(reasons.begin(), reasons.end(), [](const Reason& reason) {
        const auto* lay = std::get_if<LayTurnsLightAway>(&reason);
        return lay != nullptr && lay->is_lost;
    });
}

LargestError largest_error(const Verdict& verdict, const scenario::Scenario& s) {
    const double uncertainty = *verdict.expanded_uncertainty;
    return {uncertainty, sensor::percent_of_span(s, uncertainty), s.requirement.tolerance,
            verdict.contributions.front()};
}

}  // namespace

Verdict judge(const scenario::Scenario& scenario, const ReadResult& result) {
    Verdict verdict;
    const double still_share = valid_share(result.statistics);
    const double share =
        stays_speckled(result) ? std::min(still_share, result.speckle->replaced_valid_share) : still_share;
    if (scatter_of(result)) {
        verdict.contributions = contributions_of(scenario, result);
        verdict.expanded_uncertainty = expanded(verdict.contributions, all_bias(result));
    }
    verdict.valid_share = share;
    verdict.level = level_of(scenario.requirement, share, verdict.expanded_uncertainty);
    if (auto reason = why_unresolved(scenario, result)) {
        verdict.level = std::max(verdict.level, Level::unstable);
        verdict.reasons.emplace_back(*reason);
    }

    if (still_share < scenario.requirement.stable_valid_share) {
        add_validity_reasons(scenario, result, verdict.reasons);
    } else if (share < scenario.requirement.stable_valid_share) {
        verdict.reasons.emplace_back(LostOnOtherPatches{result.speckle->replaced_valid_share});
    }
    if (verdict.expanded_uncertainty) {
        verdict.reasons.emplace_back(largest_error(verdict, scenario));
        const std::int64_t outputs = result.statistics.independent_outputs;
        if (outputs < few_outputs) verdict.reasons.emplace_back(FewOutputs{outputs, !(*scatter_of(result) > 0.0)});
        if (const auto near = why_undecided(scenario.requirement, result, verdict)) verdict.reasons.emplace_back(*near);
        if (const auto longer = why_longer(scenario, result)) verdict.reasons.emplace_back(*longer);
        if (const auto enters = why_too_far(scenario, result, verdict)) verdict.reasons.emplace_back(*enters);
        if (speckle_decides(verdict)) {
            const bool on_array = std::visit(
                base::Cases{[](const TriangulationDetails&) { return true; }, [](const PhaseDetails&) { return false; },
                            [](const PulseDetails&) { return false; }},
                result.details);
            verdict.reasons.emplace_back(SpeckleStays{*result.speckle->standard_deviation, on_array,
                                                      on_array && is_cut_by_threshold(scenario, result)});
        }
        constexpr double worth_telling = 0.01;  // of the tolerance
        if (std::abs(result.marking_error.value_or(0.0)) > worth_telling * scenario.requirement.tolerance) {
            verdict.reasons.emplace_back(
                MarkingsShiftReading{*result.marking_error, result.spot_radius,
                                     scenario.target.pattern.kind != scenario::PatternKind::none});
        }
    } else if (result.statistics.outputs > 0) {
        verdict.reasons.emplace_back(TooFewOutputs{result.statistics.outputs});
    }
    if (result.tracking) {
        for (const Reason& reason : reasons_on_the_move(scenario, result)) verdict.reasons.push_back(reason);
    }
    for (const Reason& reason : reasons_of_part(scenario, result, verdict)) verdict.reasons.push_back(reason);
    add_ambient_reasons(scenario, result, verdict);
    const double left = scenario::warm_up_left(scenario.thermal, scenario.surroundings.running);
    constexpr double noticed = 0.1;  // K
    if (left > noticed && verdict.level != Level::stable) {
        const auto [fast, slow] = scenario.thermal.warm_up_times;
        verdict.reasons.emplace_back(
            SensorWarmsUp{scenario.surroundings.running, left, std::max(fast, slow) * std::log(10.0)});
    }
    add_disturbances(scenario, result, verdict.reasons);
    for (const Reason& reason : reasons_of_timing(scenario, result)) verdict.reasons.push_back(reason);
    const auto by_pulses = [&](const PulseDetails& pulse) {
        const bool by_fraction = scenario.flight.timing == scenario::PulseTiming::constant_fraction;
        if (pulse.overload > 1.0) verdict.reasons.emplace_back(AmplifierSaturates{pulse.overload, by_fraction});
    };
    std::visit(base::Cases{by_pulses, [](const auto&) {}}, result.details);
    if (result.response_time > scenario.requirement.response) {
        verdict.reasons.emplace_back(
            ResponseTooLong{result.response_time, scenario.requirement.response,
                            scenario::default_in_use(scenario, "requirement.response_ms").has_value()});
    }
    put_cause_of_darkness_first(verdict.reasons);
    return verdict;
}

}  // namespace spotwright::measure
