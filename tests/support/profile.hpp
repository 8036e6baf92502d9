// Pictures of readings for the tests of them, and how a reader of such a picture takes its values off the scales.
#pragma once

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <regex>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/base/random.hpp"
#include "sim/drawing/profile.hpp"
#include "sim/scenario/reader.hpp"
#include "tests/support/drawing.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::test::profile {

/// Coordinates are written to 0.001, so each is off by half of that at most.
inline constexpr double rounding = 0.0005;

/// Light of another surface, as a second peak: invented, for the drawing's sake.
struct Extra {
    double pixel;
    double height;
    double deviation;
};

struct Case {
    const char* name;
    std::vector<std::string> settings;
    std::vector<Extra> extra;
};

/// Sensors and frames for the drawing's sake; numbers invented.
inline const std::vector<Case>& cases() {
    static const std::vector<Case> list{
        {"default", {}, {}},
        {"too dark", {"target.material=black-rubber"}, {}},
        {"nothing to see", {"emitter.power_mW=0.00001"}, {}},
        {"saturated", {"exposure.exposure_us=8"}, {}},
        {"one pixel at the top", {"exposure.exposure_us=4.85"}, {}},
        {"daylight takes half of full well",
         {"surroundings.illuminance_lx=200000", "surroundings.light=incandescent", "exposure.exposure_us=120",
          "receiver.filter_width_nm=200", "emitter.power_mW=0.002"},
         {}},
        {"light of a lamp saturates every pixel",
         {"surroundings.illuminance_lx=200000", "surroundings.light=incandescent", "exposure.exposure_us=20000",
          "exposure.period_us=[20000,20000]", "receiver.filter_width_nm=300"},
         {}},
        {"two peaks, the nearer chosen", {"reading.choose=nearest"}, {{620.0, 40000.0, 3.0}}},
        {"two peaks close by", {}, {{530.0, 50000.0, 3.0}}},
        {"five peaks",
         {},
         {{230.0, 30000.0, 3.0}, {300.0, 60000.0, 4.0}, {650.0, 20000.0, 2.0}, {780.0, 150000.0, 8.0}}},
        {"index that does not exist", {"reading.choose=4"}, {{700.0, 50000.0, 3.0}}},
        {"cut off by the array's end", {"reading.choose=nearest"}, {{1023.0, 50000.0, 4.0}}},
        {"beyond the calibration", {"reading.choose=nearest"}, {{1000.0, 50000.0, 4.0}}},
        {"threshold within the noise", {"reading.threshold=0.0003", "detector.read_noise_e=60"}, {}},
        {"hundreds of peaks",
         {"reading.threshold=0.0005", "detector.read_noise_e=100", "detector.pixels=4096", "detector.pitch_um=1.75",
          "exposure.exposure_us=7"},
         {}},
        {"64 pixels", {"detector.pixels=64", "detector.pitch_um=112", "mount.range_mm=[-4,4]"}, {}},
        {"4096 pixels", {"detector.pixels=4096", "detector.pitch_um=1.75", "exposure.exposure_us=7"}, {}},
        {"wide spot on few pixels",
         {"detector.pixels=128", "detector.pitch_um=56", "emitter.waist_radius_um=[900,40]", "mount.range_mm=[-3,3]",
          "emitter.power_mW=0.02"},
         {}},
        {"outside the range", {"target.displacement_mm=7"}, {}},
        {"long range, tilted",
         {"mount.reference_distance_mm=300", "mount.range_mm=[-60,90]", "receiver.angle_deg=18",
          "receiver.distance_mm=300", "receiver.focal_length_mm=35", "detector.pixels=4096",
          "target.displacement_mm=-40", "target.tilt_deg=[12,3]", "exposure.exposure_us=100"},
         {}},
        {"specular mount",
         {"emitter.angle_deg=-30", "receiver.angle_deg=30", "mount.range_mm=[-1.5,1.5]", "exposure.exposure_us=1"},
         {}},
        {"steep receiver",
         {"receiver.angle_deg=60", "mount.range_mm=[-2,2]", "target.displacement_mm=1", "target.tilt_deg=[-20,0]"},
         {}},
        {"tilted sensor, large range",
         {"mount.reference_distance_mm=200", "mount.range_mm=[-40,150]", "receiver.angle_deg=25",
          "receiver.distance_mm=180", "receiver.focal_length_mm=12", "target.displacement_mm=200",
          "mount.tilt_deg=[8,3]", "exposure.exposure_us=60"},
         {}},
    };
    return list;
}

struct Drawn {
    sensor::TriangulationSetup setup;
    sensor::Pose pose;
    measure::ReadResult result;
    std::string svg;
};

/// The pose with more light on the array, and every pixel of it drawn.
inline void add_light(const sensor::TriangulationSetup& setup, sensor::Pose& pose, const std::vector<Extra>& extra) {
    std::vector<float> rate = pose.profile.rate;
    for (const Extra& spot : extra) {
        for (std::size_t k = 0; k < rate.size(); ++k) {
            const double t = (static_cast<double>(k) - spot.pixel) / spot.deviation;
            rate[k] += static_cast<float>(spot.height * std::exp(-0.5 * t * t) / pose.timing.exposure);
        }
    }
    const scenario::Scenario& s = setup.scenario;
    pose.expected = detector::expose(s.detector, setup.instrument.pattern, rate, pose.ambient_rate,
                                     pose.timing.exposure, s.surroundings.temperature);
    pose.first_unit = 0;
    pose.unit_count = static_cast<std::int64_t>(pose.background.size()) / base::unit_pixels;
    pose.locate.at_array_start = true;
    pose.locate.at_array_end = true;
}

