// What the reasons of a verdict point to.
#include <algorithm>
#include <variant>

#include "sim/study/changes.hpp"

namespace spotwright::study {

namespace {

using Kinds = std::vector<std::string>;

Kinds kinds_against(measure::Cause cause) {
    using measure::Cause;
    switch (cause) {
        case Cause::noise:
        case Cause::shot_noise:
        case Cause::read_noise:
        case Cause::timing_noise:
        case Cause::digitising:
            return {"exposure", "power", "average", "aperture", "pulses"};
        case Cause::speckle:
        case Cause::patches:
        case Cause::grain:
            return {"aperture", "spot", "angle", "average"};
        case Cause::bias:
        case Cause::linearity:
        case Cause::material:
        case Cause::inside:
            return {"warm", "reference", "peak", "distance", "coat", "timing", "table", "buckets"};
        case Cause::pixels:
        case Cause::image:
            return {"spot", "method"};
        case Cause::change_in_motion:
        case Cause::mean_in_motion:
        case Cause::motion:
            return {"average", "exposure"};
        case Cause::ambient_noise:
        case Cause::ambient_change:
        case Cause::flicker:
        case Cause::background:
            return {"shade", "filter", "exposure"};
        case Cause::tilt:
            return {"turn", "mount"};
        case Cause::temperature:
        case Cause::reference:
            return {"warm", "zero"};
        case Cause::markings:
            return {"orientation", "spot"};
        case Cause::hot_air:
            return {"air", "average", "angle"};
        case Cause::mount_vibration:
            return {"bracket", "average"};
        case Cause::neighbour:
            return {"neighbour"};
        case Cause::pointing:
            return {"average"};
        case Cause::making:
            return {"lens"};
    }
    return {};
}

Kinds kinds_against(const measure::WhyLost& why) {
    using namespace measure;
    if (std::holds_alternative<AmbientFillsPixels>(why)) return {"shade", "filter", "exposure"};
    if (std::holds_alternative<GlowFillsPixels>(why)) return {"wavelength", "filter", "exposure"};
    if (std::holds_alternative<PartOutside>(why) || std::holds_alternative<PartLeavesRange>(why)) return {"distance"};
    if (std::holds_alternative<DistanceRepeats>(why)) return {"modulation", "distance"};
    return {"exposure", "power"};
}

Kinds kinds_against(const measure::Reason& reason) {
    using namespace measure;
    if (std::holds_alternative<LayTurnsLightAway>(reason)) return {"orientation"};
    if (std::holds_alternative<BackFaceRead>(reason) || std::holds_alternative<BehindPlateRead>(reason)) {
        return {"peak", "mount"};
    }
    if (std::holds_alternative<MirroredBeamMisses>(reason) || std::holds_alternative<OnlyHaze>(reason)) {
        return {"mount"};
    }
    if (std::holds_alternative<GlareNear>(reason)) return {"turn", "mount"};
    if (std::holds_alternative<LensErrsForPart>(reason)) return {"lens", "reference"};
    if (std::holds_alternative<GlassLiftsPart>(reason)) return {"glass"};
    if (std::holds_alternative<GhostCounts>(reason)) return {"ghost", "peak"};
    if (std::holds_alternative<DirtTakesLight>(reason)) return {"clean"};
    if (std::holds_alternative<BeamPointingJitters>(reason)) return {"average"};
    if (std::holds_alternative<FilterCutsLight>(reason)) return {"filter"};
    if (std::holds_alternative<LightEntersPart>(reason)) return {"reference", "peak"};
    if (std::holds_alternative<HotAirWanders>(reason)) return {"air", "average"};
    if (std::holds_alternative<MountShakes>(reason)) return {"bracket", "average"};
    if (std::holds_alternative<NeighbourInView>(reason) || std::holds_alternative<NeighbourBeats>(reason) ||
        std::holds_alternative<NeighbourPulses>(reason)) {
        return {"neighbour"};
    }
    if (std::holds_alternative<TableLeaves>(reason) || std::holds_alternative<BeyondTable>(reason)) return {"table"};
    if (std::holds_alternative<AmbientRivalsPeak>(reason)) return {"shade", "filter"};
    if (const auto* lost = std::get_if<ReadingsLost>(&reason)) return kinds_against(lost->why);
    if (std::holds_alternative<LostOnOtherPatches>(reason)) return {"exposure"};
    if (const auto* error = std::get_if<LargestError>(&reason)) return kinds_against(error->largest.cause);
    return {};
}

// Reasons that name a cause of their own before those that say how much light or error there is.
bool names_a_cause(const measure::Reason& reason) {
    return !std::holds_alternative<measure::ReadingsLost>(reason) &&
           !std::holds_alternative<measure::LargestError>(reason) &&
           !std::holds_alternative<measure::LostOnOtherPatches>(reason);
}

}  // namespace

std::vector<std::string> indicated_kinds(const measure::Verdict& verdict) {
    Kinds all;
    for (const bool cause : {true, false}) {
        for (const measure::Reason& reason : verdict.reasons) {
            if (names_a_cause(reason) != cause) continue;
            for (const std::string& kind : kinds_against(reason)) {
                if (std::find(all.begin(), all.end(), kind) == all.end()) all.push_back(kind);
            }
        }
    }
    return all;
}

}  // namespace spotwright::study
