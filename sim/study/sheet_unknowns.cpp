// How far a data sheet determines the parameters of its sensor.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_ranges.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::nm, base::mW;
using scenario::Scenario;

// What is said of one parameter.
struct Parameter {
    std::string_view name;
    double unit;
    double (*value)(const Scenario&);
    std::optional<Open> open;
    std::string_view form;  // where the sheet determines it
};

const std::vector<Parameter>& parameters_of_array() {
    static const std::vector<Parameter> all{
        {"receiver.angle_deg", base::degree, [](const Scenario& s) { return s.receiver.angle; }, Open::receiver_angle,
         "distance of the windows"},
        {"receiver.distance_mm", mm, [](const Scenario& s) { return s.receiver.distance; }, std::nullopt,
         "angle and reference distance"},
        {"receiver.focal_length_mm", mm, [](const Scenario& s) { return s.receiver.focal_length; }, std::nullopt,
         "range and length of the array"},
        {"receiver.aperture_mm", mm, [](const Scenario& s) { return s.receiver.aperture.in_plane; },
         Open::aperture_share, "light"},
        {"receiver.transmission", 1.0, [](const Scenario& s) { return s.receiver.transmission; }, Open::transmission,
         "light"},
        {"emitter.power_mW", mW, [](const Scenario& s) { return s.emitter.power; }, Open::power_share, "stated"},
        {"emitter.wavelength_nm", nm, [](const Scenario& s) { return s.emitter.wavelength; }, Open::wavelength,
         "stated"},
        {"emitter.waist_radius_um", um, [](const Scenario& s) { return s.emitter.waist_radius[0]; }, Open::spot_share,
         "spot at the reference distance"},
        {"emitter.beam_quality", 1.0, [](const Scenario& s) { return s.emitter.beam_quality; }, Open::beam_quality,
         "spot at the ends of the range"},
        {"detector.pixels", 1.0, [](const Scenario& s) { return static_cast<double>(s.detector.pixels); }, Open::pixels,
         "stated"},
        {"detector.pitch_um", um, [](const Scenario& s) { return s.detector.pitch; }, Open::pitch, ""},
        {"detector.height_um", um, [](const Scenario& s) { return s.detector.height; }, Open::height, ""},
        {"detector.quantum_efficiency", 1.0, [](const Scenario& s) { return s.detector.quantum_efficiency; },
         Open::quantum_efficiency, "light"},
        {"detector.full_well_e", 1.0, [](const Scenario& s) { return s.detector.full_well; }, Open::full_well,
         "repeatability"},
        {"detector.read_noise_e", 1.0, [](const Scenario& s) { return s.detector.read_noise; }, Open::read_noise, ""},
        {"detector.response_nonuniformity", 1.0, [](const Scenario& s) { return s.detector.response_nonuniformity; },
         Open::response_nonuniformity, ""},
        {"thermal.lens_shift_um_per_K", um, [](const Scenario& s) { return s.thermal.lens_shift; }, Open::lens_shift,
         "drift"},
    };
    return all;
}

// Lens and light of a sensor that times light.
std::vector<Parameter> timed_parameters() {
    return {
        {"receiver.focal_length_mm", mm, [](const Scenario& s) { return s.receiver.focal_length; }, std::nullopt, ""},
        {"receiver.aperture_mm", mm, [](const Scenario& s) { return s.receiver.aperture.in_plane; },
         Open::lens_diameter, "window"},
        {"receiver.transmission", 1.0, [](const Scenario& s) { return s.receiver.transmission; }, Open::transmission,
         "light"},
        {"emitter.power_mW", mW, [](const Scenario& s) { return s.emitter.power; }, Open::power_share, "stated"},
        {"emitter.wavelength_nm", nm, [](const Scenario& s) { return s.emitter.wavelength; }, Open::wavelength,
         "stated"},
        {"emitter.waist_radius_um", um, [](const Scenario& s) { return s.emitter.waist_radius[0]; },
         Open::beam_diameter, "spot at the reference distance"},
        {"emitter.beam_quality", 1.0, [](const Scenario& s) { return s.emitter.beam_quality; }, Open::beam_quality,
         "spot and divergence"},
        {"detector.quantum_efficiency", 1.0, [](const Scenario& s) { return s.detector.quantum_efficiency; },
         Open::quantum_efficiency, "light"},
        {"flight.detector_diameter_mm", mm, [](const Scenario& s) { return s.flight.detector_diameter; },
         Open::detector_diameter, ""},
        {"flight.bandwidth_MHz", base::MHz, [](const Scenario& s) { return s.flight.bandwidth; }, Open::bandwidth, ""},
        {"flight.delay_drift_ps_per_K", base::ps, [](const Scenario& s) { return s.flight.delay_drift; },
         Open::delay_drift, "drift"},
    };
}

