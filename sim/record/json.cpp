#include "sim/record/json.hpp"

#include "sim/target/fresnel.hpp"
#include "sim/target/subsurface.hpp"
#include "sim/target/surface.hpp"

#include <array>
#include <cmath>
#include <optional>
#include <string>
#include <string_view>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/material_range_json.hpp"
#include "sim/record/moving_json.hpp"
#include "sim/record/quantities_json.hpp"
#include "sim/record/statistics_json.hpp"
#include "sim/record/text.hpp"
#include "sim/scenario/material_wavelengths.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/measure/quantities.hpp"
#include "sim/sensor/housing.hpp"

namespace spotwright::record {

namespace {

using base::degree, base::mm, base::ms, base::um;
using nlohmann::ordered_json;

/// Of a standard deviation from so many independent values.
ordered_json deviation_json(std::optional<double> deviation, std::int64_t count) {
    return interval_json(study::deviation_interval_or_none(deviation, count));
}

double share_of(const measure::SeriesStatistics& statistics, reading::Validity validity) {
    const auto count = static_cast<double>(statistics.validity[static_cast<std::size_t>(validity)]);
    return count / static_cast<double>(statistics.readings);  // NaN, hence null, without readings
}

ordered_json invalid_shares(const measure::SeriesStatistics& statistics) {
    ordered_json shares = ordered_json::object();
    for (std::size_t i = 0; i < reading::validity_count; ++i) {
        const auto validity = static_cast<reading::Validity>(i);
        if (validity == reading::Validity::valid || statistics.validity[i] == 0) continue;
        shares[std::string(reading::name_of(validity))] = json_number(share_of(statistics, validity));
    }
    return shares;
}

// The numbers of a reading by name; null if one does not exist.
class Numbers {
public:
    Numbers(const measure::ReadResult& result, const scenario::Scenario& scenario)
        : result_(result), scenario_(scenario) {}

