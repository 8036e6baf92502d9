// Sensors that fit a data sheet as one sensor file.
#include <fmt/format.h>

#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/study/infer.hpp"

namespace spotwright::study {

namespace {

using base::us;
using scenario::Scenario;

using Keys = std::vector<const char*>;

// Keys of a sensor that are the same for all sensors of an ensemble.
Keys common_keys(const scenario::Principle& principle) {
    Keys keys{"principle",        "mount.reference_distance_mm", "mount.range_mm",           "housing.width_mm",
              "housing.depth_mm", "housing.thickness_mm",        "housing.beam_position_mm", "housing.window_mm"};
    if (scenario::abilities_of(principle).exposure) {
        keys.insert(keys.end(), {"exposure.mode", "exposure.exposure_us"});
    }
    keys.insert(keys.end(), {"exposure.period_us", "reading.calibrated_on"});
    return keys;
}

Keys solved_keys_of_array() {
    return {"emitter.wavelength_nm",
            "emitter.power_mW",
            "emitter.linewidth_nm",
            "emitter.waist_radius_um",
            "emitter.beam_quality",
            "emitter.angle_deg",
            "receiver.angle_deg",
            "receiver.distance_mm",
            "receiver.focal_length_mm",
            "receiver.aperture_mm",
            "receiver.transmission",
            "receiver.filter_width_nm",
            "detector.pixels",
            "detector.pitch_um",
            "detector.height_um",
            "detector.quantum_efficiency",
            "detector.full_well_e",
            "detector.read_noise_e",
            "detector.response_nonuniformity",
            "thermal.lens_shift_um_per_K"};
}

Keys timed_keys(std::initializer_list<const char*> detector, std::initializer_list<const char*> flight) {
    Keys keys{"emitter.wavelength_nm",         "emitter.power_mW",
              "emitter.linewidth_nm",          "emitter.waist_radius_um",
              "emitter.waist_displacement_mm", "emitter.beam_quality",
              "receiver.focal_length_mm",      "receiver.aperture_mm",
              "receiver.transmission",         "receiver.filter_width_nm",
              "detector.quantum_efficiency"};
    keys.insert(keys.end(), detector);
    keys.insert(keys.end(), {"flight.baseline_mm", "flight.detector_diameter_mm", "flight.delay_drift_ps_per_K",
                             "flight.bandwidth_MHz"});
    keys.insert(keys.end(), flight);
    return keys;
}

// Those that differ.
Keys solved_keys(const scenario::Principle& principle) {
    return std::visit(base::Cases{[](scenario::Triangulation) { return solved_keys_of_array(); },
                                  [](scenario::PhaseShift) {
                                      return timed_keys({"detector.full_well_e", "detector.read_noise_e"},
                                                        {"flight.modulation_MHz", "flight.modulation_depth"});
                                  },
                                  [](scenario::Pulsed) {
                                      return timed_keys({}, {"flight.pulse_ns", "flight.pulse_rate_kHz",
                                                             "flight.pulses", "flight.noise_nW", "flight.jitter_ps",
                                                             "flight.digitiser_ps", "flight.fraction_delay_ns"});
                                  }},
                      principle);
}

const scenario::Key& key_named(const std::string& name) {
    const scenario::Key* key = scenario::find_key_of(name);
    if (key == nullptr) throw base::InternalError("a sensor has no key " + name);
    return *key;
}

// The keys by sections, each section once.
template <class Add>
void for_each_key(const Keys& keys, const Scenario& s, const Add& add) {
    std::string_view section;
    for (const char* name : keys) {
        const scenario::Key& key = key_named(name);
        if (key.section == "housing" && s.housing.width <= 0.0 && key.name != "window_mm") continue;
        if (key.name == "window_mm" && s.housing.window[1] <= 0.0) continue;
        add(key, key.section != section);
        section = key.section;
    }
}

void add_sections(const Scenario& s, std::string& text) {
    const auto add = [&](const scenario::Key& key, bool begins) {
        if (begins && !key.section.empty()) text += fmt::format("\n[{}]\n", key.section);
        text += fmt::format("{} = {}\n", key.name, scenario::value_text(key, s));
    };
    for_each_key(common_keys(s.principle), s, add);
    for_each_key(solved_keys(s.principle), s, add);
}

void add_member(const Scenario& s, std::string& text) {
    text += "\n[[ensemble]]";
    bool first = true;
    for_each_key(solved_keys(s.principle), s, [&](const scenario::Key& key, bool begins) {
        if (begins) text += fmt::format("{}\n{} = {{ ", first ? "" : " }", key.section);
        text += fmt::format("{}{} = {}", begins ? "" : ", ", key.name, scenario::value_text(key, s));
        first = false;
    });
    text += " }\n";
}

std::string listed(const std::vector<double>& values) {
    std::vector<std::string> texts;
    for (const double value : values) texts.push_back(fmt::format("{:.12g}", value));
    return fmt::format("[{}]", fmt::join(texts, ", "));
}

// What every user may set with a sensor of this kind.
std::string usual_offers(const scenario::Sheet& sheet) {
    const auto of_array = [&sheet](scenario::Triangulation) {
        std::string text =
            "reading.choose = [\"strongest\", \"nearest\", \"farthest\"]\n"
            "reading.threshold = { from = 0.01, to = 0.3 }\nreading.thickness_index = { from = 1.2, to = 2.0 }\n";
        if (sheet.mount == scenario::SheetMount::specular) {
            text += "reading.calibrated_on = [\"mirror\", \"clear-glass\", \"white-ceramic\"]\n";
        }
        return text;
    };
    const std::string median = "reading.median = [1, 3, 5, 9]\n";
    return std::visit(
        base::Cases{of_array, [&](scenario::PhaseShift) { return median; }, [&](scenario::Pulsed) { return median; }},
        sheet.principle);
}

// What the sheet says that a user may set, and what every user may.
void add_offers(const scenario::Sheet& sheet, std::string& text) {
    text += "\n[offers]\n";
    if (scenario::abilities_of(sheet.principle).exposure) {
        text += "exposure.mode = [\"fixed\", \"automatic\"]\nexposure.level = { from = 0.2, to = 0.8 }\n";
    }
    if (sheet.exposures) {
        text += fmt::format("exposure.exposure_us = {{ from = {:.12g}, to = {:.12g} }}\n", (*sheet.exposures)[0] / us,
                            (*sheet.exposures)[1] / us);
    }
    std::vector<double> periods;
    for (const double period : sheet.periods) periods.push_back(period / us);
    if (!periods.empty()) text += fmt::format("exposure.period_us = {}\n", listed(periods));
    if (sheet.averages.empty()) {
        text +=
            "# The sheet says nothing of averages: common practice.\n"
            "reading.average = [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024]\n";
    } else {
        text += fmt::format("reading.average = [{}]\n", fmt::join(sheet.averages, ", "));
    }
    text += "reading.on_invalid = [\"mark\", \"hold\"]\n" + usual_offers(sheet);
}

}  // namespace

std::string sensor_file_text(const Inference& inference) {
    Scenario best = inference.members[inference.best].scenario;
    // It was judged at the period of the repeatability.
    const std::vector<double>& periods = inference.sheet.periods;
    if (!periods.empty()) best.exposure.period = {periods.front(), periods.back()};
    std::string text = fmt::format(
        "# Inferred from a data sheet: {} sensors that fit it, the first one in the middle of them. None is the sensor "
        "itself.\nschema = 1\ntitle = {}\n",
        inference.members.size(), scenario::toml_string(inference.sheet.title));
    for (const Unexplained& each : inference.unexplained) {
        text += fmt::format("# Not explained: {}. {}.\n", key_of(inference.sheet, each.figure),
                            in_words(each, inference.sheet));
    }
    add_sections(best, text);
    add_offers(inference.sheet, text);
    for (const Candidate& member : inference.members) add_member(member.scenario, text);
    return text;
}

}  // namespace spotwright::study