const std::vector<Parameter>& parameters_of_phase() {
    static const std::vector<Parameter> all = [] {
        std::vector<Parameter> list = timed_parameters();
        list.push_back({"flight.modulation_MHz", base::MHz,
                        [](const Scenario& s) {
                            return *std::max_element(s.flight.modulation.begin(), s.flight.modulation.end());
                        },
                        Open::modulation, "stated"});
        list.push_back({"flight.modulation_depth", 1.0, [](const Scenario& s) { return s.flight.modulation_depth; },
                        Open::modulation_depth, ""});
        list.push_back({"detector.full_well_e", 1.0, [](const Scenario& s) { return s.detector.full_well; },
                        Open::bucket_well, "repeatability"});
        list.push_back({"detector.read_noise_e", 1.0, [](const Scenario& s) { return s.detector.read_noise; },
                        Open::bucket_noise, ""});
        return list;
    }();
    return all;
}

const std::vector<Parameter>& parameters_of_pulses() {
    static const std::vector<Parameter> all = [] {
        std::vector<Parameter> list = timed_parameters();
        list.push_back(
            {"flight.pulse_ns", base::ns, [](const Scenario& s) { return s.flight.pulse; }, Open::pulse, "stated"});
        list.push_back({"flight.pulse_rate_kHz", base::kHz, [](const Scenario& s) { return s.flight.pulse_rate; },
                        Open::pulse_rate, "stated"});
        list.push_back({"flight.pulses", 1.0, [](const Scenario& s) { return static_cast<double>(s.flight.pulses); },
                        std::nullopt, "stated"});
        list.push_back(
            {"flight.noise_nW", base::nW, [](const Scenario& s) { return s.flight.noise; }, Open::amplifier_noise, ""});
        list.push_back(
            {"flight.jitter_ps", base::ps, [](const Scenario& s) { return s.flight.jitter; }, Open::jitter, ""});
        list.push_back({"flight.digitiser_ps", base::ps, [](const Scenario& s) { return s.flight.digitiser; },
                        Open::digitiser, ""});
        return list;
    }();
    return all;
}

const std::vector<Parameter>& parameters(const scenario::Principle& principle) {
    using Parameters = const std::vector<Parameter>&;
    return std::visit(base::Cases{[](scenario::Triangulation) -> Parameters { return parameters_of_array(); },
                                  [](scenario::PhaseShift) -> Parameters { return parameters_of_phase(); },
                                  [](scenario::Pulsed) -> Parameters { return parameters_of_pulses(); }},
                      principle);
}

double log_deviation(const std::vector<double>& values) {
    double sum = 0.0;
    double squares = 0.0;
    for (const double value : values) {
        constexpr double least = 1e-30;
        const double log = std::log(std::max(std::abs(value), least));
        sum += log;
        squares += log * log;
    }
    const auto count = static_cast<double>(values.size());
    return std::sqrt(std::max(0.0, (squares - sum * sum / count) / std::max(1.0, count - 1.0)));
}

// Of the logarithm of a value drawn from a range.
double log_deviation(const OpenRange& range) {
    constexpr int places = 200;
    std::vector<double> values;
    for (int i = 0; i < places; ++i) values.push_back(value_at(range, (i + 0.5) / places));
    return log_deviation(values);
}

}  // namespace

std::vector<SheetUnknown> sheet_unknowns(const Inference& inference) {
    std::vector<SheetUnknown> unknowns;
    for (const Parameter& p : parameters(inference.sheet.principle)) {
        std::vector<double> values;
        for (const Candidate& member : inference.members) values.push_back(p.value(member.scenario) / p.unit);
        SheetUnknown unknown;
        unknown.name = p.name;
        unknown.best = p.value(inference.members[inference.best].scenario) / p.unit;
        const double deviation = log_deviation(values);
        unknown.ensemble = *spread_of(values);
        constexpr double known = 0.02;
        constexpr double by_the_sheet = 0.5;  // of what common practice alone, which may be narrow, leaves open
        if (p.open) unknown.narrowed = deviation / log_deviation(range_of(*p.open));
        unknown.determined = deviation < known && (!p.open || *unknown.narrowed < by_the_sheet);
        if (unknown.determined || !p.open) {
            unknown.from = p.form;
        } else {
            const OpenRange& range = range_of(*p.open);
            unknown.from = fmt::format("{} {:g} to {:g}: {}", range.name, range.low, range.high, range.reason);
        }
        unknowns.push_back(std::move(unknown));
    }
    return unknowns;
}

}  // namespace spotwright::study
