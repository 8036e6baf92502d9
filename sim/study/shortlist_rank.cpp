// The order of a shelf before a job, and how far it hangs on data sheets.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <mutex>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/study/shortlist.hpp"

namespace spotwright::study {

using base::degree;
using scenario::Scenario;

namespace {

// Nearest miss first among those that nothing was computed of.
double miss_of(const RankedSensor& ranked) {
    if (ranked.shortcomings.empty()) return 0.0;
    const Shortcoming& first = ranked.shortcomings.front();
    return first.factor > 0.0 ? first.factor : std::numeric_limits<double>::infinity();
}

bool answers_in_time(const RankedSensor& ranked) {
    return ranked.shortcomings.empty() || ranked.shortcomings.front().kind != Shortfall::response;
}

bool ranks_before(const RankedSensor& a, const RankedSensor& b) {
    if (a.computed != b.computed) return a.computed;
    if (!a.computed) return miss_of(a) < miss_of(b);
    if (answers_in_time(a) != answers_in_time(b)) return answers_in_time(a);
    if (a.level != b.level) return a.level < b.level;
    if (a.margin != b.margin) return a.margin > b.margin;
    return miss_of(a) < miss_of(b);
}

// A job that says where the sensor stands asks for one that reads there.
void require_reach(const scenario::Job& job, const Shortlist& list) {
    const auto misses = [](const RankedSensor& ranked) {
        return !ranked.computed && !ranked.shortcomings.empty() &&
               ranked.shortcomings.front().kind == Shortfall::distance;
    };
    if (!job.at_one_place || list.sensors.empty()) return;
    if (!std::all_of(list.sensors.begin(), list.sensors.end(), misses)) return;
    const RankedSensor& nearest = list.sensors.front();
    base::SourceLocation place;
    place.file = job.file;
    place.key = "job.at_mm";
    throw base::ScenarioError(
        {{place,
          fmt::format("no sensor of the shelf reads at {:g} mm",
                      0.5 * (job.clearance[0] + job.clearance[1]) / base::mm),
          "a place within the range of a sensor",
          fmt::format("nearest: {} {}", base::printable(nearest.sensor.name), nearest.shortcomings.front().words)}});
}

// A sensor that fits the sheet, at a pose; what cannot be built or read is unreadable.
EnsembleMember member_at(const Scenario& pose, const std::vector<std::string>& member, double corrected) {
    EnsembleMember found;
    try {
        std::vector<std::string> settings = effort_settings(pose, Effort::ranking);
        settings.insert(settings.end(), member.begin(), member.end());
        const Outcome outcome = outcome_of(sensor::set_up(scenario::with_settings(pose, settings), 1), 1, corrected);
        found.level = outcome.level;
        found.valid_share = outcome.valid_share;
        found.expanded_uncertainty = outcome.expanded_uncertainty;
        found.obstacle = outcome.obstacle;
    } catch (const base::Error& error) {
        found.obstacle = error.what();
    }
    return found;
}

// All sensors that fit the sheet, where the one that was ranked is worst. None without an ensemble.
std::optional<EnsembleSpread> ensemble_behind(const scenario::Job& job, const RankedSensor& ranked,
                                              const ShortlistOptions& options) {
    if (!ranked.computed || !ranked.worst) return std::nullopt;
    const JobPose& worst = ranked.poses[*ranked.worst];
    const Scenario pose = scenario_of_pose(job, ranked, worst);
    const auto& sensors = pose.sensor_file.ensemble;
    if (sensors.empty()) return std::nullopt;
    const double corrected = sensor::excess_of_turned({ranked.setup.tilt, 0.0}, worst.displacement);
    std::vector<EnsembleMember> members(sensors.size());
    base::parallel_for(static_cast<std::int64_t>(sensors.size()), options.threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        members[k] = member_at(pose, sensors[k], corrected);
    });
    return spread_over(members);
}

}  // namespace

Shortlist shortlist(const scenario::Job& job, std::span<const Scenario> shelf, const ShortlistOptions& options) {
    Shortlist list;
    list.sensors.resize(shelf.size());
    std::mutex mutex;
    std::int64_t done = 0;
    const auto count = static_cast<std::int64_t>(shelf.size());
    base::parallel_for(count, options.threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        list.sensors[k] = judge_sensor(job, shelf[k], options);
        const std::lock_guard lock(mutex);
        ++done;
        if (options.progress) options.progress(done, count);
    });
    for (RankedSensor& ranked : list.sensors) ranked.ensemble = ensemble_behind(job, ranked, options);
    std::stable_sort(list.sensors.begin(), list.sensors.end(), ranks_before);
    require_reach(job, list);
    return list;
}

Scenario scenario_of_pose(const scenario::Job& job, const RankedSensor& ranked, const JobPose& pose) {
    const scenario::JobPart& part = job.parts[pose.part];
    std::vector<std::string> settings{"sensor=" + scenario::toml_string(ranked.reference),
                                      fmt::format("mount.tilt_deg=[{:.9g}, 0]", ranked.setup.tilt / degree)};
    settings.insert(settings.end(), ranked.setup.settings.begin(), ranked.setup.settings.end());
    Scenario s = scenario::with_settings(part.scenario, settings);
    s.target.displacement = pose.displacement;
    s.target.tilt = pose.tilt;
    return s;
}

}  // namespace spotwright::study
