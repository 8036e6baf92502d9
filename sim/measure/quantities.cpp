#include "sim/measure/quantities.hpp"

#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <string>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::measure {

namespace {

using base::kHz, base::mm, base::ms, base::ps, base::um, base::us, base::uW;
using scenario::Scenario;

constexpr double none = std::numeric_limits<double>::quiet_NaN();

// A number in a unit; what does not exist or is not finite is NaN.
double in(double unit, std::optional<double> si) {
    return si && std::isfinite(*si) ? *si / unit : none;
}

double share(std::int64_t count, std::int64_t all) {
    return in(1.0, static_cast<double>(count) / static_cast<double>(all));
}

std::optional<double> replaced_deviation(const ReadResult& r) {
    if (r.speckle) return r.speckle->replaced_deviation;
    if (r.tracking) return std::nullopt;  // it did not stand still
    return r.statistics.standard_deviation;
}

double percent(const ReadResult& r, const Scenario& s) {
    if (!r.verdict.expanded_uncertainty) return none;
    return in(1.0, sensor::percent_of_span(s, *r.verdict.expanded_uncertainty));
}

double of_thickness(const Scenario& s, double value) {
    return s.reading.thickness_index ? value : none;
}

double true_thickness(const ReadResult& /*r*/, const Scenario& s) {
    return s.target.shape == scenario::ShapeKind::plate ? of_thickness(s, in(mm, s.target.plate.thickness)) : none;
}

// A number of what only some results have.
template <auto Member, class Part>
double of(const std::optional<Part>& part, double unit) {
    return part ? in(unit, (*part).*Member) : none;
}

// A number of light that is timed.
template <auto Member>
double of_timed(const ReadResult& r, double unit) {
    const TimedLight* light = timed_light(r.details);
    return light != nullptr ? in(unit, light->*Member) : none;
}

// A number of one principle alone.
template <auto Member, class Kind>
double of_only(const ReadResult& r, double unit) {
    const auto* details = std::get_if<Kind>(&r.details);
    return details != nullptr ? in(unit, details->*Member) : none;
}

double peak_share(const ReadResult& r, const Scenario& /*s*/) {
    const auto of_pixel = [&r](const TriangulationDetails&) { return in(1.0, r.signal.peak_share); };
    const auto of_bucket = [&r](const PhaseDetails&) { return in(1.0, r.signal.peak_share); };
    const auto of_pulses = [](const PulseDetails&) { return none; };  // their charge is not gathered in a well
    return std::visit(base::Cases{of_pixel, of_bucket, of_pulses}, r.details);
}

using R = ReadResult;
using S = Scenario;
using Speck = sensor::SpeckleStatistics;

const std::array table{
    SweepQuantity{"valid_share", "1", "share of valid readings", "/valid_share",
                  [](const R& r, const S&) { return share(r.statistics.validity[0], r.statistics.readings); }},
    SweepQuantity{"true_mm", "mm", "displacement of the lit point", "/true_mm",
                  [](const R& r, const S&) { return in(mm, r.true_displacement); }},
    SweepQuantity{"mean_mm", "mm", "mean of the outputs", "/mean_mm",
                  [](const R& r, const S&) { return in(mm, r.statistics.mean); }},
    SweepQuantity{"bias_um", "um", "mean output less truth, with the speckle of this patch", "/bias_um",
                  [](const R& r, const S&) { return in(um, r.bias); }},
    SweepQuantity{"bias_without_speckle_um", "um", "mean output less truth, without speckle",
                  "/bias_without_speckle_um", [](const R& r, const S&) { return in(um, r.systematic); }},
    SweepQuantity{"still_sd_um", "um", "standard deviation of outputs of a part that stands still", "/still_sd_um",
                  [](const R& r, const S&) { return r.tracking ? none : in(um, r.statistics.standard_deviation); }},
    SweepQuantity{"replaced_sd_um", "um", "standard deviation of outputs, each on another patch of the surface",
                  "/replaced_sd_um", [](const R& r, const S&) { return in(um, replaced_deviation(r)); }},
    SweepQuantity{"expanded_uncertainty_um", "um", "expanded uncertainty of a reading, k = 2",
                  "/verdict/expanded_uncertainty_um",
                  [](const R& r, const S&) { return in(um, r.verdict.expanded_uncertainty); }},
    SweepQuantity{"percent_of_span", "%", "the same as a part of the measuring range", "/verdict/percent_of_span",
                  percent},
    SweepQuantity{"sampling_kHz", "kHz", "readings per time", "/sampling_kHz",
                  [](const R& r, const S&) { return in(kHz, 1.0 / r.timing.period); }},
    SweepQuantity{"output_response_ms", "ms", "time until the output has wholly followed a step", "/output_response_ms",
                  [](const R& r, const S&) { return in(ms, r.response_time); }},
    SweepQuantity{"peak_e", "e", "expected signal of the brightest pixel, bucket or pulse", "/signal/peak_e",
                  [](const R& r, const S&) { return in(1.0, r.signal.peak); }},
    SweepQuantity{"peak_share", "1", "the same as a share of full well", "/signal/peak_share", peak_share},
    SweepQuantity{"background_e", "e", "ambient light and dark current in it", "/signal/background_e",
                  [](const R& r, const S&) { return in(1.0, r.signal.background); }},
    SweepQuantity{"exposure_us", "us", "exposure of a reading", "/signal/exposure_us",
                  [](const R& r, const S&) { return in(us, r.timing.exposure); }},
    SweepQuantity{"received_power_uW", "uW", "light of the emitter on the detector", "/signal/received_power_uW",
                  [](const R& r, const S&) { return in(uW, r.signal.received_power); }},
    SweepQuantity{"speckle_contrast", "1", "contrast of speckle on the bright pixels", "/speckle/contrast",
                  [](const R& r, const S&) { return of<&Speck::contrast>(r.speckle, 1.0); }},
    SweepQuantity{"speckle_pattern_contrast", "1", "contrast of speckle before pixels add it up",
                  "/speckle/pattern_contrast",
                  [](const R& r, const S&) { return of<&Speck::pattern_contrast>(r.speckle, 1.0); }},
    SweepQuantity{"speckle_size_um", "um", "full width at half maximum of a speckle along the array",
                  "/speckle/size_um", [](const R& r, const S&) { return of<&Speck::size>(r.speckle, um); }},
    SweepQuantity{"speckle_sd_um", "um", "standard deviation from patch to patch without noise", "/speckle/sd_um",
                  [](const R& r, const S&) { return of<&Speck::standard_deviation>(r.speckle, um); }},
    SweepQuantity{"grain_sd_um", "um", "the same by the grains of the material alone", "/speckle/grain_sd_um",
                  [](const R& r, const S&) { return of<&Speck::grain_deviation>(r.speckle, um); }},
    SweepQuantity{"speckle_offset_um", "um", "error by the speckle of this patch", "/speckle/offset_um",
                  [](const R& r, const S&) { return of<&Speck::offset>(r.speckle, um); }},
    SweepQuantity{"speckle_limit_um", "um", "closed form of the standard deviation from patch to patch",
                  "/speckle/limit_um", [](const R& r, const S&) { return of<&Speck::limit>(r.speckle, um); }},
    SweepQuantity{"error_sd_um", "um", "standard deviation of the error of a part that moves", "/motion/error_sd_um",
                  [](const R& r, const S&) { return of<&TrackingResult::error_deviation>(r.tracking, um); }},
    SweepQuantity{"rms_error_um", "um", "root mean square of that error", "/motion/rms_error_um",
                  [](const R& r, const S&) { return of<&TrackingResult::rms_error>(r.tracking, um); }},
    SweepQuantity{"largest_error_um", "um", "largest of those errors", "/motion/largest_error_um",
                  [](const R& r, const S&) { return of<&TrackingResult::largest_error>(r.tracking, um); }},
    SweepQuantity{
        "lag_um", "um", "distance that the part moves while the output follows, root mean square", "/motion/lag_um",
        [](const R& r, const S&) { return r.tracking ? in(um, r.tracking->speed * r.tracking->delay) : none; }},
    SweepQuantity{"rms_smear_um", "um", "distance along the beam within an exposure, root mean square",
                  "/motion/rms_smear_um",
                  [](const R& r, const S&) { return of<&TrackingResult::smear>(r.tracking, um); }},
    SweepQuantity{"outside_share", "1", "share of readings at which the part stood outside the range",
                  "/motion/outside_share",
                  [](const R& r, const S&) { return of<&TrackingResult::outside_share>(r.tracking, 1.0); }},
    SweepQuantity{"unresolved_share", "1",
                  "share of readings in which more happens within an exposure than is followed",
                  "/motion/unresolved_share",
                  [](const R& r, const S&) { return of<&TrackingResult::unresolved_share>(r.tracking, 1.0); }},
    SweepQuantity{"mean_rate_kHz", "kHz", "readings per time of a part that moves, mean",
                  "/exposure_control/mean_rate_kHz",
                  [](const R& r, const S&) { return of<&ExposureUse::mean_rate>(r.exposure_use, kHz); }},
    SweepQuantity{
        "thickness_found_share", "1", "share of readings in which two faces were found", "/thickness/found_share",
        [](const R& r, const S& s) { return of_thickness(s, share(r.statistics.thicknesses, r.statistics.readings)); }},
    SweepQuantity{"thickness_true_mm", "mm", "thickness of the plate", "/thickness/true_mm", true_thickness},
    SweepQuantity{"thickness_mean_mm", "mm", "mean of the thicknesses read", "/thickness/mean_mm",
                  [](const R& r, const S& s) { return of_thickness(s, in(mm, r.statistics.mean_thickness)); }},
    SweepQuantity{"thickness_still_sd_um", "um", "standard deviation of single thicknesses", "/thickness/still_sd_um",
                  [](const R& r, const S& s) { return of_thickness(s, in(um, r.statistics.thickness_deviation)); }},
    SweepQuantity{"unambiguous_range_mm", "mm", "range over which readings do not repeat themselves",
                  "/flight/unambiguous_range_mm",
                  [](const R& r, const S&) { return of_timed<&TimedLight::unambiguous_distance>(r, mm); }},
    SweepQuantity{"depth_sd_mm", "mm", "standard deviation of depth within the spot", "/flight/depth_sd_mm",
                  [](const R& r, const S&) { return 0.5 * of_timed<&TimedLight::path_deviation>(r, mm); }},
    SweepQuantity{"grains", "1", "speckle patterns that the detector adds up", "/flight/grains",
                  [](const R& r, const S&) { return of_timed<&TimedLight::grains>(r, 1.0); }},
    SweepQuantity{"wrap_error_chance", "1", "chance of a wrong wrap, closed form", "/flight/wrap_error_chance",
                  [](const R& r, const S&) { return of_only<&PhaseDetails::wrap_error_chance, PhaseDetails>(r, 1.0); }},
    SweepQuantity{"wrong_wrap_share", "1", "share of valid readings more than half a period off",
                  "/flight/wrong_wrap_share",
                  [](const R& r, const S&) { return of_only<&PhaseDetails::wrong_wrap_share, PhaseDetails>(r, 1.0); }},
    SweepQuantity{"electrons_per_pulse", "e", "photoelectrons of a pulse", "/flight/electrons_per_pulse",
                  [](const R& r, const S&) { return of_only<&PulseDetails::electrons, PulseDetails>(r, 1.0); }},
    SweepQuantity{"peak_over_noise", "1", "peak of a pulse over the noise of the amplifier", "/flight/peak_over_noise",
                  [](const R& r, const S&) { return of_only<&PulseDetails::noise_ratio, PulseDetails>(r, 1.0); }},
    SweepQuantity{"answered_share", "1", "share of pulses that give a time", "/flight/answered_share",
                  [](const R& r, const S&) { return of_only<&PulseDetails::answered_share, PulseDetails>(r, 1.0); }},
    SweepQuantity{"pulse_sd_ps", "ps", "standard deviation of the time of a pulse, closed form", "/flight/pulse_sd_ps",
                  [](const R& r, const S&) { return of_only<&PulseDetails::deviation, PulseDetails>(r, ps); }},
    SweepQuantity{"model_standard_error_um", "um",
                  "standard error of a reading from the image itself; by the spot model none within its tolerance",
                  "/model_standard_error_um", [](const R& r, const S&) { return in(um, r.model_error); }},
};

}  // namespace

std::span<const SweepQuantity> sweep_quantities() {
    return table;
}

double quantity(std::string_view name, const ReadResult& result, const Scenario& scenario) {
    for (const SweepQuantity& each : table) {
        if (each.name == name) return each.value(result, scenario);
    }
    throw base::InternalError("no such quantity: " + std::string(name));
}

}  // namespace spotwright::measure