    ordered_json operator()(std::string_view name) const {
        return json_number(measure::quantity(name, result_, scenario_));
    }

private:
    const measure::ReadResult& result_;
    const scenario::Scenario& scenario_;
};

ordered_json signal_json(const measure::ReadResult& result, const scenario::Scenario& scenario) {
    ordered_json json;
    add_under("/signal", Groups::all, result, scenario, json);
    return json;
}

ordered_json thickness_json(const measure::SeriesStatistics& statistics, const scenario::Scenario& scenario,
                            const Numbers& number) {
    return {{"index", json_number(scenario.reading.thickness_index)},
            {"found_share", number("thickness_found_share")},
            {"true_mm", number("thickness_true_mm")},
            {"mean_mm", number("thickness_mean_mm")},
            {"still_sd_um", number("thickness_still_sd_um")},
            {"still_sd_interval_um", deviation_json(statistics.thickness_deviation, statistics.thicknesses)}};
}

ordered_json frequencies_json(const measure::PhaseDetails& details) {
    ordered_json list = ordered_json::array();
    for (const measure::FrequencyResult& each : details.frequencies) {
        list.push_back({{"modulation_MHz", json_number(each.frequency, base::MHz)},
                        {"phase_rad", json_number(each.phase)},
                        {"amplitude_e", json_number(each.amplitude)},
                        {"offset_e", json_number(each.offset)},
                        {"phase_sd_rad", json_number(each.deviation)}});
    }
    return list;
}

// Numbers of one principle alone.
void add_details(const measure::ReadResult& result, const scenario::Scenario& scenario, ordered_json& json) {
    const auto add = [&] { add_under("/flight", Groups::existing, result, scenario, json["flight"]); };
    const auto by_phase = [&](const measure::PhaseDetails& details) {
        add();
        json["flight"]["frequencies"] = frequencies_json(details);
    };
    const auto by_pulses = [&](const measure::PulseDetails&) { add(); };
    std::visit(base::Cases{by_phase, by_pulses, [](const measure::TriangulationDetails&) {}}, result.details);
}

// Null if it is off or nothing scatters.
ordered_json speckle_json(const measure::ReadResult& result, const Numbers& number) {
    if (!result.speckle) return nullptr;
    const sensor::SpeckleStatistics& speckle = *result.speckle;
    return {{"model", speckle.model == scenario::SpeckleModel::coherent ? "coherent" : "statistical"},
            {"patches", speckle.patches},
            {"contrast", number("speckle_contrast")},
            {"pattern_contrast", number("speckle_pattern_contrast")},
            {"size_um", number("speckle_size_um")},
            {"size_px", number("speckle_size_px")},
            {"sd_um", number("speckle_sd_um")},
            {"sd_interval_um", deviation_json(speckle.standard_deviation, speckle.patches_read)},
            {"grain_sd_um", number("grain_sd_um")},
            {"offset_um", number("speckle_offset_um")},
            {"limit_um", number("speckle_limit_um")}};
}

std::optional<double> replaced_deviation(const measure::ReadResult& result) {
    return result.speckle ? result.speckle->replaced_deviation : result.statistics.standard_deviation;
}

// Of the base, or of all light that a volume returns.
std::optional<double> known_reflectance(const scenario::Material& material, double wavelength) {
    try {
        if (material.volume) {
            const target::Surface surface = target::make_surface(material, wavelength);
            return target::diffuse_reflectance(*surface.volume);
        }
        return scenario::reflectance_at(material, wavelength);
    } catch (const base::DomainError&) {
        return std::nullopt;
    }
}

}  // namespace

ordered_json to_json(const measure::Verdict& verdict, const scenario::Scenario& scenario) {
    std::optional<double> percent;
    if (verdict.expanded_uncertainty) percent = sensor::percent_of_span(scenario, *verdict.expanded_uncertainty);
    ordered_json reasons = ordered_json::array();
    for (const measure::Reason& reason : verdict.reasons) reasons.push_back(valid_utf8(in_words(reason)));
    ordered_json contributions = ordered_json::array();
    for (const measure::Contribution& c : verdict.contributions) {
        contributions.push_back(
            {{"name", name_of(c)}, {"size_um", json_number(c.size, um)}, {"systematic", c.systematic}});
    }
    return {{"level", measure::name_of(verdict.level)},
            {"explanation", measure::explanation(verdict, scenario.requirement)},
            {"covers", measure::name_of(verdict.covers)},
            {"allowed_um", json_number(measure::allowed_error(scenario.requirement), um)},
            {"found_um", json_number(verdict.expanded_uncertainty, um)},
            {"valid_share", json_number(verdict.valid_share)},
            {"reasons", reasons},
            {"expanded_uncertainty_um", json_number(verdict.expanded_uncertainty, um)},
            {"percent_of_span", json_number(percent)},
            {"tolerance_um", json_number(scenario.requirement.tolerance, um)},
            {"contributions", contributions}};
}

ordered_json to_json(const measure::ReadResult& result, const scenario::Scenario& scenario) {
    const measure::SeriesStatistics& statistics = result.statistics;
    const Numbers number(result, scenario);
    ordered_json json{
        {"title", valid_utf8(scenario.title)},
        {"seed", scenario.seed},
        {"principle", scenario::word_of(scenario, "principle")},
        {"model", scenario::word_of(scenario, "run.model")},
        {"readings", statistics.readings},
        {"valid_share", number("valid_share")},
        {"independent_outputs", statistics.independent_outputs},
        {"replaced_valid_share", number("replaced_valid_share")},
        {"invalid", invalid_shares(statistics)},
        {"true_mm", number("true_mm")},
        {"mean_mm", number("mean_mm")},
        {"bias_um", number("bias_um")},
        {"bias_without_speckle_um", number("bias_without_speckle_um")},
        {"marking_error_um", number("marking_error_um")},
        {"inside_error_um", number("inside_error_um")},
        {"lens_error_um", number("lens_error_um")},
        {"still_sd_um", number("still_sd_um")},
        {"still_sd_interval_um", deviation_json(statistics.standard_deviation, statistics.independent_outputs)},
        {"replaced_sd_um", number("replaced_sd_um")},
        {"replaced_sd_interval_um",
         deviation_json(replaced_deviation(result),
                        result.speckle ? result.speckle->replaced_independent : statistics.independent_outputs)},
        {"sampling_kHz", number("sampling_kHz")},
        {"output_response_ms", number("output_response_ms")},
        {"signal", signal_json(result, scenario)},
        {"speckle", speckle_json(result, number)},
    };
    add_motion(result, scenario, json);
    add_details(result, scenario, json);
    if (scenario.reading.thickness_index) json["thickness"] = thickness_json(statistics, scenario, number);
    if (result.glare) add_under("/glare", Groups::existing, result, scenario, json["glare"]);
    const bool by_rays = scenario.run.model == scenario::LightModel::ray;
    if (by_rays) json["rays"] = scenario.run.rays;
    if (by_rays || result.model_error) json["model_standard_error_um"] = number("model_standard_error_um");
    json["verdict"] = to_json(result.verdict, scenario);
    add_missing(result, scenario, json);
    return json;
}

ordered_json to_json(std::span<const study::AveragedError> errors) {
    ordered_json list = ordered_json::array();
    for (const study::AveragedError& error : errors) {
        list.push_back({{"average", error.average},
                        {"output_response_ms", json_number(error.response_time, ms)},
                        {"still_um", json_number(error.still, um)},
                        {"moved_um", json_number(error.moved, um)},
                        {"noise_um", json_number(error.noise, um)}});
    }
    return list;
}

namespace {

ordered_json error_json(const study::ErrorAtDistance& error) {
    if (!error.uncertainty) {
        return {{"expanded_uncertainty_um", nullptr},
                {"valid_share", json_number(error.valid_share)},
                {"obstacle", error.obstacle},
                {"reason", valid_utf8(error.reason)}};
    }
    return {{"expanded_uncertainty_um", json_number(error.uncertainty, um)},
            {"valid_share", json_number(error.valid_share)},
            {"largest", error.largest}};
}

}  // namespace

ordered_json to_json(const study::CrossoverStudy& study) {
    ordered_json points = ordered_json::array();
    for (const study::CrossoverPoint& point : study.points) {
        points.push_back({{"distance_mm", json_number(point.distance, mm)},
                          {"triangulation", error_json(point.triangulation)},
                          {"time_of_flight", error_json(point.flight)}});
    }
    return {{"crossover_mm", json_number(study.crossover, mm)},
            {"baseline_mm", json_number(study.baseline, mm)},
            {"mean_power_mW", json_number(study.power, base::mW)},
            {"time_of_flight", scenario::word_of(study.flight_principle)},
            {"distances", points}};
}

namespace {

// Null where the scenario does not know the sensor's body.
ordered_json room_json(const scenario::Scenario& scenario) {
    const auto room = sensor::room_of(scenario);
    if (!room) return nullptr;
    return {{"clearance_mm", json_number(room->clearance, mm)},
            {"near_clearance_mm", json_number(room->near_clearance, mm)},
            {"height_mm", json_number(room->height, mm)},
            {"width_mm", json_number(room->width, mm)},
            {"thickness_mm", json_number(room->thickness, mm)}};
}

// Null for a part without gloss.
ordered_json glare_json(const std::optional<sensor::Glare>& glare) {
    if (!glare) return nullptr;
    return {{"tilt_deg", glare->tilt ? json_numbers(*glare->tilt, degree) : ordered_json(nullptr)},
            {"reach_deg", json_number(reach_of(*glare), degree)},
            {"away_deg", json_number(glare->away, degree)},
            {"off_lens_deg", json_number(glare->off_lens, degree)}};
}

}  // namespace

ordered_json to_json(const sensor::Layout& layout, const scenario::Scenario& scenario) {
    const receiver::MeasurableRange& range = layout.measurable;
    return {
        {"distance_mm", json_numbers(layout.distance, mm)},
        {"span_mm", json_number(layout.span, mm)},
        {"detector_tilt_deg", json_number(layout.detector_tilt, degree)},
        {"magnification", json_number(layout.magnification)},
        {"sensitivity_um_per_um", json_number(layout.sensitivity)},
        {"pixel_um", json_number(layout.pixel_displacement, um)},
        {"image_position_mm", json_numbers(layout.image_position, mm)},
        {"measurable_range_mm", json_numbers(std::array{range.near, range.far}, mm)},
        {"measurable_limits", ordered_json::array({valid_utf8(range.near_limit), valid_utf8(range.far_limit)})},
        {"object_side_na", json_number(layout.object_side_na)},
        {"speckle_limit_um", json_number(layout.speckle_limit, um)},
        {"beam_radius_um", json_numbers(layout.beam_radius, um)},
        {"glare", glare_json(layout.glare)},
        {"laser_class_estimate", layout.laser_class},
        {"laser_caution", emitter::safety_caution()},
        {"room", room_json(scenario)},
        {"warnings", sensor::misfits_of(scenario, layout)},
    };
}

ordered_json to_json(const sensor::FlightLayout& layout, const scenario::Scenario& scenario) {
    ordered_json radius = ordered_json::array();
    ordered_json full_radius = ordered_json::array();
    for (const sensor::Field& field : layout.field) {
        radius.push_back(json_number(field.radius, mm));
        full_radius.push_back(json_number(field.full_radius, mm));
    }
    ordered_json frequencies = ordered_json::array();
    for (const sensor::FrequencyLayout& each : layout.frequencies) {
        frequencies.push_back({{"modulation_MHz", json_number(each.frequency, base::MHz)},
                               {"mm_per_rad", json_number(each.distance_per_radian, mm)},
                               {"cyclic_error_period_mm", json_number(each.cyclic_error_period, mm)}});
    }
    return {
        {"principle", scenario::word_of(scenario, "principle")},
        {"distance_mm", json_numbers(layout.distance, mm)},
        {"span_mm", json_number(layout.span, mm)},
        {"unambiguous_range_mm", json_number(layout.unambiguous_distance, mm)},
        {"frequencies", frequencies},
        {"beam_radius_um", json_numbers(layout.beam_radius, um)},
        {"field_radius_mm", radius},
        {"full_field_radius_mm", full_radius},
        {"field_offset_mm", json_numbers(layout.field_offset, mm)},
        {"spot_within_field", layout.spot_within_field},
        {"collected_power_nW", json_numbers(layout.collected_power, base::nW)},
        {"received_power_nW", json_numbers(layout.received_power, base::nW)},
        {"mean_power_mW", json_number(layout.mean_power, base::mW)},
        {"laser_class_estimate", layout.laser_class},
        {"laser_caution", layout.laser_caution},
        {"room", room_json(scenario)},
    };
}

namespace {

// Null for a matt part and for an index that is not known at the wavelength.
ordered_json interface_json(const scenario::Material& material, double wavelength) {
    if (!material.index) return nullptr;
    try {
        const target::Surface surface = target::make_surface(material, wavelength);
        return {
            {"reflectance", json_number(target::fresnel(surface.gloss->index, 1.0).unpolarised())},
            {"mirror_share", json_number(target::mirror_share(*surface.gloss, 1.0))},
            {"rms_height_um", json_number(material.roughness.rms_height, um)},
            {"rms_slope", material.roughness.rms_slope},
            {"sources",
             {{"index", valid_utf8(material.index->source)}, {"roughness", valid_utf8(material.roughness.source)}}}};
    } catch (const base::DomainError&) {
        return nullptr;
    }
}

// Null for a part that is not translucent and for coefficients that are not known at the wavelength.
ordered_json volume_json(const scenario::Material& material, double wavelength) {
    if (!material.volume) return nullptr;
    try {
        const scenario::VolumeCoefficients volume = scenario::volume_at(material, wavelength);
        const double per_mm = base::unit_of("_per_mm").factor;
        return {{"reduced_scattering_per_mm", json_number(volume.reduced_scattering, per_mm)},
                {"absorption_per_mm", json_number(volume.absorption, per_mm)},
                {"anisotropy", json_number(volume.anisotropy, 1.0)},
                {"source", valid_utf8(material.volume->source)}};
    } catch (const base::DomainError&) {
        return nullptr;
    }
}

}  // namespace

ordered_json to_json(const scenario::Material& material, double wavelength) {
    const std::array<double, 2> known = scenario::known_wavelengths(material);
    return {{"name", valid_utf8(material.name)},
            {"title", valid_utf8(material.title)},
            {"known_nm", {known[0] / base::nm, known[1] / base::nm}},
            {"reflectance", json_number(known_reflectance(material, wavelength))},
            {"slope_deg", json_number(material.slope.deviation, degree)},
            {"interface", interface_json(material, wavelength)},
            {"volume", volume_json(material, wavelength)},
            {"range", range_json(material, wavelength)},
            {"sources",
             {{"reflectance", valid_utf8(material.reflectance.source)}, {"slope", valid_utf8(material.slope.source)}}}};
}

ordered_json materials_json(double wavelength) {
    ordered_json list = ordered_json::array();
    for (const std::string& name : scenario::material_names()) {
        list.push_back(to_json(scenario::library_material(name), wavelength));
    }
    return {{"wavelength_nm", wavelength / base::nm}, {"materials", list}};
}

}  // namespace spotwright::record
