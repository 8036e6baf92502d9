#include "sim/study/changes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/sensor/flight_instrument.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/measure/motion.hpp"
#include "sim/study/change_list.hpp"
#include "sim/study/instrument_changes.hpp"
#include "sim/study/user_changes.hpp"

namespace spotwright::study {

namespace {

using base::mW, base::us;
using scenario::Scenario;

bool is_library_material(const std::string& name) {
    const std::vector<std::string> names = scenario::material_names();
    return std::find(names.begin(), names.end(), name) != names.end();
}

}  // namespace

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
