#include "bindings/web/engine/look.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/array.hpp"
#include "sim/drawing/array_reading.hpp"
#include "sim/drawing/profile_words.hpp"
#include "sim/record/json_number.hpp"
#include "sim/record/text.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::us;
using drawing::ArrayReading;
using reading::Validity;

std::string why_not_chosen(const scenario::PeakChoice& choice, const ArrayReading& array, std::size_t number) {
    const std::size_t last = array.peaks.size() - 1;
    switch (choice.rule) {
        case scenario::PeakRule::strongest:
            return "another peak is higher";
        case scenario::PeakRule::nearest:
            return fmt::format("peak 0 is nearer to the sensor than peak {}", number);
        case scenario::PeakRule::farthest:
            return fmt::format("peak {} is farther from the sensor than peak {}", last, number);
        case scenario::PeakRule::index:
            return fmt::format("the peak with index {} is asked for", choice.index);
    }
    return {};
}

std::string why_chosen(const scenario::PeakChoice& choice, const ArrayReading& array) {
    if (array.peaks.size() == 1) return "the only peak above the threshold";
    switch (choice.rule) {
        case scenario::PeakRule::strongest:
            return "the highest peak";
        case scenario::PeakRule::nearest:
            return "the peak nearest to the sensor";
        case scenario::PeakRule::farthest:
            return "the peak farthest from the sensor";
        case scenario::PeakRule::index:
            return fmt::format("index {} is asked for", choice.index);
    }
    return {};
}

Json peak_json(const sensor::TriangulationSetup& setup, const ArrayReading& array, std::size_t number) {
    const reading::LocatedPeak& peak = array.peaks[number];
    const bool located = peak.spot.validity == Validity::valid;
    const auto displacement =
        located ? setup.instrument.calibration.displacement(peak.spot.position) : std::optional<double>();
    const Validity validity = located && !displacement ? Validity::out_of_range : peak.spot.validity;
    const scenario::PeakChoice& choice = setup.scenario.reading.choose;
    return {{"first_px", peak.window.first},
            {"last_px", peak.window.last},
            {"highest_px", peak.window.highest},
            {"height_e", array.net[peak.window.highest]},
            {"position_px", located ? Json(peak.spot.position) : Json()},
            {"reading_mm", record::json_number(displacement, mm)},
            {"validity", reading::name_of(validity)},
            {"chosen", peak.chosen},
            {"why", peak.chosen ? why_chosen(choice, array) : why_not_chosen(choice, array, number)}};
}

// Expected signal above background, as `drawing::analyse` has it for a whole reading.
std::vector<float> expected_signal(const sensor::Pose& pose) {
    std::vector<float> signal(pose.expected.electrons.size());
    for (std::size_t k = 0; k < signal.size(); ++k) {
        const double level = pose.expected.digitiser.black_level - static_cast<double>(pose.background[k]);
        signal[k] = static_cast<float>(level / pose.expected.digitiser.gain) + pose.expected.electrons[k] +
                    pose.expected.offset[k];
    }
    return signal;
}

Answer look_at_array(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, const sensor::Pose& smooth,
                     std::int64_t index) {
    const scenario::Scenario& s = setup.scenario;
    ArrayReading array = drawing::analyse(setup, pose, index);
    Json peaks = Json::array();
    for (std::size_t i = 0; i < array.peaks.size(); ++i) peaks.push_back(peak_json(setup, array, i));
    const bool valid = array.result.validity == Validity::valid;
    const receiver::Receiver& r = setup.instrument.receiver;
    const double background =
        (pose.ambient_rate + detector::dark_current_at(s.detector, s.surroundings.temperature)) * pose.timing.exposure;
    Answer answer;
    answer.json = {
        {"kind", "array"},
        {"threshold_e", array.threshold},
        {"saturation_e", array.saturation},
        {"full_well_e", array.full_well},
        {"background_e", background},
        {"peaks", peaks},
        {"range_px", {record::json_number(array.near_end), record::json_number(array.far_end)}},
        {"truth_px", record::json_number(array.truth)},
        {"position_px", valid ? Json(array.result.position) : Json()},
        {"geometry_mm",
         valid ? Json(receiver::displacement_at(r, receiver::u_of_pixel(r, array.result.position)) / mm) : Json()}};
    answer.json.update(
        reading_json(array.result, drawing::explanation(setup, pose, array), pose.true_displacement, pose.timing));
    answer.arrays = {{{"expected_e"}, std::move(array.expected)},
                     {{"smooth_e"}, expected_signal(smooth)},
                     {{"frame_e"}, std::move(array.net)},
                     {{"saturated"}, std::move(array.saturated)}};
    return answer;
}

// The pose at another patch of the surface, exposed as the still one.
sensor::Pose at_patch(const ArrayPose& pose, std::int64_t patch) {
    if (!pose.speckle || patch == 0) return pose.still;
    receiver::SpeckleWorkspace workspace =
        pose.speckle->plan ? receiver::make_workspace(*pose.speckle->plan) : receiver::SpeckleWorkspace{};
    sensor::Pose other = pose.still;
    other.profile.rate = sensor::under_pattern(
        pose.smooth.profile, sensor::pattern_at(*pose.speckle, pose.setup.scenario, patch, workspace));
    if (pose.setup.scenario.exposure.mode == scenario::ExposureMode::automatic) {
        sensor::settle_exposure(pose.setup, other);
    }
    sensor::expose_pose(pose.setup, other);
    return other;
}

Answer preview(Shelf& shelf, const scenario::Scenario& s, std::int64_t index) {
    const sensor::TriangulationSetup setup = shelf.set_up_for_preview(s);
    const sensor::Pose pose = sensor::make_coarse_pose(setup, s.target.displacement);
    return look_at_array(setup, pose, pose, index);
}

}  // namespace

Json reading_json(const sensor::RawReading& reading, const std::string& why, double truth,
                  const detector::Timing& timing) {
    const bool valid = reading.validity == Validity::valid;
    return {{"reading_mm", valid ? Json(reading.displacement / mm) : Json()},
            {"validity", reading::name_of(reading.validity)},
            {"reason", record::valid_utf8(why)},
            {"true_mm", truth / mm},
            {"exposure_us", timing.exposure / us},
            {"period_us", timing.period / us}};
}

Answer look_at(Shelf& shelf, const scenario::Scenario& s, const Json& question) {
    constexpr std::int64_t most = std::int64_t{1} << 40U;
    const std::int64_t index = whole_number(question, "index", 0, 0, most);
    const std::int64_t patch = whole_number(question, "patch", 0, 0, most);
    const bool fast = yes_or_no(question, "preview", false) && scenario::abilities_of(s.principle).array;
    Answer answer;
    double share = 1.0;
    if (fast) {
        answer = preview(shelf, s, index);
    } else {
        const GrowingPose growing =
            yes_or_no(question, "growing", false) ? shelf.pose_so_far(s) : GrowingPose{shelf.pose(s), 1.0};
        share = growing.share;
        answer =
            std::visit(base::Cases{[&](const ArrayPose& array) {
                                       return look_at_array(array.setup, at_patch(array, patch), array.smooth, index);
                                   },
                                   [&](const TimedPose& timed) { return look_at_timed(timed, index); }},
                       *growing.pose);
    }
    answer.json["preview"] = fast;
    answer.json["exact_model"] = !fast && share == 1.0;
    answer.json["rays_share"] = share;
    return answer;
}

}  // namespace spotwright::web
