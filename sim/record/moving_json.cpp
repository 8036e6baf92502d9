#include "sim/record/moving_json.hpp"

#include <cmath>
#include <optional>

#include "sim/base/units.hpp"

namespace spotwright::record {

namespace {

using base::degree, base::kHz, base::mm, base::ms, base::um, base::us;
using nlohmann::ordered_json;

// A number in a unit; null where it does not exist or is not finite.
ordered_json number_or_null(std::optional<double> si, double unit = 1.0) {
    if (!si || !std::isfinite(*si)) return nullptr;
    return *si / unit;
}

ordered_json following_json(const study::Following& following) {
    return {{"outputs", following.outputs},
            {"mean_error_um", number_or_null(following.mean_error, um)},
            {"error_sd_um", number_or_null(following.error_deviation, um)},
            {"rms_error_um", number_or_null(following.rms_error, um)},
            {"largest_error_um", number_or_null(following.largest_error, um)},
            {"delay_ms", number_or_null(following.delay, ms)},
            {"age_ms", number_or_null(following.age, ms)},
            {"bandwidth_Hz", number_or_null(following.bandwidth)},
            {"rms_speed_mm_per_s", number_or_null(following.speed, mm)},
            {"lag_um", number_or_null(following.speed * following.delay, um)},
            {"rms_smear_um", number_or_null(following.smear, um)},
            {"outside_share", number_or_null(following.outside_share)}};
}

ordered_json exposure_json(const study::ExposureUse& use) {
    return {{"changes", use.changes},
            {"dark_readings_per_change", number_or_null(use.dark_per_change)},
            {"saturated_readings_per_change", number_or_null(use.saturated_per_change)},
            {"late_readings", number_or_null(use.late)},
            {"blind_length_mm", number_or_null(use.blind_length, mm)},
            {"mean_rate_kHz", number_or_null(use.mean_rate, kHz)},
            {"least_rate_kHz", number_or_null(use.least_rate, kHz)},
            {"shortest_exposure_us", number_or_null(use.shortest_exposure, us)},
            {"longest_exposure_us", number_or_null(use.longest_exposure, us)}};
}

// What was not found is null.
ordered_json scan_json(const study::Scan& scan) {
    if (scan.run_out) {
        const study::RunOut& r = *scan.run_out;
        return {{"kind", "run-out"},
                {"readings", r.readings},
                {"revolutions", r.revolutions},
                {"readings_per_revolution", number_or_null(r.per_revolution)},
                {"eccentricity_um", number_or_null(r.eccentricity.value, um)},
                {"eccentricity_u_um", number_or_null(r.eccentricity.uncertainty, um)},
                {"high_spot_deg", number_or_null(r.high_spot.value, degree)},
                {"high_spot_u_deg", number_or_null(r.high_spot.uncertainty, degree)},
                {"total_run_out_um", number_or_null(r.total, um)},
                {"out_of_roundness_um", number_or_null(r.out_of_roundness, um)},
                {"residual_sd_um", number_or_null(r.residual_deviation, um)}};
    }
    if (scan.roll) {
        return {{"kind", "roll"},
                {"readings", scan.roll->points},
                {"diameter_mm", number_or_null(2.0 * scan.roll->radius.value, mm)},
                {"diameter_u_mm", number_or_null(2.0 * scan.roll->radius.uncertainty, mm)}};
    }
    if (scan.step) {
        return {{"kind", "step"},
                {"readings", scan.step->readings},
                {"height_um", number_or_null(scan.step->height.value, um)},
                {"height_u_um", number_or_null(scan.step->height.uncertainty, um)},
                {"edge_mm", number_or_null(scan.step->edge, mm)}};
    }
    return nullptr;
}

}  // namespace

void add_motion(const study::ReadResult& result, ordered_json& json) {
    if (result.following) json["motion"] = following_json(*result.following);
    if (result.exposure_use) json["exposure_control"] = exposure_json(*result.exposure_use);
    if (result.scan) json["scan"] = scan_json(*result.scan);
}

}  // namespace spotwright::record
