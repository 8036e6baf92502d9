#include "sim/measure/part_reasons.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/target/plate.hpp"

namespace spotwright::measure {

namespace {

using reading::Validity;
using scenario::Scenario;

// Depths under the front face at which back face and backing seem to stand. [m]
struct Depths {
    double back = 0.0;
    std::optional<double> behind;
};

// Angles in the plane of the mounting, from the part's normal.
double depth_on_array(const Scenario& s, double index) {
    const double normal = s.target.tilt[0] - s.mount.tilt[0];
    return target::apparent_thickness(s.target.plate.thickness, index, normal - s.emitter.angle,
                                      s.receiver.angle - normal);
}

Depths depths_of(const Scenario& s) {
    const double index = scenario::index_at(s.target.made_of, s.emitter.wavelength).real();
    const auto on_array = [&](scenario::Triangulation) { return depth_on_array(s, index); };
    const auto by_path = [&] { return s.target.plate.thickness * index; };
    const double back = std::visit(base::Cases{on_array, [&](scenario::PhaseShift) { return by_path(); },
                                               [&](scenario::Pulsed) { return by_path(); }},
                                   s.principle);
    if (!s.target.plate.backing_made_of) return {back, std::nullopt};
    return {back, back + s.target.plate.gap};
}

void add_face(const Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    if (!result.statistics.mean || result.tracking) return;
    const double deeper = *result.statistics.mean - result.true_displacement;
    const auto face = face_read(s, result.true_displacement, *result.statistics.mean);
    if (face == Face::back) reasons.emplace_back(BackFaceRead{deeper});
    if (face == Face::behind) reasons.emplace_back(BehindPlateRead{s.target.plate.backing_made_of->name, deeper});
}

bool is_lost_in_the_dark(const Scenario& s, const ReadResult& result) {
    const auto count = [&](Validity v) { return result.statistics.validity[static_cast<std::size_t>(v)]; };
    const auto dark = static_cast<double>(count(Validity::too_dark) + count(Validity::no_peak));
    return dark > (1.0 - s.requirement.stable_valid_share) * static_cast<double>(result.statistics.readings);
}

// Marks of turning and of grinding run round a shaft: in the plane of the mounting where its axis runs across that.
void add_lay_of_shaft(const Scenario& s, std::vector<Reason>& reasons) {
    const auto [along, across] = s.target.made_of.roughness.rms_slope;
    const bool machined = s.target.shape == scenario::ShapeKind::cylinder && along != across;
    if (!machined || scenario::default_in_use(s, "target.lay_deg")) return;
    const bool is_across = s.target.cylinder.axis == scenario::Direction::across;
    const double off = is_across ? std::abs(std::sin(s.target.lay)) : std::abs(std::cos(s.target.lay));
    const double half_way = std::sqrt(0.5);
    if (off > half_way) reasons.emplace_back(LayAlongAxis{s.target.lay, is_across ? 0.0 : 90.0 * base::degree});
}

LightAcrossLay light_across_lay(const Scenario& s, const ReadResult& result) {
    const double peak = result.signal.peak_share * *result.turned_lay_gain;
    // No light as it lies has no factor: not a number, and too little.
    if (!(peak >= s.reading.threshold)) return LightAcrossLay::too_little;
    const bool adapts = s.exposure.mode == scenario::ExposureMode::automatic;
    const double shortest = adapts ? s.exposure.exposure / result.timing.exposure : 1.0;
    return peak * shortest > 1.0 ? LightAcrossLay::too_much : LightAcrossLay::enough;
}

// Of a part that reads as it lies, worth telling where something is amiss, or where nobody wrote the lay.
void add_lay(const Scenario& s, const ReadResult& result, const Verdict& verdict, std::vector<Reason>& reasons) {
    constexpr double much_more = 10.0;
    if (result.turned_lay_gain.value_or(0.0) <= much_more) return;
    const bool is_default = scenario::default_in_use(s, "target.lay_deg").has_value();
    const bool is_lost = is_lost_in_the_dark(s, result);
    if (!is_default && !is_lost && verdict.level == Level::stable) return;
    reasons.emplace_back(
        LayTurnsLightAway{s.target.lay, *result.turned_lay_gain, is_default, is_lost, light_across_lay(s, result)});
}

void add_gloss(const Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    const bool dark = is_lost_in_the_dark(s, result);
    constexpr double nearly_all = 0.9;
    const bool only_haze = result.signal.haze > nearly_all;
    if (!result.glare) return;
    const sensor::Glare& glare = *result.glare;
    if (only_haze) reasons.emplace_back(OnlyHaze{glare.off_lens});
    const bool misses = glare.off_lens > 0.0 && (glare.narrow || glare.wanted);
    if (misses && dark && !only_haze) reasons.emplace_back(MirroredBeamMisses{glare.off_lens, glare.tilt});
    const bool is_near = glare.away <= reach_of(glare) + s.uncertainty.tilt;
    if (glare.narrow && !glare.wanted && is_near && !dark) {
        reasons.emplace_back(GlareNear{glare.away, reach_of(glare), s.uncertainty.tilt,
                                       scenario::default_in_use(s, "uncertainty.tilt_deg").has_value(), glare.tilt});
    }
}

// A part at rest whose exposure is what the control cannot go beyond.
void add_exposure(const Scenario& s, const ReadResult& result, const Verdict& verdict, std::vector<Reason>& reasons) {
    if (s.exposure.mode != scenario::ExposureMode::automatic || result.exposure_use) return;
    if (verdict.level == Level::stable || std::holds_alternative<PulseDetails>(result.details)) return;
    const double asked = result.signal.peak_share + result.signal.background / s.detector.full_well;
    const double exposure = result.timing.exposure;
    const bool lowest = exposure <= s.exposure.exposure && asked > s.exposure.level;
    // Nobody exposes a thousand times as long: such a part sends nothing to the lens.
    constexpr double hopeless = 1e-3;
    const bool highest = exposure >= s.exposure.period[1] && asked < s.exposure.level &&
                         result.signal.peak_share > hopeless * s.exposure.level;
    // What the control would change by less than this does not matter.
    constexpr double matters = 0.05;
    if ((lowest || highest) && std::abs(asked / s.exposure.level - 1.0) > matters) {
        reasons.emplace_back(ExposureAtLimit{exposure, lowest, asked, s.exposure.level});
    }
}

// What the sensor itself brings, as it is made and stands. Less than a tenth of the tolerance is not worth a word.
void add_instrument(const Scenario& s, const ReadResult& result, std::vector<Reason>& reasons) {
    constexpr double worth = 0.1;
    const double tolerance = s.requirement.tolerance;
    const double by_lens = std::abs(result.lens_error.value_or(0.0));
    if (by_lens > worth * tolerance) {
        const bool drawn = s.making != scenario::Making{};
        reasons.emplace_back(LensErrsForPart{by_lens, by_lens / tolerance, drawn});
    }
    if (result.glass_error && std::abs(*result.glass_error) > worth * tolerance) {
        reasons.emplace_back(GlassLiftsPart{*result.glass_error, s.cover.glass});
    }
    const double ghost = result.signal.ghost;
    if (scenario::abilities_of(s.principle).array && ghost >= s.reading.threshold) {
        reasons.emplace_back(GhostCounts{ghost, s.reading.threshold});
    }
    constexpr double much_dirt = 0.05;
    if (scenario::abilities_of(s.principle).array && s.cover.dirt_share > much_dirt) {
        reasons.emplace_back(DirtTakesLight{s.cover.dirt_share, s.cover.haze_share});
    }
    constexpr double deviations = 2.0;
    if (deviations * result.pointing_deviation > worth * tolerance) {
        reasons.emplace_back(BeamPointingJitters{s.emitter.pointing_jitter, result.pointing_deviation});
    }
    constexpr double enough = 0.9;
    const double warming = scenario::sensor_temperature(s) - base::room_temperature;
    const double wavelength = s.emitter.wavelength + s.thermal.wavelength_change * warming;
    const double passed = sensor::filter_passed(s, wavelength);
    if (scenario::abilities_of(s.principle).array && passed < enough) {
        reasons.emplace_back(FilterCutsLight{passed, wavelength});
    }
}

}  // namespace

std::optional<Face> face_read(const Scenario& s, double true_displacement, double displacement) {
    if (s.target.shape != scenario::ShapeKind::plate) return std::nullopt;
    const Depths depths = depths_of(s);
    const double deeper = displacement - true_displacement;
    // A backing that touches the plate is what scatters there.
    struct Candidate {
        Face face;
        double depth;
    };
    std::vector<Candidate> candidates{{Face::front, 0.0}};
    if (!depths.behind || *depths.behind > depths.back) candidates.push_back({Face::back, depths.back});
    if (depths.behind) candidates.push_back({Face::behind, *depths.behind});
    const auto nearest = std::min_element(candidates.begin(), candidates.end(), [&](const auto& a, const auto& b) {
        return std::abs(deeper - a.depth) < std::abs(deeper - b.depth);
    });
    double between = candidates.back().depth;
    for (const Candidate& each : candidates) {
        if (each.face != nearest->face) between = std::min(between, std::abs(each.depth - nearest->depth));
    }
    constexpr double belongs = 0.25;
    return std::abs(deeper - nearest->depth) < belongs * between ? std::optional(nearest->face) : std::nullopt;
}

std::vector<Reason> reasons_of_part(const Scenario& s, const ReadResult& result, const Verdict& verdict) {
    std::vector<Reason> reasons;
    add_face(s, result, reasons);
    add_lay(s, result, verdict, reasons);
    add_lay_of_shaft(s, reasons);
    add_gloss(s, result, reasons);
    add_exposure(s, result, verdict, reasons);
    add_instrument(s, result, reasons);
    return reasons;
}

}  // namespace spotwright::measure
