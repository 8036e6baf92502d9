#include "sim/study/changes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/receiver/geometry.hpp"
#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/measure/motion.hpp"
#include "sim/study/instrument_changes.hpp"
#include "sim/study/user_changes.hpp"

namespace spotwright::study {

namespace {

using base::degree, base::mm, base::mW, base::nm, base::um, base::us;
using scenario::Scenario;

std::string set(const char* key, double value) {
    return fmt::format("{}={:.6g}", key, value);
}
std::string set(const char* key, double first, double second) {
    return fmt::format("{}=[{:.6g}, {:.6g}]", key, first, second);
}
std::string set(const char* key, std::string_view word) {
    return fmt::format("{}={}", key, word);
}

bool is_library_material(const std::string& name) {
    const std::vector<std::string> names = scenario::material_names();
    return std::find(names.begin(), names.end(), name) != names.end();
}

class ChangeList {
public:
    ChangeList(const Scenario& scenario, const measure::ReadResult& result) : s_(scenario), result_(result) {}

    std::vector<Change> all();

private:
    void add(std::string kind, std::string words, std::vector<std::string> settings, double range = 0.0,
             int parts = 0) {
        list_.push_back({std::move(words), std::move(kind), std::move(settings), range, parts});
    }
    [[nodiscard]] bool shiny() const { return s_.target.made_of.index.has_value(); }
    void exposures();
    void dim(double share);
    void averages();
    void peaks();
    void calibration();
    void mounting();
    void triangulation_mounting();
    [[nodiscard]] bool range_fits(double more_deg) const;
    void orientation();
    void markings();
    void optics();
    void light();
    void zero();
    void flight();
    void table();

