// Sensors that fit a data sheet as one sensor file, and the data sheet of a known sensor.
#include <fmt/format.h>

#include <array>
#include <cmath>

#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/study/infer.hpp"
#include "sim/study/sheet_forms.hpp"

namespace spotwright::study {

namespace {

using base::mm, base::um, base::us;
using scenario::Scenario;

// Keys of a sensor, those that differ between the sensors of an ensemble last.
constexpr std::array common_keys{
    "mount.reference_distance_mm", "mount.range_mm",           "housing.width_mm",     "housing.depth_mm",
    "housing.thickness_mm",        "housing.beam_position_mm", "housing.window_mm",    "exposure.mode",
    "exposure.exposure_us",        "exposure.period_us",       "reading.calibrated_on"};
constexpr std::array solved_keys{"emitter.wavelength_nm",
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

const scenario::Key& key_named(const std::string& name) {
    const scenario::Key* key = scenario::find_key_of(name);
    if (key == nullptr) throw base::InternalError("a sensor has no key " + name);
    return *key;
}

// The keys by sections, each section once.
template <std::size_t N, class Add>
void for_each_key(const std::array<const char*, N>& keys, const Scenario& s, const Add& add) {
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
        if (begins) text += fmt::format("\n[{}]\n", key.section);
        text += fmt::format("{} = {}\n", key.name, scenario::value_text(key, s));
    };
    for_each_key(common_keys, s, add);
    for_each_key(solved_keys, s, add);
}

void add_member(const Scenario& s, std::string& text) {
    text += "\n[[ensemble]]";
    bool first = true;
    for_each_key(solved_keys, s, [&](const scenario::Key& key, bool begins) {
        if (begins) text += fmt::format("{}\n{} = {{ ", first ? "" : " }", key.section);
        text += fmt::format("{}{} = {}", begins ? "" : ", ", key.name, scenario::value_text(key, s));
        first = false;
    });
    text += " }\n";
}

// What the sheet says that a user may set, and what every user may with a sensor of this kind.
void add_offers(const scenario::Sheet& sheet, std::string& text) {
    text += "\n[offers]\nexposure.mode = [\"fixed\", \"automatic\"]\nexposure.level = { from = 0.2, to = 0.8 }\n";
    if (sheet.exposures) {
        text += fmt::format("exposure.exposure_us = {{ from = {:.12g}, to = {:.12g} }}\n", (*sheet.exposures)[0] / us,
                            (*sheet.exposures)[1] / us);
    }
    std::vector<std::string> periods;
    for (const double period : sheet.periods) periods.push_back(fmt::format("{:.12g}", period / us));
    if (!periods.empty()) text += fmt::format("exposure.period_us = [{}]\n", fmt::join(periods, ", "));
    if (sheet.averages.empty()) {
        text +=
            "# The sheet says nothing of averages: common practice.\n"
            "reading.average = [1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024]\n";
    } else {
        text += fmt::format("reading.average = [{}]\n", fmt::join(sheet.averages, ", "));
    }
    text +=
        "reading.choose = [\"strongest\", \"nearest\", \"farthest\"]\nreading.on_invalid = [\"mark\", \"hold\"]\n"
        "reading.threshold = { from = 0.01, to = 0.3 }\nreading.thickness_index = { from = 1.2, to = 2.0 }\n";
    if (sheet.mount == scenario::SheetMount::specular) {
        text += "reading.calibrated_on = [\"mirror\", \"clear-glass\", \"white-ceramic\"]\n";
    }
}

// Of the offer of a key: its values or bounds. [as written]
std::vector<double> offered(const Scenario& s, std::string_view key) {
    const scenario::Offer* offer = scenario::offer_of(s, key);
    if (offer == nullptr) return {};
    if (offer->bounds) return {(*offer->bounds)[0], (*offer->bounds)[1]};
    return offer->values;
}

void add_timing(const Scenario& s, scenario::Sheet& sheet) {
    for (const double period : offered(s, "exposure.period_us")) sheet.periods.push_back(period * us);
    if (sheet.periods.empty()) sheet.periods = {s.exposure.period[0]};
    const std::vector<double> exposures = offered(s, "exposure.exposure_us");
    if (exposures.size() == 2) sheet.exposures = scenario::Pair{s.exposure.exposure, exposures[1] * us};
    for (const double average : offered(s, "reading.average")) {
        sheet.averages.push_back(static_cast<std::int64_t>(average));
    }
}

void add_light(const Scenario& s, scenario::Sheet& sheet) {
    constexpr int few = 2;
    constexpr int exact = 4;
    sheet.wavelength = scenario::stated(s.emitter.wavelength, base::nm, 3);
    const std::string laser_class = emitter::estimated_class(s.emitter.wavelength, s.emitter.power);
    if (laser_class == "not estimated" || laser_class == "4") {
        sheet.power = scenario::stated(s.emitter.power, base::mW, few);
    } else {
        sheet.laser_class = laser_class;
    }
    const emitter::Beam beam = sensor::beam_of(s);
    const double distance = s.mount.reference_distance;
    const auto width = [&](int axis, double place) { return 2.0 * emitter::radius_at(beam, axis, distance + place); };
    sheet.spot.in_plane = scenario::stated(width(0, 0.0), um, few);
    sheet.spot.out_of_plane = scenario::stated(width(1, 0.0), um, few);
    const double ends =
        std::sqrt(0.5 * (std::pow(width(0, s.mount.range[0]), 2) + std::pow(width(0, s.mount.range[1]), 2)));
    // A beam that hardly widens tells its quality only by more digits than a sheet has.
    constexpr double widens = 1.15;
    if (ends > widens * width(0, 0.0)) sheet.spot.in_plane_at_ends = scenario::stated(ends, um, few);
    const double base_line = s.receiver.distance * std::sin(s.receiver.angle) - distance * std::sin(s.emitter.angle);
    sheet.windows_distance = scenario::stated(base_line, mm, exact - 1);
}

void add_figures(const Scenario& s, scenario::Sheet& sheet) {
    constexpr int few = 2;
    constexpr std::int64_t averages = 64;
    scenario::SheetRepeatability conditions;
    conditions.average = averages;
    conditions.period = sheet.periods.front();
    conditions.material = sheet.mount == scenario::SheetMount::specular ? "mirror" : "white-ceramic";
    std::vector<std::string> settings{"run.speckle=off", "target.displacement_mm=0",
                                      "target.material=" + conditions.material};
    Scenario tile = scenario::with_settings(s, settings);
    tile.exposure.period = {sheet.periods.front(), sheet.periods.back()};
    const Figures figures = figures_of(sensor::set_up_triangulation(tile, 0), conditions, true);
    const auto of = [&figures](SheetFigure figure) { return figures.at(static_cast<std::size_t>(figure)); };
    if (const auto value = of(SheetFigure::repeatability)) {
        conditions.value = scenario::stated(*value, um, few);
        sheet.repeatability = conditions;
    }
    constexpr double percent = 0.01;
    if (const auto value = of(SheetFigure::linearity)) sheet.linearity = scenario::stated(*value, percent, few);
    if (const auto value = of(SheetFigure::temperature)) sheet.temperature = scenario::stated(*value, percent, few);
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
        text += fmt::format("# Not explained: {}. {}.\n", key_of(each.figure), in_words(each, inference.sheet));
    }
    add_sections(best, text);
    add_offers(inference.sheet, text);
    for (const Candidate& member : inference.members) add_member(member.scenario, text);
    return text;
}

scenario::Sheet sheet_of(const Scenario& s) {
    scenario::Sheet sheet;
    sheet.title = s.sensor_file.title.empty() ? s.title : s.sensor_file.title;
    sheet.mount = s.emitter.angle != 0.0 ? scenario::SheetMount::specular : scenario::SheetMount::diffuse;
    sheet.reference_distance = s.mount.reference_distance;
    sheet.range = s.mount.range;
    sheet.housing = s.housing;
    add_timing(s, sheet);
    add_light(s, sheet);
    add_figures(s, sheet);
    return sheet;
}

}  // namespace spotwright::study
