#include "sim/measure/quantities.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/sensor/glare.hpp"
#include "sim/sensor/layout.hpp"

namespace spotwright::measure {

namespace {

using base::degree, base::kHz, base::mm, base::ms, base::ps, base::um, base::us, base::uW;
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

// Of a part that did not move there are no other patches than those that passed.
double replaced_valid_share(const ReadResult& r, const Scenario& /*s*/) {
    if (r.speckle) return in(1.0, r.speckle->replaced_valid_share);
    return r.tracking ? none : share(r.statistics.validity[0], r.statistics.readings);
}

template <std::size_t Axis>
double glare_tilt(const ReadResult& r, const Scenario& /*s*/) {
    constexpr double rounding = 1e-12;  // rad, of the search for it
    if (!r.glare || !r.glare->tilt) return none;
    const double tilt = (*r.glare->tilt)[Axis];
    return std::abs(tilt) < rounding ? 0.0 : in(degree, tilt);
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

double thickness_found_share(const ReadResult& r, const Scenario& s) {
    return of_thickness(s, share(r.statistics.thicknesses, r.statistics.readings));
}

// A number that only some results have.
template <auto Member, class Part>
double of(const std::optional<Part>& part, double unit) {
    return part ? in(unit, (*part).*Member) : none;
}

// A number of time of flight.
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
    const auto of_pulses = [](const PulseDetails&) { return none; };  // no well collects their charge
    return std::visit(base::Cases{of_pixel, of_bucket, of_pulses}, r.details);
}

// A number of a scan. Each finds one of three results.
template <auto Member>
double of_run_out(const ReadResult& r, double unit) {
    return r.scan && r.scan->run_out ? in(unit, (*r.scan->run_out).*Member) : none;
}

template <auto Estimated, auto Part>
double of_run_out(const ReadResult& r, double unit) {
    return r.scan && r.scan->run_out ? in(unit, (*r.scan->run_out).*Estimated.*Part) : none;
}

template <auto Part>
double diameter(const ReadResult& r) {
    return r.scan && r.scan->roll ? in(mm, 2.0 * (r.scan->roll->radius.*Part)) : none;
}

template <auto Part>
double step_height_of(const ReadResult& r) {
    return r.scan && r.scan->step ? in(um, r.scan->step->height.*Part) : none;
}

double scan_readings(const ReadResult& r, const Scenario& /*s*/) {
    if (!r.scan) return none;
    if (r.scan->run_out) return static_cast<double>(r.scan->run_out->readings);
    if (r.scan->roll) return static_cast<double>(r.scan->roll->points);
    return r.scan->step ? static_cast<double>(r.scan->step->readings) : none;
}

template <auto Member, class Part>
double count_of(const std::optional<Part>& part) {
    return part ? static_cast<double>((*part).*Member) : none;
}

std::int64_t outputs_behind(const ReadResult& r) {
    return r.statistics.independent_outputs;
}

std::int64_t replaced_independent(const ReadResult& r) {
    return r.speckle ? r.speckle->replaced_independent : r.statistics.independent_outputs;
}

std::int64_t patches_read(const ReadResult& r) {
    return r.speckle ? r.speckle->patches_read : 0;
}

constexpr Rounding digits(int significant) {
    return {Rounding::Rule::digits, significant, ""};
}

constexpr Rounding to(std::string_view uncertainty) {
    return {Rounding::Rule::to_uncertainty, 4, uncertainty};
}

constexpr Rounding whole{Rounding::Rule::whole, 0, ""};
constexpr Rounding percent_of_all{Rounding::Rule::percent, 4, ""};
constexpr Rounding two_digits{Rounding::Rule::deviation, 2, ""};
constexpr Rounding probability{Rounding::Rule::probability, 2, ""};
constexpr bool not_in_sweeps = false;

using R = ReadResult;
using S = Scenario;
using Speck = sensor::SpeckleStatistics;
using Track = TrackingResult;

const std::array table{
    Quantity{"readings", "1", "number of readings", "/readings",
             [](const R& r, const S&) { return static_cast<double>(r.statistics.readings); }, Group::readings, whole,
             not_in_sweeps},
    Quantity{"valid_share", "1", "valid readings", "/valid_share",
             [](const R& r, const S&) { return share(r.statistics.validity[0], r.statistics.readings); },
             Group::readings, percent_of_all},
    Quantity{"independent_outputs", "1", "valid outputs that share no reading", "/independent_outputs",
             [](const R& r, const S&) { return static_cast<double>(r.statistics.independent_outputs); },
             Group::readings, whole, not_in_sweeps},
    Quantity{"true_mm", "mm", "true displacement", "/true_mm",
             [](const R& r, const S&) { return in(mm, r.true_displacement); }, Group::output,
             to("expanded_uncertainty_um")},
    Quantity{"mean_mm", "mm", "mean output", "/mean_mm", [](const R& r, const S&) { return in(mm, r.statistics.mean); },
             Group::output, to("expanded_uncertainty_um"), true, outputs_behind},
    Quantity{"bias_um", "um", "bias, with the speckle of this patch", "/bias_um",
             [](const R& r, const S&) { return in(um, r.bias); }, Group::output, to("expanded_uncertainty_um"), true,
             outputs_behind},
    Quantity{"bias_without_speckle_um", "um", "bias, without speckle", "/bias_without_speckle_um",
             [](const R& r, const S&) { return in(um, r.systematic); }, Group::output, to("expanded_uncertainty_um")},
    Quantity{"marking_error_um", "um", "error by markings under the spot", "/marking_error_um",
             [](const R& r, const S&) { return in(um, r.marking_error); }, Group::markings,
             to("expanded_uncertainty_um")},
    Quantity{"inside_error_um", "um", "error by light inside the part, estimated on a plane", "/inside_error_um",
             [](const R& r, const S&) { return in(um, r.inside_error); }, Group::inside, to("expanded_uncertainty_um")},
    Quantity{"lens_error_um", "um", "error by focus and aberrations of the lens", "/lens_error_um",
             [](const R& r, const S&) { return in(um, r.lens_error); }, Group::lens, to("expanded_uncertainty_um")},
    Quantity{"still_sd_um", "um", "still standard deviation", "/still_sd_um",
             [](const R& r, const S&) { return r.tracking ? none : in(um, r.statistics.standard_deviation); },
             Group::still, two_digits, true, outputs_behind},
    Quantity{"replaced_sd_um", "um", "replaced standard deviation", "/replaced_sd_um",
             [](const R& r, const S&) { return in(um, replaced_deviation(r)); }, Group::speckle, two_digits, true,
             replaced_independent},
    Quantity{"replaced_valid_share", "1", "valid readings, replaced", "/replaced_valid_share", replaced_valid_share,
             Group::speckle, percent_of_all},
    Quantity{
        "expanded_uncertainty_um", "um", "expanded uncertainty of a reading, k = 2", "/verdict/expanded_uncertainty_um",
        [](const R& r, const S&) { return in(um, r.verdict.expanded_uncertainty); }, Group::uncertainty, two_digits},
    Quantity{"percent_of_span", "%", "expanded uncertainty in per cent of the span", "/verdict/percent_of_span",
             percent, Group::uncertainty, two_digits},
    Quantity{"sampling_kHz", "kHz", "sampling rate", "/sampling_kHz",
             [](const R& r, const S&) { return in(kHz, 1.0 / r.timing.period); }, Group::readings, digits(4)},
    Quantity{"output_response_ms", "ms", "response time of the output to a step", "/output_response_ms",
             [](const R& r, const S&) { return in(ms, r.response_time); }, Group::readings, digits(3)},
    Quantity{"peak_e", "e", "peak, expected", "/signal/peak_e",
             [](const R& r, const S&) { return in(1.0, r.signal.peak); }, Group::signal, digits(4)},
    Quantity{"peak_share", "1", "peak, share of full well", "/signal/peak_share", peak_share, Group::well, digits(3)},
    Quantity{"background_e", "e", "background", "/signal/background_e",
             [](const R& r, const S&) { return in(1.0, r.signal.background); }, Group::signal, digits(3)},
    Quantity{"exposure_us", "us", "exposure", "/signal/exposure_us",
             [](const R& r, const S&) { return in(us, r.timing.exposure); }, Group::readings, digits(4)},
    Quantity{"received_power_uW", "uW", "received power", "/signal/received_power_uW",
             [](const R& r, const S&) { return in(uW, r.signal.received_power); }, Group::signal, digits(3)},
    Quantity{"speckle_contrast", "1", "contrast of speckle, on the pixels", "/speckle/contrast",
             [](const R& r, const S&) { return of<&Speck::contrast>(r.speckle, 1.0); }, Group::speckle, digits(3)},
    Quantity{"speckle_pattern_contrast", "1", "contrast of speckle, at a point", "/speckle/pattern_contrast",
             [](const R& r, const S&) { return of<&Speck::pattern_contrast>(r.speckle, 1.0); }, Group::speckle,
             digits(3)},
    Quantity{"speckle_size_um", "um", "speckle size along the array", "/speckle/size_um",
             [](const R& r, const S&) { return of<&Speck::size>(r.speckle, um); }, Group::speckle, digits(3)},
    Quantity{"speckle_size_px", "px", "speckle size in pixels", "/speckle/size_px",
             [](const R& r, const S& s) { return of<&Speck::size>(r.speckle, s.detector.pitch); }, Group::speckle,
             digits(2), not_in_sweeps},
    Quantity{"speckle_sd_um", "um", "standard deviation from patch to patch, without noise", "/speckle/sd_um",
             [](const R& r, const S&) { return of<&Speck::standard_deviation>(r.speckle, um); }, Group::speckle,
             two_digits, true, patches_read},
    Quantity{"grain_sd_um", "um", "standard deviation from patch to patch by grains of the material",
             "/speckle/grain_sd_um", [](const R& r, const S&) { return of<&Speck::grain_deviation>(r.speckle, um); },
             Group::grain, two_digits, true, patches_read},
    Quantity{"speckle_offset_um", "um", "offset of the patch under the beam", "/speckle/offset_um",
             [](const R& r, const S&) { return of<&Speck::offset>(r.speckle, um); }, Group::speckle,
             to("speckle_sd_um")},
    Quantity{"speckle_limit_um", "um", "speckle limit, closed form", "/speckle/limit_um",
             [](const R& r, const S&) { return of<&Speck::limit>(r.speckle, um); }, Group::speckle, two_digits},
    Quantity{"glare_tilt_deg", "deg", "tilt at which the gloss meets the lens, in-plane", "/glare/tilt_deg",
             glare_tilt<0>, Group::glare, digits(3), not_in_sweeps},
    Quantity{"glare_out_of_plane_deg", "deg", "tilt at which the gloss meets the lens, out-of-plane",
             "/glare/out_of_plane_deg", glare_tilt<1>, Group::glare, digits(3), not_in_sweeps},
    Quantity{"glare_reach_deg", "deg", "reach of the gloss on either side of it", "/glare/reach_deg",
             [](const R& r, const S&) { return r.glare ? in(degree, reach_of(*r.glare)) : none; }, Group::glare,
             digits(3), not_in_sweeps},
    Quantity{"glare_away_deg", "deg", "angle of the part from it", "/glare/away_deg",
             [](const R& r, const S&) { return of<&sensor::Glare::away>(r.glare, degree); }, Group::glare, digits(3),
             not_in_sweeps},
    Quantity{"mirrored_off_lens_deg", "deg", "mirrored beam beyond the rim of the lens", "/glare/off_lens_deg",
             [](const R& r, const S&) { return of<&sensor::Glare::off_lens>(r.glare, degree); }, Group::glare,
             digits(3), not_in_sweeps},
    Quantity{"outputs", "1", "outputs compared with the truth", "/motion/outputs",
             [](const R& r, const S&) { return count_of<&Track::outputs>(r.tracking); }, Group::motion, whole,
             not_in_sweeps},
    Quantity{"mean_error_um", "um", "mean error", "/motion/mean_error_um",
             [](const R& r, const S&) { return of<&Track::mean_error>(r.tracking, um); }, Group::motion,
             to("rms_error_um"), not_in_sweeps},
    Quantity{"error_sd_um", "um", "standard deviation of the error", "/motion/error_sd_um",
             [](const R& r, const S&) { return of<&Track::error_deviation>(r.tracking, um); }, Group::motion,
             two_digits},
    Quantity{"rms_error_um", "um", "rms error", "/motion/rms_error_um",
             [](const R& r, const S&) { return of<&Track::rms_error>(r.tracking, um); }, Group::motion, two_digits},
    Quantity{"largest_error_um", "um", "largest error", "/motion/largest_error_um",
             [](const R& r, const S&) { return of<&Track::largest_error>(r.tracking, um); }, Group::motion,
             to("rms_error_um")},
    Quantity{"delay_ms", "ms", "delay of the output from the middle of the exposure", "/motion/delay_ms",
             [](const R& r, const S&) { return of<&Track::delay>(r.tracking, ms); }, Group::motion, digits(4),
             not_in_sweeps},
    Quantity{"age_ms", "ms", "delay of the output from the end of the exposure", "/motion/age_ms",
             [](const R& r, const S&) { return of<&Track::age>(r.tracking, ms); }, Group::motion, digits(4),
             not_in_sweeps},
    Quantity{"bandwidth_Hz", "Hz", "bandwidth, -3 dB", "/motion/bandwidth_Hz",
             [](const R& r, const S&) { return of<&Track::bandwidth>(r.tracking, 1.0); }, Group::motion, digits(4),
             not_in_sweeps},
    Quantity{"rms_speed_mm_per_s", "mm/s", "speed along the mounting normal, rms", "/motion/rms_speed_mm_per_s",
             [](const R& r, const S&) { return of<&Track::speed>(r.tracking, mm); }, Group::motion, digits(4),
             not_in_sweeps},
    Quantity{"lag_um", "um", "lag: speed times delay, rms", "/motion/lag_um",
             [](const R& r, const S&) { return r.tracking ? in(um, r.tracking->speed * r.tracking->delay) : none; },
             Group::motion, digits(3)},
    Quantity{"rms_smear_um", "um", "motion along the beam within an exposure, rms", "/motion/rms_smear_um",
             [](const R& r, const S&) { return of<&Track::smear>(r.tracking, um); }, Group::motion, digits(3)},
    Quantity{"outside_share", "1", "readings with the part outside the range", "/motion/outside_share",
             [](const R& r, const S&) { return of<&Track::outside_share>(r.tracking, 1.0); }, Group::motion,
             percent_of_all},
    Quantity{"unresolved_share", "1", "readings with too much motion within an exposure", "/motion/unresolved_share",
             [](const R& r, const S&) { return of<&Track::unresolved_share>(r.tracking, 1.0); }, Group::motion,
             percent_of_all},
    Quantity{"changes", "1", "changes of segment", "/exposure_control/changes",
             [](const R& r, const S&) { return count_of<&ExposureUse::changes>(r.exposure_use); }, Group::changes,
             whole, not_in_sweeps},
    Quantity{"dark_readings_per_change", "1", "dark readings per change", "/exposure_control/dark_readings_per_change",
             [](const R& r, const S&) { return of<&ExposureUse::dark_per_change>(r.exposure_use, 1.0); },
             Group::changes, digits(3), not_in_sweeps},
    Quantity{"saturated_readings_per_change", "1", "saturated readings per change",
             "/exposure_control/saturated_readings_per_change",
             [](const R& r, const S&) { return of<&ExposureUse::saturated_per_change>(r.exposure_use, 1.0); },
             Group::changes, digits(3), not_in_sweeps},
    Quantity{"late_readings", "1", "readings from a change to the next valid one, mean",
             "/exposure_control/late_readings",
             [](const R& r, const S&) { return of<&ExposureUse::late>(r.exposure_use, 1.0); }, Group::changes,
             digits(3), not_in_sweeps},
    Quantity{"blind_length_mm", "mm", "length without a valid reading after a change, mean",
             "/exposure_control/blind_length_mm",
             [](const R& r, const S&) { return of<&ExposureUse::blind_length>(r.exposure_use, mm); }, Group::changes,
             digits(3), not_in_sweeps},
    Quantity{"mean_rate_kHz", "kHz", "sampling rate, mean", "/exposure_control/mean_rate_kHz",
             [](const R& r, const S&) { return of<&ExposureUse::mean_rate>(r.exposure_use, kHz); }, Group::exposure,
             digits(4)},
    Quantity{"least_rate_kHz", "kHz", "sampling rate, least", "/exposure_control/least_rate_kHz",
             [](const R& r, const S&) { return of<&ExposureUse::min_rate>(r.exposure_use, kHz); }, Group::exposure,
             digits(4), not_in_sweeps},
    Quantity{"shortest_exposure_us", "us", "shortest exposure", "/exposure_control/shortest_exposure_us",
             [](const R& r, const S&) { return of<&ExposureUse::shortest_exposure>(r.exposure_use, us); },
             Group::exposure, digits(4), not_in_sweeps},
    Quantity{"longest_exposure_us", "us", "longest exposure", "/exposure_control/longest_exposure_us",
             [](const R& r, const S&) { return of<&ExposureUse::longest_exposure>(r.exposure_use, us); },
             Group::exposure, digits(4), not_in_sweeps},
    Quantity{"scan_readings", "1", "readings of the scan", "/scan/readings", scan_readings, Group::scan, whole,
             not_in_sweeps},
    Quantity{"revolutions", "1", "whole revolutions", "/scan/revolutions",
             [](const R& r, const S&) { return of_run_out<&RunOut::revolutions>(r, 1.0); }, Group::run_out, whole,
             not_in_sweeps},
    Quantity{"readings_per_revolution", "1", "readings per revolution", "/scan/readings_per_revolution",
             [](const R& r, const S&) { return of_run_out<&RunOut::per_revolution>(r, 1.0); }, Group::run_out,
             digits(4), not_in_sweeps},
    Quantity{"eccentricity_um", "um", "eccentricity", "/scan/eccentricity_um",
             [](const R& r, const S&) { return of_run_out<&RunOut::eccentricity, &Estimate::value>(r, um); },
             Group::run_out, to("eccentricity_u_um"), not_in_sweeps},
    Quantity{"eccentricity_u_um", "um", "eccentricity, standard uncertainty", "/scan/eccentricity_u_um",
             [](const R& r, const S&) { return of_run_out<&RunOut::eccentricity, &Estimate::uncertainty>(r, um); },
             Group::run_out, two_digits, not_in_sweeps},
    Quantity{"high_spot_deg", "deg", "angle of the high spot", "/scan/high_spot_deg",
             [](const R& r, const S&) { return of_run_out<&RunOut::high_spot, &Estimate::value>(r, degree); },
             Group::run_out, to("high_spot_u_deg"), not_in_sweeps},
    Quantity{"high_spot_u_deg", "deg", "angle of the high spot, standard uncertainty", "/scan/high_spot_u_deg",
             [](const R& r, const S&) { return of_run_out<&RunOut::high_spot, &Estimate::uncertainty>(r, degree); },
             Group::run_out, two_digits, not_in_sweeps},
    Quantity{"total_run_out_um", "um", "total run-out", "/scan/total_run_out_um",
             [](const R& r, const S&) { return of_run_out<&RunOut::total>(r, um); }, Group::run_out,
             to("residual_sd_um"), not_in_sweeps},
    Quantity{"out_of_roundness_um", "um", "out of roundness", "/scan/out_of_roundness_um",
             [](const R& r, const S&) { return of_run_out<&RunOut::out_of_roundness>(r, um); }, Group::run_out,
             to("residual_sd_um"), not_in_sweeps},
    Quantity{"residual_sd_um", "um", "standard deviation from the circle", "/scan/residual_sd_um",
             [](const R& r, const S&) { return of_run_out<&RunOut::residual_deviation>(r, um); }, Group::run_out,
             two_digits, not_in_sweeps},
    Quantity{"diameter_mm", "mm", "diameter of the roll", "/scan/diameter_mm",
             [](const R& r, const S&) { return diameter<&Estimate::value>(r); }, Group::roll, to("diameter_u_mm"),
             not_in_sweeps},
    Quantity{"diameter_u_mm", "mm", "diameter of the roll, standard uncertainty", "/scan/diameter_u_mm",
             [](const R& r, const S&) { return diameter<&Estimate::uncertainty>(r); }, Group::roll, two_digits,
             not_in_sweeps},
    Quantity{"height_um", "um", "height of the step", "/scan/height_um",
             [](const R& r, const S&) { return step_height_of<&Estimate::value>(r); }, Group::step, to("height_u_um"),
             not_in_sweeps},
    Quantity{"height_u_um", "um", "height of the step, standard uncertainty", "/scan/height_u_um",
             [](const R& r, const S&) { return step_height_of<&Estimate::uncertainty>(r); }, Group::step, two_digits,
             not_in_sweeps},
    Quantity{"edge_mm", "mm", "position of the edge", "/scan/edge_mm",
             [](const R& r, const S&) { return r.scan && r.scan->step ? in(mm, r.scan->step->edge) : none; },
             Group::step, digits(4), not_in_sweeps},
    Quantity{"thickness_found_share", "1", "readings with two faces", "/thickness/found_share", thickness_found_share,
             Group::thickness, percent_of_all},
    Quantity{"thickness_true_mm", "mm", "true thickness", "/thickness/true_mm", true_thickness, Group::thickness,
             to("thickness_still_sd_um")},
    Quantity{"thickness_mean_mm", "mm", "mean thickness", "/thickness/mean_mm",
             [](const R& r, const S& s) { return of_thickness(s, in(mm, r.statistics.mean_thickness)); },
             Group::thickness, to("thickness_still_sd_um")},
    Quantity{"thickness_still_sd_um", "um", "standard deviation of a thickness", "/thickness/still_sd_um",
             [](const R& r, const S& s) { return of_thickness(s, in(um, r.statistics.thickness_deviation)); },
             Group::thickness, two_digits, true, [](const R& r) { return r.statistics.thicknesses; }},
    Quantity{"unambiguous_range_mm", "mm", "unambiguous range", "/flight/unambiguous_range_mm",
             [](const R& r, const S&) { return of_timed<&TimedLight::unambiguous_distance>(r, mm); }, Group::light,
             digits(5)},
    Quantity{"depth_sd_mm", "mm", "standard deviation of depth in the spot", "/flight/depth_sd_mm",
             [](const R& r, const S&) { return 0.5 * of_timed<&TimedLight::path_deviation>(r, mm); }, Group::light,
             two_digits},
    Quantity{"grains", "1", "speckle grains on the detector", "/flight/grains",
             [](const R& r, const S&) { return of_timed<&TimedLight::grains>(r, 1.0); }, Group::light, digits(3)},
    Quantity{"wrap_error_chance", "1", "probability of a wrong wrap, closed form", "/flight/wrap_error_chance",
             [](const R& r, const S&) { return of_only<&PhaseDetails::wrap_error_chance, PhaseDetails>(r, 1.0); },
             Group::phase, probability},
    Quantity{"wrong_wrap_share", "1", "wrong wraps among valid readings", "/flight/wrong_wrap_share",
             [](const R& r, const S&) { return of_only<&PhaseDetails::wrong_wrap_share, PhaseDetails>(r, 1.0); },
             Group::phase, percent_of_all},
    Quantity{"electrons_per_pulse", "e", "photoelectrons of a pulse", "/flight/electrons_per_pulse",
             [](const R& r, const S&) { return of_only<&PulseDetails::electrons, PulseDetails>(r, 1.0); },
             Group::pulses, digits(4)},
    Quantity{"peak_over_noise", "1", "peak of a pulse over amplifier noise", "/flight/peak_over_noise",
             [](const R& r, const S&) { return of_only<&PulseDetails::noise_ratio, PulseDetails>(r, 1.0); },
             Group::pulses, digits(3)},
    Quantity{"answered_share", "1", "pulses that give a time", "/flight/answered_share",
             [](const R& r, const S&) { return of_only<&PulseDetails::answered_share, PulseDetails>(r, 1.0); },
             Group::pulses, percent_of_all},
    Quantity{"pulse_sd_ps", "ps", "standard deviation of the time of a pulse", "/flight/pulse_sd_ps",
             [](const R& r, const S&) { return of_only<&PulseDetails::deviation, PulseDetails>(r, ps); }, Group::pulses,
             two_digits},
    Quantity{"overload", "1", "peak of a pulse over the amplifier's saturation", "/flight/overload",
             [](const R& r, const S&) { return of_only<&PulseDetails::overload, PulseDetails>(r, 1.0); }, Group::pulses,
             digits(3)},
    Quantity{"model_standard_error_um", "um", "standard error of the computed image", "/model_standard_error_um",
             [](const R& r, const S&) { return in(um, r.model_error); }, Group::model, two_digits},
    Quantity{"tolerance_um", "um", "tolerance, plus or minus", "/verdict/tolerance_um",
             [](const R&, const S& s) { return in(um, s.requirement.tolerance); }, Group::uncertainty, digits(4),
             not_in_sweeps},
    Quantity{"allowed_um", "um", "error allowed for a stable reading", "/verdict/allowed_um",
             [](const R&, const S& s) { return in(um, allowed_error(s.requirement)); }, Group::uncertainty, digits(4),
             not_in_sweeps},
};

}  // namespace

double relative_error_of_deviation(std::int64_t count) {
    return 1.0 / std::sqrt(2.0 * static_cast<double>(count - 1));
}

std::span<const Quantity> quantities() {
    return table;
}

std::span<const Quantity> sweep_quantities() {
    static const std::vector<Quantity> chosen = [] {
        std::vector<Quantity> list;
        std::copy_if(table.begin(), table.end(), std::back_inserter(list),
                     [](const Quantity& each) { return each.in_sweeps; });
        return list;
    }();
    return chosen;
}

const Quantity& quantity_named(std::string_view name) {
    const auto* found = std::find_if(table.begin(), table.end(), [name](const Quantity& q) { return q.name == name; });
    if (found == table.end()) throw base::InternalError("no such quantity: " + std::string(name));
    return *found;
}

double quantity(std::string_view name, const ReadResult& result, const Scenario& scenario) {
    return quantity_named(name).value(result, scenario);
}

}  // namespace spotwright::measure
