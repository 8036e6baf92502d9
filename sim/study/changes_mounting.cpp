// Changes of how the sensor stands to the part, and at what angles it looks.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/measure/motion.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/study/change_list.hpp"

namespace spotwright::study {

using base::degree, base::mm, base::mW, base::um, base::us;
using scenario::Scenario;

namespace {

constexpr double specular_power = 0.002 * mW;

}  // namespace

void ChangeList::mounting() {
    const auto turn = [this] {
        const double in_plane = s_.mount.tilt[0] + 10.0 * degree;
        add("turn",
            words_of_turn("turn the sensor by 10 deg out of the part's reflection", s_, {in_plane, s_.mount.tilt[1]}),
            {set("mount.tilt_deg", s_.mount.tilt[0] / degree + 10.0, s_.mount.tilt[1] / degree)});
    };
    std::visit(base::Cases{[this](scenario::Triangulation) { triangulation_mounting(); },
                           [&turn](scenario::PhaseShift) { turn(); }, [&turn](scenario::Pulsed) { turn(); }},
               s_.principle);
}

// Whether the array still takes the whole range where the receiver stands at a wider angle.
bool ChangeList::range_fits(double more_deg) const {
    scenario::Receiver wider = s_.receiver;
    wider.angle += more_deg * degree;
    const receiver::Receiver r = receiver::make_receiver(wider, s_.detector, s_.emitter.angle);
    const receiver::MeasurableRange range = receiver::measurable_range(r, s_.mount.reference_distance);
    return range.near <= s_.mount.range[0] && range.far >= s_.mount.range[1];
}

void ChangeList::triangulation_mounting() {
    for (const double turn : {10.0, -10.0}) {
        add("turn",
            words_of_turn(fmt::format("turn the sensor by {:g} deg in its plane", turn), s_,
                          {s_.mount.tilt[0] + turn * degree, s_.mount.tilt[1]}),
            {set("mount.tilt_deg", s_.mount.tilt[0] / degree + turn, s_.mount.tilt[1] / degree)});
    }
    add("turn",
        words_of_turn("turn the sensor by 10 deg out of its plane", s_,
                      {s_.mount.tilt[0], s_.mount.tilt[1] + 10.0 * degree}),
        {set("mount.tilt_deg", s_.mount.tilt[0] / degree, s_.mount.tilt[1] / degree + 10.0)});
    const double angle = s_.receiver.angle / degree;
    constexpr double widest = 60.0;
    for (const double more : {10.0, 20.0}) {
        if (angle + more > widest) continue;
        // The image moves more for each step: the same array covers less, if it was filled.
        const double left =
            range_fits(more) ? 1.0 : std::sin(s_.receiver.angle) / std::sin(s_.receiver.angle + more * degree);
        add("angle", fmt::format("a sensor with {:g} deg between beam and receiver", angle + more),
            {set("receiver.angle_deg", angle + more),
             set("mount.range_mm", s_.mount.range[0] / mm * left, s_.mount.range[1] / mm * left)},
            1.0 - left, 1);
    }
    if (shiny() && s_.emitter.angle == 0.0) specular_mount();
}

// Array and lens at half the angle, before a mirror: all of its light comes to a few pixels. The lens is the sensor's
// own, or where the scenario leaves it open the one that suits the range.
std::vector<std::string> ChangeList::specular_settings(double range_left, bool own_lens) const {
    const double angle = s_.receiver.angle / degree;
    const auto end = [range_left](double own) { return own / mm * range_left; };
    std::vector<std::string> settings{set("emitter.angle_deg", -angle / 2.0),
                                      set("receiver.angle_deg", angle / 2.0),
                                      set("emitter.power_mW", std::min(s_.emitter.power, specular_power) / mW),
                                      set("reading.calibrated_on", "mirror"),
                                      set("exposure.mode", "automatic"),
                                      set("exposure.exposure_us", shortest_exposure / us),
                                      set("mount.range_mm", end(s_.mount.range[0]), end(s_.mount.range[1]))};
    if (own_lens) settings.push_back(set("receiver.focal_length_mm", s_.receiver.focal_length / mm));
    return settings;
}

// The largest share of the range that the specular mount keeps, to two digits: its geometry measures it and its
// calibration finds the mirror at both ends, where half of the light is lost. None below a fiftieth.
std::optional<double> ChangeList::specular_range(bool own_lens) const {
    constexpr int hundredths = 100;
    constexpr int least = 2;
    constexpr int steps = 32;  // each a tenth shorter
    int share = hundredths;
    for (int step = 0; step < steps && share >= least; ++step) {
        const double left = static_cast<double>(share) / hundredths;
        try {
            const Scenario mounted = scenario::with_settings(s_, specular_settings(left, own_lens));
            if (sensor::calibrates_at_ends(mounted)) return left;
        } catch (const base::ScenarioError&) {
            // Beyond its geometry: a shorter range may lie within it.
        }
        share = std::min(share - 1, share * 9 / 10);
    }
    return std::nullopt;
}

void ChangeList::add_specular_mount(double left, bool own_lens) {
    const std::vector<std::string> settings = specular_settings(left, own_lens);
    std::string words = fmt::format("a specular mount of {:.3g} mW", std::min(s_.emitter.power, specular_power) / mW);
    if (!own_lens) {
        const Scenario mounted = scenario::with_settings(s_, settings);
        words += fmt::format(" with a lens of {:.3g} mm", mounted.receiver.focal_length / mm);
    }
    constexpr double whole = 0.995;
    if (left < whole) {
        words += fmt::format(", whose range is {:.3g} to {:.3g} mm in place of {:.3g} to {:.3g} mm",
                             left * s_.mount.range[0] / mm, left * s_.mount.range[1] / mm, s_.mount.range[0] / mm,
                             s_.mount.range[1] / mm);
    }
    words += ": emitter and receiver at equal angles to the part's normal";
    add("mount", std::move(words), settings, 1.0 - left, own_lens ? 1 : 2);
}

// With the sensor's own lens, and where that takes less of the range with another one.
void ChangeList::specular_mount() {
    constexpr double least = 0.2;  // whose trial tells what stands in the way
    const std::optional<double> own = specular_range(true);
    const bool is_open = scenario::default_in_use(s_, "receiver.focal_length_mm").has_value();
    const double other = is_open && own != 1.0 ? specular_range(false).value_or(0.0) : 0.0;
    if (own || !(other > 0.0)) add_specular_mount(own.value_or(least), true);
    if (other > own.value_or(0.0)) add_specular_mount(other, false);
}

void ChangeList::orientation() {
    using scenario::ShapeKind;
    if (!scenario::abilities_of(s_.principle).array) return;
    // The lay goes with the sensor's turn as well as edges and axes do.
    const auto [along, across] = s_.target.made_of.roughness.rms_slope;
    const bool has_lay = shiny() && along != across;
    const std::string lay = set("target.lay_deg", s_.target.lay / degree + (s_.target.lay > 0.0 ? -90.0 : 90.0));
    const auto turned = [](scenario::Direction d) { return d == scenario::Direction::across ? "parallel" : "across"; };
    const scenario::Target& t = s_.target;
    const auto add_turn = [&](const char* words, const std::string& setting) {
        std::vector<std::string> settings{setting};
        if (has_lay) settings.push_back(lay);
        add("orientation", words + (has_lay ? words_of_quarter_turn(s_) : std::string()), std::move(settings));
    };
    if (t.shape == ShapeKind::step) {
        add_turn("turn the sensor by 90 deg about its beam, along the edge",
                 set("target.step.edge", turned(t.step.edge)));
    } else if (t.shape == ShapeKind::cylinder) {
        add_turn("turn the sensor by 90 deg about its beam", set("target.cylinder.axis", turned(t.cylinder.axis)));
    } else if (t.shape == ShapeKind::groove) {
        add_turn("turn the sensor by 90 deg about its beam, along the groove",
                 set("target.groove.axis", turned(t.groove.axis)));
    } else if (t.shape == ShapeKind::wave) {
        add_turn("turn the sensor by 90 deg about its beam", set("target.wave.axis", turned(t.wave.axis)));
    } else if (has_lay) {
        add("orientation", "turn the sensor by 90 deg about its beam" + words_of_quarter_turn(s_), {lay});
    }
    markings();
}

// Borders and grooves that run in the plane of the mounting shift nothing, and a small spot meets them seldom. Turning
// the sensor turns where they lie as well: on a plane all about the lit point.
void ChangeList::markings() {
    const scenario::Target& t = s_.target;
    if (!scenario::has_markings(t)) return;
    const auto quarter = [](double turn) { return turn / degree + (turn > 0.0 ? -90.0 : 90.0); };
    std::vector<std::string> settings;
    if (t.pattern.kind != scenario::PatternKind::none) {
        const auto [x, y] = t.pattern.position;
        const double side = t.pattern.turn > 0.0 ? 1.0 : -1.0;
        settings.push_back(set("target.pattern.turn_deg", quarter(t.pattern.turn)));
        settings.push_back(set("target.pattern.position_mm", 0.0 + side * y / mm, 0.0 - side * x / mm));
    }
    if (t.feed_marks.spacing > 0.0) {
        settings.push_back(set("target.feed_marks.turn_deg", quarter(t.feed_marks.turn)));
        settings.push_back(set("target.lay_deg", quarter(t.lay)));
    }
    if (!settings.empty() && t.shape == scenario::ShapeKind::plane && !measure::moves(s_)) {
        add("orientation", "turn the sensor by 90 deg about its beam, so that borders and grooves run in its plane",
            std::move(settings));
    }
    const auto [in_plane, out_of_plane] = s_.emitter.waist_radius;
    for (const double factor : {0.5, 0.25}) {
        add("spot", fmt::format("a spot {:g} times as wide, which meets fewer borders", factor),
            {set("emitter.waist_radius_um", std::max(factor * in_plane / um, 1.0),
                 std::max(factor * out_of_plane / um, 1.0))},
            0.0, 1);
    }
}

}  // namespace spotwright::study
