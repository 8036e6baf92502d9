#include "sim/study/user_changes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/measure/motion.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/study/instrument_changes.hpp"

namespace spotwright::study {

namespace {

using base::degree, base::mm, base::us;
using scenario::Scenario;

class UserChanges {
public:
    UserChanges(const Scenario& scenario, const measure::ReadResult& result) : s_(scenario), result_(result) {}

    std::vector<Change> all();

private:
    void add(std::string kind, std::string words, std::vector<std::string> settings, int parts = 0) {
        list_.push_back({std::move(words), std::move(kind), std::move(settings), 0.0, parts});
    }
    [[nodiscard]] bool shines() const { return s_.target.made_of.index.has_value(); }
    void exposures();
    void averages();
    void peaks();
    void mounting();
    void orientation();
    void place();
    void coat();
    void surroundings();
    void other_sensors();

    const Scenario& s_;
    const measure::ReadResult& result_;
    std::vector<Change> list_;
};

bool offers_word_of(const Scenario& s, std::string_view key, std::string_view word) {
    const scenario::Offer* offer = scenario::offer_of(s, key);
    return offer != nullptr && std::find(offer->words.begin(), offer->words.end(), word) != offer->words.end();
}

// Offered numbers, ascending; of bounds both ends; empty where nothing is offered.
std::vector<double> numbers_offered(const Scenario& s, std::string_view key) {
    const scenario::Offer* offer = scenario::offer_of(s, key);
    if (offer == nullptr) return {};
    std::vector<double> numbers = offer->values;
    if (offer->bounds) numbers.assign(offer->bounds->begin(), offer->bounds->end());
    std::sort(numbers.begin(), numbers.end());
    return numbers;
}

// The shortest offered period with room for an exposure; the longest where none has. Those of the sensor where it
// offers none. [us]
double period_for(const Scenario& s, double exposure_us) {
    const std::vector<double> offered = numbers_offered(s, "exposure.period_us");
    const double needed = exposure_us * static_cast<double>(exposures_in_period(s));
    const scenario::Offer* offer = scenario::offer_of(s, "exposure.period_us");
    if (offered.empty()) return s.exposure.period[1] / us;
    if (offer->bounds) return std::clamp(std::max(needed, s.exposure.period[0] / us), offered.front(), offered.back());
    for (const double period : offered) {
        if (period >= needed && period >= s.exposure.period[0] / us) return period;
    }
    return offered.back();
}

}  // namespace

std::optional<Change> suited_exposure_of_user(const Scenario& s, double peak_share, double exposure) {
    const std::vector<double> offered = numbers_offered(s, "exposure.exposure_us");
    if (offered.empty()) return std::nullopt;
    const double wanted = std::clamp(exposure * s.exposure.level / peak_share / us, offered.front(), offered.back());
    constexpr double same = 0.3;
    if (std::abs(wanted * us / exposure - 1.0) < same) return std::nullopt;
    const double period = period_for(s, wanted);
    if (offers_word_of(s, "exposure.mode", "automatic")) {
        const double shortest = std::min(wanted, s.exposure.exposure / us);
        const double first = std::min(period, s.exposure.period[0] / us);
        return Change{fmt::format("let the exposure follow the light, from {:.4g} us on", shortest),
                      "exposure",
                      {"exposure.mode=automatic", fmt::format("exposure.exposure_us={:.6g}", shortest),
                       fmt::format("exposure.period_us=[{:.6g}, {:.6g}]", first, period)},
                      0.0,
                      0};
    }
    return Change{fmt::format("expose for {:.4g} us", wanted),
                  "exposure",
                  {fmt::format("exposure.exposure_us={:.6g}", wanted),
                   fmt::format("exposure.period_us=[{:.6g}, {:.6g}]", period, period)},
                  0.0,
                  0};
}

namespace {

void UserChanges::exposures() {
    if (const auto change = suited_exposure_of_user(s_, result_.signal.peak_share, result_.timing.exposure)) {
        list_.push_back(*change);
    }
    if (s_.exposure.mode == scenario::ExposureMode::automatic && offers_word_of(s_, "exposure.mode", "fixed") &&
        measure::is_moving_series(s_)) {
        add("exposure", "keep the exposure fixed while the surface changes", {"exposure.mode=fixed"});
    }
}

void UserChanges::averages() {
    std::vector<double> longer;
    for (const double count : numbers_offered(s_, "reading.average")) {
        scenario::Reading reading = s_.reading;
        reading.average = static_cast<std::int64_t>(count);
        const double response = static_cast<double>(reading::step_response_readings(reading)) * result_.timing.period;
        if (reading.average > s_.reading.average && response <= s_.requirement.response) longer.push_back(count);
    }
    const auto add_average = [this](double count) {
        const auto number = static_cast<std::int64_t>(count);
        add("average", fmt::format("average {} readings", number),
            {fmt::format("reading.average={}", number), fmt::format("run.readings={}", 8 * number + 1024)});
    };
    if (longer.size() > 2) add_average(longer[longer.size() - 3]);
    if (!longer.empty()) add_average(longer.back());
    if (measure::is_moving_series(s_) && s_.reading.average > 1) {
        add("average", "take every reading by itself: the output follows sooner", {"reading.average=1"});
    }
    const std::vector<double> medians = numbers_offered(s_, "reading.median");
    if (s_.reading.median == 1 && std::find(medians.begin(), medians.end(), 5.0) != medians.end()) {
        add("median", "take the median of 5 readings against single bad ones", {"reading.median=5"});
    }
}

void UserChanges::peaks() {
    const bool faces = s_.target.shape == scenario::ShapeKind::plate || s_.target.made_of.volume;
    if (faces && s_.reading.choose.rule != scenario::PeakRule::nearest &&
        offers_word_of(s_, "reading.choose", "nearest")) {
        add("peak", "count the nearest peak", {"reading.choose=nearest"});
    }
    const std::vector<double> thresholds = numbers_offered(s_, "reading.threshold");
    if (!thresholds.empty() && thresholds.front() < s_.reading.threshold) {
        add("threshold", "accept fainter peaks", {fmt::format("reading.threshold={:.6g}", thresholds.front())});
    }
    if (const scenario::Offer* offer = scenario::offer_of(s_, "reading.calibrated_on")) {
        for (const std::string& reference : offer->words) {
            if (reference == s_.reading.calibrated_on) continue;
            add("reference", "use the sensor's calibration on " + reference, {"reading.calibrated_on=" + reference});
        }
    }
}

void UserChanges::mounting() {
    const scenario::Pair tilt{s_.mount.tilt[0] / degree, s_.mount.tilt[1] / degree};
    const auto add_tilt = [this](const std::string& words, double in_plane, double out_of_plane) {
        add("mount", words_of_turn(words, s_, {in_plane * degree, out_of_plane * degree}),
            {fmt::format("mount.tilt_deg=[{:.6g}, {:.6g}]", in_plane, out_of_plane)});
    };
    // Half way between beam and receiver: there a mirror sends one into the other.
    const double between = 0.5 * (s_.emitter.angle + s_.receiver.angle) / degree;
    constexpr double same = 1.0;
    const bool array = scenario::abilities_of(s_.principle).array;
    if (array && shines() && std::abs(tilt[0] + between) > same) {
        add_tilt(fmt::format("tilt the whole sensor by {:.3g} deg, so that the part's mirrored light meets the lens",
                             -between),
                 -between, 0.0);
    }
    for (const double turn : {10.0, -10.0}) {
        add_tilt(fmt::format("turn the sensor by {:g} deg in its plane", turn), tilt[0] + turn, tilt[1]);
    }
    add_tilt("turn the sensor by 10 deg out of its plane", tilt[0], tilt[1] + 10.0);
}

// A quarter turn about the beam turns edges, axes and lay together.
void UserChanges::orientation() {
    using scenario::ShapeKind;
    const scenario::Target& t = s_.target;
    const auto turned = [](scenario::Direction d) { return d == scenario::Direction::across ? "parallel" : "across"; };
    std::vector<std::string> settings;
    std::string words = "turn the sensor by 90 deg about its beam";
    if (t.shape == ShapeKind::step) {
        settings.push_back(fmt::format("target.step.edge={}", turned(t.step.edge)));
        words += ", along the edge";
    } else if (t.shape == ShapeKind::cylinder) {
        settings.push_back(fmt::format("target.cylinder.axis={}", turned(t.cylinder.axis)));
    } else if (t.shape == ShapeKind::groove) {
        settings.push_back(fmt::format("target.groove.axis={}", turned(t.groove.axis)));
        words += ", along the groove";
    } else if (t.shape == ShapeKind::wave) {
        settings.push_back(fmt::format("target.wave.axis={}", turned(t.wave.axis)));
    }
    const auto [along, across] = t.made_of.roughness.rms_slope;
    if (shines() && along != across) {
        settings.push_back(fmt::format("target.lay_deg={:.6g}", t.lay / degree + (t.lay > 0.0 ? -90.0 : 90.0)));
        words += words_of_quarter_turn(s_);
    }
    if (!settings.empty()) add("orientation", words, std::move(settings));
}

void UserChanges::place() {
    const auto [near, far] = s_.mount.range;
    constexpr double worth = 0.1;
    if (std::abs(s_.target.displacement) < worth * (far - near)) return;
    add("distance", "move the sensor until the part is at its reference point", {"target.displacement_mm=0"});
}

void UserChanges::coat() {
    std::vector<std::string> settings{"target.material=matt-paint-light-grey"};
    if (s_.target.shape == scenario::ShapeKind::plate) settings.emplace_back("target.shape=plane");
    add("coat", "spray the part with a matt light coat, where it is read", std::move(settings), 1);
}

void UserChanges::surroundings() {
    constexpr double little = 0.1;
    if (result_.signal.lamps > little * result_.signal.peak && s_.surroundings.illuminance > 0.0) {
        add("shade", "a shade that leaves a tenth of the ambient light",
            {fmt::format("surroundings.illuminance_lx={:.6g}", 0.1 * s_.surroundings.illuminance)});
    }
    for (const Change& change : changes_around(s_)) add(change.kind, change.words, change.settings);
    const double left = 0.25 * s_.uncertainty.temperature;
    if (left > 0.0) {
        add("zero", fmt::format("let the sensor warm up, and set its zero whenever it has warmed by {:.3g} K", left),
            {fmt::format("uncertainty.temperature_K={:.6g}", left)});
    }
}

void UserChanges::other_sensors() {
    for (const std::string& name : scenario::sensor_names()) {
        if (name == s_.sensor) continue;
        add("sensor", "another sensor of the shelf: " + name, {"sensor=" + name}, 1);
        list_.back().other_sensor = true;
    }
}

std::vector<Change> UserChanges::all() {
    exposures();
    averages();
    if (scenario::abilities_of(s_.principle).array) {
        peaks();
        orientation();
    }
    mounting();
    place();
    surroundings();
    for (Change& change : instrument_changes_of_user(s_, result_)) list_.push_back(std::move(change));
    coat();
    other_sensors();
    return std::move(list_);
}

}  // namespace

std::vector<Change> changes_of_user(const Scenario& scenario, const measure::ReadResult& result) {
    return UserChanges(scenario, result).all();
}

}  // namespace spotwright::study
