#include "sim/record/moving_json.hpp"

#include "sim/base/units.hpp"
#include "sim/record/json_number.hpp"

namespace spotwright::record {

namespace {

using base::degree, base::kHz, base::mm, base::ms, base::um, base::us;
using nlohmann::ordered_json;

ordered_json tracking_json(const measure::TrackingResult& tracking) {
    return {{"outputs", tracking.outputs},
            {"mean_error_um", json_number(tracking.mean_error, um)},
            {"error_sd_um", json_number(tracking.error_deviation, um)},
            {"rms_error_um", json_number(tracking.rms_error, um)},
            {"largest_error_um", json_number(tracking.largest_error, um)},
            {"delay_ms", json_number(tracking.delay, ms)},
            {"age_ms", json_number(tracking.age, ms)},
            {"bandwidth_Hz", json_number(tracking.bandwidth)},
            {"rms_speed_mm_per_s", json_number(tracking.speed, mm)},
            {"lag_um", json_number(tracking.speed * tracking.delay, um)},
            {"rms_smear_um", json_number(tracking.smear, um)},
            {"outside_share", json_number(tracking.outside_share)},
            {"unresolved_share", json_number(tracking.unresolved_share)}};
}

ordered_json exposure_json(const measure::ExposureUse& use) {
    return {{"changes", use.changes},
            {"dark_readings_per_change", json_number(use.dark_per_change)},
            {"saturated_readings_per_change", json_number(use.saturated_per_change)},
            {"late_readings", json_number(use.late)},
            {"blind_length_mm", json_number(use.blind_length, mm)},
            {"mean_rate_kHz", json_number(use.mean_rate, kHz)},
            {"least_rate_kHz", json_number(use.min_rate, kHz)},
            {"shortest_exposure_us", json_number(use.shortest_exposure, us)},
            {"longest_exposure_us", json_number(use.longest_exposure, us)}};
}

// What was not found is null.
ordered_json scan_json(const measure::Scan& scan) {
    if (scan.run_out) {
        const measure::RunOut& r = *scan.run_out;
        return {{"kind", "run-out"},
                {"readings", r.readings},
                {"revolutions", r.revolutions},
                {"readings_per_revolution", json_number(r.per_revolution)},
                {"eccentricity_um", json_number(r.eccentricity.value, um)},
                {"eccentricity_u_um", json_number(r.eccentricity.uncertainty, um)},
                {"high_spot_deg", json_number(r.high_spot.value, degree)},
                {"high_spot_u_deg", json_number(r.high_spot.uncertainty, degree)},
                {"total_run_out_um", json_number(r.total, um)},
                {"out_of_roundness_um", json_number(r.out_of_roundness, um)},
                {"residual_sd_um", json_number(r.residual_deviation, um)}};
    }
    if (scan.roll) {
        return {{"kind", "roll"},
                {"readings", scan.roll->points},
                {"diameter_mm", json_number(2.0 * scan.roll->radius.value, mm)},
                {"diameter_u_mm", json_number(2.0 * scan.roll->radius.uncertainty, mm)}};
    }
    if (scan.step) {
        return {{"kind", "step"},
                {"readings", scan.step->readings},
                {"height_um", json_number(scan.step->height.value, um)},
                {"height_u_um", json_number(scan.step->height.uncertainty, um)},
                {"edge_mm", json_number(scan.step->edge, mm)}};
    }
    return nullptr;
}

}  // namespace

void add_motion(const measure::ReadResult& result, ordered_json& json) {
    if (result.tracking) json["motion"] = tracking_json(*result.tracking);
    if (result.exposure_use) json["exposure_control"] = exposure_json(*result.exposure_use);
    if (result.scan) json["scan"] = scan_json(*result.scan);
}

}  // namespace spotwright::record
