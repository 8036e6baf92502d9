#include "sim/drawing/flight_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/drawing/phase_plot.hpp"
#include "sim/drawing/profile_axes.hpp"
#include "sim/drawing/profile_words.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::um, base::us, base::ns, base::ps;
using reading::Validity;

// To a micrometre.
std::string place_in_mm(double displacement) {
    const double rounded = std::round(displacement / um) * um;
    return signed_number(rounded / mm, 9) + "\u00A0mm";
}

std::string what_was_found(const sensor::FlightSetup& setup, const sensor::FlightPose& pose,
                           const sensor::RawReading& reading) {
    const auto of_phases = [&](const sensor::PhasePlan&) {
        return fmt::format("the phases, φ = {}\u00A0rad at {}\u00A0MHz, fit a distance", number(reading.position),
                           number(setup.scenario.flight.modulation.front() / base::MHz, 6));
    };
    const auto of_comparator = [&](const flight::PulsePlan&) {
        return fmt::format("the comparator fires in the mean at {}\u00A0ns", number(reading.position / ns, 7));
    };
    const auto of_photons = [&](const flight::CountingPlan&) {
        return fmt::format("the photon histogram has its peak at {}\u00A0ns", number(reading.position / ns, 7));
    };
    return std::visit(base::Cases{of_phases, of_comparator, of_photons}, pose.plan);
}

std::string why_saturated_buckets(const sensor::FlightSetup& setup, const sensor::FlightPose& pose) {
    const std::vector<double> charges = read_charges(setup, pose, 0);
    const double full_well = setup.scenario.detector.full_well;
    const auto full = std::count_if(charges.begin(), charges.end(), [full_well](double c) { return c >= full_well; });
    return fmt::format("{} of {} buckets are at full well, so their charge is not known", full, charges.size());
}

std::string why_too_dark(const sensor::FlightSetup& setup, const sensor::RawReading& reading) {
    const scenario::Scenario& s = setup.scenario;
    const auto peak = static_cast<double>(reading.peak);
    const auto of_phases = [&](const sensor::PhaseConstants&) {
        return fmt::format("the least amplitude is {}, and the threshold is {}", electrons(peak),
                           electrons(s.reading.threshold * s.detector.full_well));
    };
    const auto of_pulses = [&](const sensor::PulseConstants&) {
        return fmt::format("only {} of {} pulses gave a time", number(peak), s.flight.pulses);
    };
    return std::visit(base::Cases{of_phases, of_pulses}, setup.instrument.constants);
}

std::string why_nothing_is_found(const sensor::FlightPose& pose) {
    const auto of_phases = [](const sensor::PhasePlan&) { return "no distance that is looked at fits the phases"; };
    const auto of_comparator = [](const flight::PulsePlan&) { return "no pulse made the comparator fire"; };
    const auto of_photons = [](const flight::CountingPlan&) {
        return "no peak of the photon histogram rises above the background";
    };
    return std::visit(base::Cases{of_phases, of_comparator, of_photons}, pose.plan);
}

}  // namespace

std::string explanation(const sensor::FlightSetup& setup, const sensor::FlightPose& pose,
                        const sensor::RawReading& reading) {
    const auto because = [&reading](const std::string& reason) {
        return in_print(fmt::format("{}: {}", words_of(reading.validity), reason));
    };
    switch (reading.validity) {
        case Validity::valid:
            return because(fmt::format("{}, which the calibration takes for s\u00A0=\u00A0{}; the lit point is at {}",
                                       what_was_found(setup, pose, reading), place_in_mm(reading.displacement),
                                       place_in_mm(pose.true_displacement)));
        case Validity::too_dark:
            return because(why_too_dark(setup, reading));
        case Validity::saturated:
            return because(why_saturated_buckets(setup, pose));
        case Validity::no_peak:
            return because(why_nothing_is_found(pose));
        case Validity::out_of_range:
            return because(what_was_found(setup, pose, reading) + " beyond the calibration");
        case Validity::ambiguous:
            break;
    }
    return because(pose.beyond ? "the part stands where readings repeat those of the range"
                               : "the whole number of periods behind the phases is not sure enough");
}

std::vector<Row> flight_reading_rows(const scenario::Scenario& s, const measure::ReadResult& result) {
    std::vector<std::string_view> names{"valid_share", "mean_mm", "bias_um", "still_sd_um"};
    if (result.speckle) names.push_back("speckle_sd_um");
    names.insert(names.end(), {"expanded_uncertainty_um", "tolerance_um"});
    return quantity_rows(names, s, result);
}

std::vector<Row> flight_light_rows(const sensor::FlightSetup& setup, const measure::ReadResult& result) {
    const scenario::Scenario& s = setup.scenario;
    std::vector<std::string_view> names{"received_power_uW", "depth_sd_mm", "unambiguous_range_mm"};
    if (measure::timed_light(result.details)->grains > 0.0) names.push_back("grains");
    std::vector<Row> others;
    const auto of_pulses = [&](const measure::PulseDetails& pulse) {
        names.push_back("electrons_per_pulse");
        if (pulse.noise_ratio > 0.0) names.push_back("peak_over_noise");
        names.push_back("answered_share");
        if (pulse.deviation) names.push_back("pulse_sd_ps");
    };
    const auto of_phases = [&](const measure::PhaseDetails& phase) {
        names.insert(names.end(), {"peak_share", "exposure_us"});
        if (phase.frequencies.size() > 1) names.insert(names.end(), {"wrap_error_chance", "wrong_wrap_share"});
        if (s.flight.crosstalk > 0.0) {
            others.push_back({"light inside the housing", number(s.flight.crosstalk / base::nW) + "\u00A0nW"});
        }
    };
    std::visit(base::Cases{of_pulses, of_phases, [](const measure::TriangulationDetails&) {}}, result.details);
    std::vector<Row> rows = quantity_rows(names, s, result);
    rows.insert(rows.end(), others.begin(), others.end());
    return rows;
}

}  // namespace spotwright::drawing
