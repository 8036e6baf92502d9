#include "bindings/web/engine/readings.hpp"

#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/motion.hpp"
#include "sim/measure/series.hpp"
#include "sim/record/json_number.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::um, base::us;
using reading::Validity;

constexpr double none = std::numeric_limits<double>::quiet_NaN();

struct Wanted {
    std::int64_t first = 0;
    std::int64_t count = 0;
    bool moved = false;
};

struct Taken {
    std::vector<double> displacement_mm;
    std::vector<std::uint8_t> validity;
    double period = 0.0;  // [s]
    double truth = 0.0;   // [m]
};

void put(const sensor::RawReading& reading, Taken& taken) {
    const bool valid = reading.validity == Validity::valid;
    taken.displacement_mm.push_back(valid ? reading.displacement / mm : none);
    taken.validity.push_back(static_cast<std::uint8_t>(reading.validity));
}

Taken take(const ArrayPose& pose, const Wanted& wanted) {
    Taken taken;
    taken.period = pose.still.timing.period;
    taken.truth = pose.still.true_displacement;
    sensor::Scratch scratch;
    std::vector<sensor::RawReading> readings(static_cast<std::size_t>(wanted.count));
    const bool fresh = wanted.moved && pose.speckle;
    const sensor::Pose met =
        fresh ? sensor::moving_pose(pose.setup, pose.still, pose.smooth.profile, *pose.speckle) : sensor::Pose{};
    sensor::take_readings(pose.setup, fresh ? met : pose.still, wanted.first, scratch, readings);
    const measure::Disturbance disturbance(pose.setup);
    auto index = static_cast<double>(wanted.first);
    for (sensor::RawReading& reading : readings) {
        disturbance.add_to(reading, index * taken.period, pose.still.timing.exposure);
        put(reading, taken);
        index += 1.0;
    }
    return taken;
}

Taken take(const TimedPose& pose, const Wanted& wanted) {
    Taken taken;
    taken.period = pose.still.timing.period;
    taken.truth = pose.still.true_displacement;
    const scenario::Scenario& s = pose.setup.scenario;
    const bool fresh = wanted.moved && pose.speckles;
    std::vector<std::optional<sensor::FlightPose>> patches(static_cast<std::size_t>(s.run.patches));
    const measure::Disturbance disturbance(pose.setup);
    const double exposure = pose.still.timing.exposure * static_cast<double>(scenario::exposures_in_period(s));
    const auto put_disturbed = [&](sensor::RawReading reading, std::int64_t i) {
        disturbance.add_to(reading, static_cast<double>(i) * taken.period, exposure);
        put(reading, taken);
    };
    for (std::int64_t i = wanted.first; i < wanted.first + wanted.count; ++i) {
        if (!fresh) {
            put_disturbed(sensor::take_reading(pose.setup, pose.still, i), i);
            continue;
        }
        const std::size_t patch = measure::patch_met(s, i, patches.size());
        if (!patches[patch]) {
            patches[patch] = sensor::under_patch(pose.setup, pose.smooth, static_cast<std::int64_t>(patch) + 1);
        }
        put_disturbed(sensor::take_reading(pose.setup, *patches[patch], i), i);
    }
    return taken;
}

// A part that moves runs from time 0, whatever is wanted of it.
Taken take_on_the_move(const sensor::Setup& setup, const Wanted& wanted) {
    Taken taken;
    measure::SeriesOptions options;
    options.readings = wanted.first + wanted.count;
    options.threads = 1;
    std::int64_t seen = 0;
    double truth = 0.0;
    options.sink = [&](const measure::SeriesBlock& block) {
        taken.period = block.period;
        for (std::size_t k = 0; k < block.validity.size(); ++k) {
            if (block.first + static_cast<std::int64_t>(k) < wanted.first) continue;
            put({block.validity[k], 0.0, block.displacement[k], 0.0F, std::nullopt}, taken);
            if (block.moment.empty() || std::isnan(block.moment[k].truth)) continue;
            truth += block.moment[k].truth;
            ++seen;
        }
    };
    std::visit(base::Cases{[&](const sensor::TriangulationSetup& each) {
                               static_cast<void>(measure::take_moving_series(each, options));
                           },
                           [&](const sensor::FlightSetup& each) {
                               measure::require_supported_motion(each.scenario);
                               const sensor::FlightPose pose =
                                   sensor::make_flight_pose(each, measure::part_state_at(each.scenario, 0.0).along);
                               const bool speckles = each.scenario.run.speckle != scenario::SpeckleModel::off &&
                                                     pose.received.grains > 0.0;
                               static_cast<void>(measure::take_moving_series(each, pose.timing, speckles, options));
                           }},
               setup);
    taken.truth = seen > 0 ? truth / static_cast<double>(seen) : none;
    return taken;
}

Answer answer_of(Taken taken, std::int64_t first) {
    double sum = 0.0;
    double valid = 0.0;
    for (const double value : taken.displacement_mm) {
        if (std::isnan(value)) continue;
        sum += value;
        valid += 1.0;
    }
    const std::optional<double> mean = valid > 0.0 ? std::optional(sum / valid) : std::nullopt;
    double squares = 0.0;
    for (const double value : taken.displacement_mm) {
        if (!std::isnan(value)) squares += (value - *mean) * (value - *mean);
    }
    std::optional<double> deviation;
    if (valid > 1.0) deviation = std::sqrt(squares / (valid - 1.0)) * mm;
    Json words = Json::array();
    for (std::size_t i = 0; i < reading::validity_count; ++i) {
        words.push_back(reading::name_of(static_cast<Validity>(i)));
    }
    Answer answer;
    answer.json = {{"first", first},
                   {"validities", words},
                   {"period_us", taken.period / us},
                   {"true_mm", record::json_number(taken.truth, mm)},
                   {"mean_mm", record::json_number(mean)},
                   {"sd_um", record::json_number(deviation, um)},
                   {"valid_share", valid / static_cast<double>(taken.displacement_mm.size())}};
    answer.arrays = {{{"mm"}, std::move(taken.displacement_mm)}, {{"validity"}, std::move(taken.validity)}};
    return answer;
}

}  // namespace

Answer readings_of(Shelf& shelf, const scenario::Scenario& s, const Json& question) {
    constexpr std::int64_t most = 65536;
    constexpr std::int64_t last_first = std::int64_t{1} << 40U;
    const bool moves = measure::is_moving_series(s);
    const Wanted wanted{whole_number(question, "first", 0, 0, moves ? most : last_first),
                        whole_number(question, "count", 1, 1, most), yes_or_no(question, "moved", false)};
    if (moves) return answer_of(take_on_the_move(shelf.set_up(s), wanted), wanted.first);
    const std::shared_ptr<const AnyPose> pose = shelf.pose(s);
    return answer_of(std::visit([&wanted](const auto& each) { return take(each, wanted); }, *pose), wanted.first);
}

}  // namespace spotwright::web
