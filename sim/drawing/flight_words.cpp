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

std::string percent(double share) {
    return number(100.0 * share, 4) + "\u00A0%";
}

// Small chances to a power of ten: no drawing shows exponents otherwise.
std::string chance_in_words(double chance) {
    constexpr double least = 1e-6;
    return chance < least ? "<0.0001\u00A0%" : number(100.0 * chance, 2) + "\u00A0%";
}

// A flat part has none but for rounding.
std::string depth_in_words(double depth) {
    return depth < base::nm ? "none" : uncertainty_in_print(depth);
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
        return fmt::format("photons heap up at {}\u00A0ns", number(reading.position / ns, 7));
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
        return "no heap of photons stands out of the background";
    };
    return std::visit(base::Cases{of_phases, of_comparator, of_photons}, pose.plan);
}

}  // namespace

std::string short_length(double length) {
    return std::abs(length) < mm ? number(length / um, 3) + "\u00A0µm" : number(length / mm, 3) + "\u00A0mm";
}

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
    const measure::SeriesStatistics& statistics = result.statistics;
    const auto or_none = [](const std::optional<double>& size) {
        return size ? uncertainty_in_print(*size) : std::string("none");
    };
    const double valid = measure::valid_share(statistics);
    std::vector<Row> rows{{"valid", fmt::format("{} of {}", percent(valid), statistics.readings)},
                          {"mean; bias", mean_and_bias(result, 3)},
                          {"still standard deviation", or_none(statistics.standard_deviation)}};
    if (result.speckle) rows.push_back({"from patch to patch", or_none(result.speckle->standard_deviation)});
    rows.push_back(
        {"uncertainty U (k = 2); tolerance",
         fmt::format("{}; ±{}", or_none(result.verdict.expanded_uncertainty), short_length(s.requirement.tolerance))});
    return rows;
}

std::vector<Row> flight_light_rows(const sensor::FlightSetup& setup, const measure::ReadResult& result) {
    const scenario::Scenario& s = setup.scenario;
    const measure::TimedLight& light = *measure::timed_light(result.details);
    std::vector<Row> rows{{"on the detector", number(result.signal.received_power / base::nW) + "\u00A0nW"},
                          {"depth within the spot, sd", depth_in_words(0.5 * light.path_deviation)},
                          {"unambiguous over", number(light.unambiguous_distance / mm, 6) + "\u00A0mm"}};
    if (light.grains > 0.0) rows.push_back({"speckle patterns on the detector", number(light.grains, 3)});
    const auto of_pulses = [&](const measure::PulseDetails& pulse) {
        rows.push_back({"electrons of a pulse", electrons(pulse.electrons)});
        if (pulse.noise_ratio > 0.0) {
            rows.push_back({"peak over the amplifier's noise", number(pulse.noise_ratio, 3)});
        }
        rows.push_back(
            {"pulses that give a time", fmt::format("{} of {}", percent(pulse.answered_share), s.flight.pulses)});
        if (pulse.deviation)
            rows.push_back({"sd of one pulse's time", base::two_digits(*pulse.deviation / ps) + "\u00A0ps"});
    };
    const auto of_phases = [&](const measure::PhaseDetails& phase) {
        rows.push_back({"brightest bucket of full well",
                        percent(sensor::brightest_bucket(phase.light.pose) / s.detector.full_well)});
        rows.push_back({"exposure of each frequency", number(result.timing.exposure / us) + "\u00A0µs"});
        if (phase.frequencies.size() > 1) {
            rows.push_back({"wrap error chance; seen", fmt::format("{}; {}", chance_in_words(phase.wrap_error_chance),
                                                                   percent(phase.wrong_wrap_share))});
        }
        if (s.flight.crosstalk > 0.0) {
            rows.push_back({"inside the housing", number(s.flight.crosstalk / base::nW) + "\u00A0nW"});
        }
    };
    std::visit(base::Cases{of_pulses, of_phases, [](const measure::TriangulationDetails&) {}}, result.details);
    return rows;
}

}  // namespace spotwright::drawing