    const Scenario& s_;
    const measure::ReadResult& result_;
    std::vector<Change> list_;
};

// Shutters and gated emitters hardly open for less (common practice): below, the light is dimmed.
constexpr double shortest_exposure = 0.05 * us;

// The exposure that would bring the light to the wanted level, and a longer period where it needs one.
void ChangeList::exposures() {
    if (!scenario::abilities_of(s_.principle).exposure) return;
    const double share = result_.signal.peak_share;
    const auto frequencies = static_cast<double>(exposures_in_period(s_));
    constexpr double longest = 10.0;  // s
    if (s_.exposure.mode == scenario::ExposureMode::fixed && share > 0.0) {
        const double wanted = std::min(result_.timing.exposure * s_.exposure.level / share, longest);
        const double period = std::max(s_.exposure.period[0], wanted * frequencies);
        // Half of it too: bright patches of a speckled surface need room below full well.
        for (const double part : {1.0, 0.5}) {
            constexpr double same = 0.1;
            const double exposure = part * wanted;
            if (std::abs(exposure / result_.timing.exposure - 1.0) < same) continue;
            if (exposure < shortest_exposure) {
                dim(exposure / result_.timing.exposure);
                continue;
            }
            const double room = std::max(s_.exposure.period[0], exposure * frequencies) / us * (1.0 + 1e-6);
            add("exposure", fmt::format("expose for {:.4g} us", exposure / us),
                {set("exposure.exposure_us", exposure / us), set("exposure.period_us", room, room)});
        }
        add("exposure", "let the exposure follow the light",
            {set("exposure.mode", "automatic"),
             set("exposure.exposure_us",
                 std::max(shortest_exposure, std::min(result_.timing.exposure, wanted) / 10.0) / us),
             set("exposure.period_us", s_.exposure.period[0] / us,
                 std::max(10.0 * period, s_.exposure.period[1]) / us)});
    } else if (s_.exposure.mode == scenario::ExposureMode::automatic) {
        add("exposure", "allow ten times the longest sampling period",
            {set("exposure.period_us", s_.exposure.period[0] / us, 10.0 * s_.exposure.period[1] / us)});
        if (s_.exposure.exposure >= 10.0 * shortest_exposure) {
            add("exposure", "allow a tenth of the shortest exposure",
                {set("exposure.exposure_us", s_.exposure.exposure / us / 10.0)});
        } else if (result_.signal.peak_share > s_.exposure.level) {
            dim(s_.exposure.level / result_.signal.peak_share);
        }
    }
}

// Less light for a part that is too bright for any exposure.
void ChangeList::dim(double share) {
    const double power = share * s_.emitter.power;
    constexpr double least = 1e-6 * mW;  // less is no emitter that one would build
    if (power < least) return;
    add("power", fmt::format("dim the emitter to {:.3g} mW", power / mW), {set("emitter.power_mW", power / mW)}, 0.0,
        1);
}

// As long as the output still answers in the time asked for.
void ChangeList::averages() {
    const double room = s_.requirement.response / result_.timing.period;
    const auto most = static_cast<std::int64_t>(room) - (s_.reading.median - 1) / 2;
    if (most > 4 * s_.reading.average) {
        add("average", fmt::format("average {} readings", most / 4),
            {fmt::format("reading.average={}", most / 4), fmt::format("run.readings={}", 8 * most + 1024)});
    }
    if (most > s_.reading.average) {
        add("average", fmt::format("average {} readings, as many as the response allows", most),
            {fmt::format("reading.average={}", most), fmt::format("run.readings={}", 8 * most + 1024)});
    }
    // A part that moves wants less of it.
    for (const std::int64_t shorter : {s_.reading.average / 4, std::int64_t{1}}) {
        if (!measure::is_moving_series(s_) || shorter < 1 || shorter >= s_.reading.average) continue;
        add("average",
            fmt::format("average {} reading{} only: the output follows sooner", shorter, shorter > 1 ? "s" : ""),
            {fmt::format("reading.average={}", shorter)});
    }
    if (s_.reading.median == 1 && room > 8.0) {
        add("median", "take the median of 5 readings against single bad ones", {"reading.median=5"});
    }
}

void ChangeList::peaks() {
    if (!scenario::abilities_of(s_.principle).array) return;
    if (s_.target.shape == scenario::ShapeKind::plate || s_.target.made_of.volume) {
        add("peak", "count the nearest peak", {set("reading.choose", "nearest")});
    }
    calibration();
    constexpr double lowest = 0.005;
    if (s_.reading.threshold > lowest) {
        add("threshold", "accept fainter peaks", {set("reading.threshold", lowest)});
    }
    if (s_.reading.peak != scenario::PeakMethod::centroid) {
        add("method", "take the centroid of the spot", {set("reading.peak", "centroid")});
    }
}

// A sensor that was calibrated on a part like this one sees as deep as it did then.
void ChangeList::calibration() {
    const scenario::Material& m = s_.target.made_of;
    const bool can = m.volume && s_.target.shape == scenario::ShapeKind::plane && s_.emitter.angle == 0.0;
    if (!can || !is_library_material(s_.target.material) || s_.reading.calibrated_on == s_.target.material) return;
    add("reference", "calibrate on the same material", {set("reading.calibrated_on", s_.target.material)});
}

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
    if (shiny() && s_.emitter.angle == 0.0) {
        constexpr double left = 0.2;  // a mirror throws its light off the lens soon
        // All of the mirrored light comes to a few pixels.
        const double power = std::min(s_.emitter.power, 0.002 * mW);
        add("mount",
            fmt::format("a specular mount of {:.3g} mW: emitter and receiver at equal angles to the part's normal",
                        power / mW),
            {set("emitter.angle_deg", -angle / 2.0), set("receiver.angle_deg", angle / 2.0),
             set("emitter.power_mW", power / mW), set("reading.calibrated_on", "mirror"),
             set("exposure.mode", "automatic"), set("exposure.exposure_us", shortest_exposure / us),
             set("mount.range_mm", left * s_.mount.range[0] / mm, left * s_.mount.range[1] / mm)},
            1.0 - left, 1);
    }
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

void ChangeList::optics() {
    const scenario::Aperture& a = s_.receiver.aperture;
    for (const double factor : {0.6, 1.5, 2.0}) {
        const bool is_round = a.shape == scenario::ApertureShape::round;
        add("aperture", fmt::format("a receiver aperture {:g} times as wide", factor),
            {is_round ? set("receiver.aperture_mm", factor * a.in_plane / mm)
                      : set("receiver.aperture_mm", factor * a.in_plane / mm, factor * a.out_of_plane / mm)},
            0.0, 1);
    }
    constexpr double narrow = 5.0 * nm;
    const bool glows = s_.target.temperature.has_value();
    if (s_.receiver.filter_width > narrow && (glows || s_.surroundings.light != scenario::Light::none)) {
        add("filter", "a filter 5 nm wide", {set("receiver.filter_width_nm", narrow / nm)}, 0.0, 1);
    }
    // Light that is not the emitter's beside the peak: more than a tenth of it.
    constexpr double little = 0.1;
    if (result_.signal.lamps > little * result_.signal.peak) {
        add("shade", "a shade that leaves a tenth of the ambient light",
            {set("surroundings.illuminance_lx", 0.1 * s_.surroundings.illuminance)});
    }
    constexpr double blue = 450.0 * nm;
    if (result_.signal.glow > little * result_.signal.peak && s_.emitter.wavelength > blue) {
        const bool pulsed = !scenario::abilities_of(s_.principle).exposure;
        add("wavelength",
            pulsed ? std::string("light of 450 nm, where the part glows less: check its laser class")
                   : fmt::format("light of 450 nm, where the part glows less: laser class {} (estimated)",
                                 emitter::estimated_class(blue, s_.emitter.power)),
            {set("emitter.wavelength_nm", blue / nm)}, 0.0, 1);
    }
    const auto [in_plane, out_of_plane] = s_.emitter.waist_radius;
    if (scenario::abilities_of(s_.principle).array && out_of_plane < 4.0 * in_plane) {
        add("spot", "a spot drawn out to a short line across the plane of the mounting",
            {set("emitter.waist_radius_um", in_plane / um, std::min(10.0 * in_plane / um, 1e4))}, 0.0, 1);
    }
}

// Power and wavelength within the class that the scenario's own emitter is estimated to be in.
void ChangeList::light() {
    if (!scenario::abilities_of(s_.principle).exposure) return;  // pulses have limits of their own: their power stays
    const double now = s_.emitter.wavelength;
    const emitter::EmissionLimits limits = emitter::emission_limits(now);
    const std::array<double, 4> steps{limits.class_1, limits.class_2, limits.class_3r, limits.class_3b};
    const auto fits = [&](double limit) { return limit >= s_.emitter.power; };
    const auto own = std::find_if(steps.begin(), steps.end(), fits);
    if (own == steps.end()) return;
    const std::string name = emitter::estimated_class(now, s_.emitter.power);
    const auto index = static_cast<std::size_t>(own - steps.begin());
    constexpr double worth = 1.1;
    if (*own > worth * s_.emitter.power) {
        add("power", fmt::format("the whole {:.3g} mW that class {} is estimated to allow", *own / mW, name),
            {set("emitter.power_mW", std::floor(*own / mW * 1e4) / 1e4)}, 0.0, 1);
    }
    for (const double other : {520.0 * nm, 655.0 * nm, 850.0 * nm}) {
        if (std::abs(other - now) < 50.0 * nm) continue;
        const emitter::EmissionLimits there = emitter::emission_limits(other);
        const double limit = std::array{there.class_1, there.class_2, there.class_3r, there.class_3b}[index];
        if (limit <= 0.0) continue;  // the class does not exist there
        add("wavelength", fmt::format("light of {:g} nm, in the same class", other / nm),
            {set("emitter.wavelength_nm", other / nm), set("emitter.power_mW", std::min(s_.emitter.power, limit) / mW)},
            0.0, 1);
    }
}

void ChangeList::zero() {
    if (scenario::warm_up_left(s_.thermal, s_.surroundings.running) > 0.0) {
        const double slowest = std::max(s_.thermal.warm_up_times[0], s_.thermal.warm_up_times[1]);
        for (const double times : {2.0, 4.0}) {
            const double wait = std::ceil(times * slowest / base::minute);
            add("warm", fmt::format("let the sensor warm for {:g} min before it reads", wait),
                {set("surroundings.running_min", s_.surroundings.running / base::minute + wait)});
        }
    }
    for (const double parts : {2.0, 4.0}) {
        const double left = s_.uncertainty.temperature / parts;
        if (left <= 0.0) return;
        add("zero",
            fmt::format("set the zero {:g} times as often: whenever the sensor has warmed by {:.3g} K", parts, left),
            {set("uncertainty.temperature_K", left)});
    }
}

void ChangeList::flight() {
    const auto by_pulses = [this](scenario::Pulsed) {
        for (const std::int64_t factor : {4, 16}) {
            add("pulses", fmt::format("{} pulses for a reading", factor * s_.flight.pulses),
                {fmt::format("flight.pulses={}", factor * s_.flight.pulses)});
        }
        add("timing", "time by constant fraction, against walk", {set("flight.timing", "constant-fraction")});
    };
    const auto by_phase = [this](scenario::PhaseShift) {
        if (s_.exposure.mode == scenario::ExposureMode::fixed && measure::is_moving_series(s_)) {
            for (const double part : {0.5, 0.125}) {
                const double exposure = part * s_.exposure.exposure / us;
                add("exposure", fmt::format("expose for {:.4g} us: the part moves less meanwhile", exposure),
                    {set("exposure.exposure_us", exposure)});
            }
        }
        if (s_.flight.buckets < 8) add("buckets", "8 buckets, against cyclic error", {"flight.buckets=8"});
        const double fastest = *std::max_element(s_.flight.modulation.begin(), s_.flight.modulation.end());
        if (s_.flight.modulation.size() == 1) {
            // A second frequency in the ratio 4 to 5 keeps what is unambiguous.
            add("modulation", "modulate at twice the frequency, and at 8/5 of it against wrong wraps",
                {set("flight.modulation_MHz", 2.0 * fastest / base::MHz, 1.6 * fastest / base::MHz)}, 0.0, 1);
        }
    };
    std::visit(base::Cases{by_pulses, by_phase, [](scenario::Triangulation) {}}, s_.principle);
    table();
}

// A table of corrections that reaches the light of the part.
void ChangeList::table() {
    const measure::TimedLight* light = measure::timed_light(result_.details);
    const bool walks =
        std::holds_alternative<scenario::Pulsed>(s_.principle) || s_.flight.walk != 0.0 || s_.flight.crosstalk > 0.0;
    if (light == nullptr || !walks || !(light->brightness > 0.0)) return;
    const auto [least, most] = s_.flight.intensity_range;
    constexpr std::int64_t enough = 32;
    const bool reaches = light->brightness >= least && light->brightness <= most;
    if (s_.flight.intensity_points >= enough && reaches) return;
    constexpr double room = 2.0;
    const std::int64_t points = std::max(enough, s_.flight.intensity_points);
    add("table", "calibrate with a table of corrections over the strength of the echo",
        {fmt::format("flight.intensity_table_points={}", points),
         set("flight.intensity_range", std::min(1.0, light->brightness) / room,
             std::max(1.0, light->brightness) * room)});
}

std::vector<Change> ChangeList::all() {
    exposures();
    averages();
    peaks();
    zero();
    mounting();
    orientation();
    flight();
    light();
    optics();
    for (Change& change : changes_around(s_)) list_.push_back(std::move(change));
    for (Change& change : instrument_changes(s_, result_)) list_.push_back(std::move(change));
    return std::move(list_);
}

}  // namespace

std::vector<Change> possible_changes(const Scenario& scenario, const measure::ReadResult& result) {
    const bool of_user = !scenario.sensor_file.file.empty();
    std::vector<Change> changes = of_user ? changes_of_user(scenario, result) : ChangeList(scenario, result).all();
    for (std::size_t i = 0; i < changes.size(); ++i) changes[i].place = i;
    return changes;
}

std::optional<Change> suited_exposure(const Scenario& s, double peak_share, double exposure) {
    if (!scenario::abilities_of(s.principle).exposure || peak_share <= 0.0 || exposure <= 0.0) return std::nullopt;
    if (!s.sensor_file.file.empty()) return suited_exposure_of_user(s, peak_share, exposure);
    constexpr double longest = 10.0;  // s
    const double wanted = std::min(exposure * s.exposure.level / peak_share, longest);
    constexpr double same = 0.3;
    if (std::abs(wanted / exposure - 1.0) < same || wanted < shortest_exposure) return std::nullopt;
    const double room = std::max(s.exposure.period[0], wanted * static_cast<double>(exposures_in_period(s)));
    return Change{fmt::format("expose for {:.4g} us", wanted / us),
                  "exposure",
                  {set("exposure.mode", "fixed"), set("exposure.exposure_us", wanted / us),
                   set("exposure.period_us", room / us * (1.0 + 1e-6), room / us * (1.0 + 1e-6))},
                  0.0,
                  0};
}

std::string words_of_quarter_turn(const Scenario& s) {
    // Marks in the plane of the mounting come to lie across it, and the other way round.
    const bool in_plane = std::abs(std::cos(s.target.lay)) > std::sqrt(0.5);
    const std::string words = in_plane ? ", across the lay" : ", along the lay";
    const auto taken = scenario::default_in_use(s, "target.lay_deg");
    return taken ? fmt::format("{}, which is taken to run at {} deg: look at the marks", words, *taken) : words;
}

std::string words_of_turn(const std::string& words, const scenario::Scenario& s, const scenario::Pair& tilt) {
    if (s.emitter.angle != 0.0) return words;
    return fmt::format("{}, and multiply readings by {:.5f}", words, sensor::scale_of_turned(tilt));
}

}  // namespace spotwright::study