inline Drawn draw(const Case& c) {
    std::vector<std::string> settings{"exposure.exposure_us=1.8", "run.readings=64"};
    settings.insert(settings.end(), c.settings.begin(), c.settings.end());
    const scenario::Scenario s = scenario::parse(
        "schema = 1\ntitle = \"Gauge on a bench\"\n[target]\nmaterial = \"white-ceramic\"\n", "scenario", settings);
    Drawn drawn{sensor::set_up_triangulation(s, 0), {}, {}, {}};
    drawn.pose = sensor::make_pose(drawn.setup, s.target.displacement);
    drawn.result = measure::read(drawn.setup, {});
    if (!c.extra.empty()) add_light(drawn.setup, drawn.pose, c.extra);
    drawn.svg = drawing::draw_profile(drawn.setup, drawn.pose, drawn.result);
    return drawn;
}

/// The drawing of a case, made when it is first asked for.
inline const Drawn& drawing_of_part(const std::string& name) {
    static std::map<std::string, Drawn> made;
    const auto found = made.find(name);
    if (found != made.end()) return found->second;
    const auto c =
        std::find_if(cases().begin(), cases().end(), [&name](const Case& each) { return each.name == name; });
    if (c == cases().end()) throw std::out_of_range(name);
    return made.emplace(name, draw(*c)).first->second;
}

inline std::vector<std::string> matches(const std::string& text, const std::string& pattern) {
    const std::regex expression(pattern);
    std::vector<std::string> list;
    for (std::sregex_iterator it(text.begin(), text.end(), expression), end; it != end; ++it) list.push_back((*it)[1]);
    return list;
}

/// What stands in each `name="..."`, found by hand: std::regex takes a step of the stack for every character of it.
inline std::vector<std::string> values_of(const std::string& text, const std::string& name) {
    const std::string head = " " + name + "=\"";
    std::vector<std::string> values;
    for (std::size_t at = text.find(head); at != std::string::npos; at = text.find(head, at)) {
        at += head.size();
        values.push_back(text.substr(at, text.find('"', at) - at));
    }
    return values;
}

/// A number as the drawing writes it: thousands apart, a true minus sign, perhaps with words before it.
inline double number_in(const std::string& label) {
    const std::string spaced = std::regex_replace(label, std::regex("\xE2\x80\xAF"), "");
    const std::string plain = std::regex_replace(spaced, std::regex("\xE2\x88\x92"), "-");
    return std::stod(plain.substr(plain.find_last_of(' ') + 1));
}

struct Tick {
    double place;
    double value;
};

/// Ticks of an axis as a reader of the picture finds them: the place of the line, the number at it.
inline std::vector<Tick> ticks(const std::string& svg, const std::string& axis, const std::string& coordinate) {
    const std::string group = between(svg, "<g id=\"" + axis + "\">", "</g>");
    const std::vector<std::string> places = matches(group, "<line [^>]*" + coordinate + "1=\"([-0-9.]+)\"");
    std::vector<Tick> list;
    for (const DrawnText& text : texts(group)) {
        list.push_back({std::stod(places.at(list.size())), number_in(text.words)});
    }
    return list;
}

/// A linear scale read off its outermost ticks.
struct Scale {
    Tick from;
    Tick to;

    [[nodiscard]] double per_unit() const { return (to.value - from.value) / (to.place - from.place); }
    [[nodiscard]] double value(double place) const { return from.value + (place - from.place) * per_unit(); }
    // Both ticks and the place are rounded; a place beyond the ticks magnifies their error.
    [[nodiscard]] double margin(double place) const {
        const double lever = std::abs(place - from.place) / std::abs(to.place - from.place);
        return std::abs(per_unit()) * rounding * (2.0 + 2.0 * lever);
    }
};

inline Scale scale_of(const std::string& svg, const std::string& axis, const std::string& coordinate) {
    const std::vector<Tick> list = ticks(svg, axis, coordinate);
    REQUIRE(list.size() >= 2);
    return {list.front(), list.back()};
}

/// Names of the panels with a scale of pixels.
inline std::vector<std::string> panels(const std::string& svg) {
    return matches(svg, "<g id=\"pixel-axis-([a-z0-9]+)\"");
}

inline std::string all_words(const std::string& svg) {
    std::string all;
    for (const DrawnText& text : texts(svg)) all += text.words + " ";
    return std::regex_replace(all, std::regex("\xC2\xA0|\xE2\x80\xAF"), " ");
}

/// Net signal of the reading, worked out here once more; `saturated_signal` where the digit is the top one.
inline std::vector<float> net_of(const Drawn& d) {
    const std::vector<float> digits = sensor::frame_of(d.setup, d.pose, 0);
    std::vector<float> net(digits.size());
    const detector::Digitiser& digitiser = d.pose.expected.digitiser;
    reading::net_signal(digits, std::span(d.pose.background).first(digits.size()), static_cast<float>(digitiser.gain),
                        static_cast<float>(digitiser.top_digit), net);
    return net;
}

}  // namespace spotwright::test::profile
