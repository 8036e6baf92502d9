#include "sim/study/sweep.hpp"

#include <algorithm>
#include <chrono>
#include <limits>
#include <memory>
#include <numeric>
#include <optional>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_keys.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

namespace {

constexpr double missing_value = std::numeric_limits<double>::quiet_NaN();

// Whether a sensor built for one value of an axis serves for all others.
bool leaves_sensor_as_it_is(const SweepAxis& axis) {
    return !scenario::is_sensor_key(std::string_view(axis.key).substr(0, axis.key.find('[')));
}

// The order in which points are worked off: what asks for another sensor changes slowest.
class WorkOrder {
public:
    explicit WorkOrder(const Sweep& sweep) : sweep_(sweep), axes_(sweep.axes.size()) {
        std::iota(axes_.begin(), axes_.end(), std::size_t{0});
        std::stable_partition(axes_.begin(), axes_.end(),
                              [&](std::size_t i) { return !leaves_sensor_as_it_is(sweep.axes[i]); });
        for (const SweepAxis& axis : sweep.axes) {
            if (leaves_sensor_as_it_is(axis)) per_sensor_ *= static_cast<std::int64_t>(axis.values.size());
        }
    }

    [[nodiscard]] std::int64_t point_at(std::int64_t place) const {
        std::vector<std::int64_t> at(axes_.size());
        for (std::size_t i = axes_.size(); i-- > 0;) {
            const auto count = static_cast<std::int64_t>(sweep_.axes[axes_[i]].values.size());
            at[axes_[i]] = place % count;
            place /= count;
        }
        std::int64_t point = 0;
        for (std::size_t i = 0; i < at.size(); ++i) {
            point = point * static_cast<std::int64_t>(sweep_.axes[i].values.size()) + at[i];
        }
        return point;
    }

    [[nodiscard]] std::int64_t sensor_at(std::int64_t place) const { return place / per_sensor_; }

private:
    const Sweep& sweep_;
    std::vector<std::size_t> axes_;  // slowest first
    std::int64_t per_sensor_ = 1;    // successive places
};

// What hinders, in one line.
std::string obstacle_of(const base::ScenarioError& error) {
    std::string text;
    for (const base::Problem& problem : error.problems()) {
        if (!text.empty()) text += "; ";
        if (!problem.location.key.empty()) text += problem.location.key + ": ";
        text += problem.message;
    }
    return text;
}

// Runs a step that may be impossible. @return Why; empty if it succeeded.
template <class Work>
std::string obstacle_met(const Work& work) {
    try {
        work();
    } catch (const base::ScenarioError& error) {
        return obstacle_of(error);
    } catch (const base::DomainError& error) {
        return error.what();
    }
    return {};
}

// A sensor, or why it cannot be built.
struct BuiltSensor {
    std::int64_t number = 0;
    std::optional<sensor::Sensor> sensor;
    std::string obstacle;
};

// A point in work.
struct PointInWork {
    std::int64_t point = 0;
    std::int64_t sensor = 0;
    std::optional<scenario::Scenario> scenario;
    SweepPoint result;
};

class SweepRun {
public:
    SweepRun(const Sweep& sweep, const SweepOptions& options) : sweep_(sweep), options_(options), order_(sweep) {}

    void work_off(std::int64_t first, std::int64_t last);

private:
    std::vector<PointInWork> next_points(std::int64_t& place, std::int64_t last, std::size_t most) const;
    void make_scenarios(std::vector<PointInWork>& points) const;
    void build_sensors(const std::vector<PointInWork>& points);
    void read_points(std::vector<PointInWork>& points) const;

    const Sweep& sweep_;
    const SweepOptions& options_;
    WorkOrder order_;
    std::vector<BuiltSensor> sensors_;  // of the points in work, ascending
};

std::vector<PointInWork> SweepRun::next_points(std::int64_t& place, std::int64_t last, std::size_t most) const {
    std::vector<PointInWork> points;
    for (; place < last && points.size() < most; ++place) {
        const std::int64_t point = order_.point_at(place);
        if (options_.wanted && !options_.wanted(point)) continue;
        points.push_back({point, order_.sensor_at(place), std::nullopt, {}});
        points.back().result.values.assign(measure::sweep_quantities().size(), missing_value);
    }
    return points;
}

void SweepRun::make_scenarios(std::vector<PointInWork>& points) const {
    base::parallel_for(static_cast<std::int64_t>(points.size()), options_.threads, [&](std::int64_t i) {
        PointInWork& each = points[static_cast<std::size_t>(i)];
        each.result.obstacle = obstacle_met(
            [&] { each.scenario = scenario::with_settings(sweep_.scenario, settings_of(sweep_, each.point)); });
    });
}

// One for each number that a sound scenario asks for; those of points done before are given up.
void SweepRun::build_sensors(const std::vector<PointInWork>& points) {
    std::vector<BuiltSensor> kept;
    std::vector<const scenario::Scenario*> builds;  // null: stands already
    for (const PointInWork& each : points) {
        if (!each.scenario || (!kept.empty() && kept.back().number == each.sensor)) continue;
        const auto standing = std::find_if(sensors_.begin(), sensors_.end(),
                                           [&](const BuiltSensor& built) { return built.number == each.sensor; });
        const bool stands = standing != sensors_.end();
        kept.push_back(stands ? std::move(*standing) : BuiltSensor{each.sensor, std::nullopt, {}});
        builds.push_back(stands ? nullptr : &*each.scenario);
    }
    sensors_ = std::move(kept);
    const auto count = static_cast<std::int64_t>(sensors_.size());
    const int threads_each = count == 1 ? options_.threads : 1;
    base::parallel_for(count, options_.threads, [&](std::int64_t i) {
        BuiltSensor& built = sensors_[static_cast<std::size_t>(i)];
        const scenario::Scenario* of = builds[static_cast<std::size_t>(i)];
        if (of != nullptr)
            built.obstacle = obstacle_met([&] { built.sensor = sensor::make_sensor(*of, threads_each); });
    });
}

void SweepRun::read_points(std::vector<PointInWork>& points) const {
    const int threads_each = points.size() == 1 ? options_.threads : 1;
    base::parallel_for(static_cast<std::int64_t>(points.size()), options_.threads, [&](std::int64_t i) {
        PointInWork& each = points[static_cast<std::size_t>(i)];
        if (!each.scenario) return;
        const auto built =
            std::lower_bound(sensors_.begin(), sensors_.end(), each.sensor,
                             [](const BuiltSensor& b, std::int64_t number) { return b.number < number; });
        each.result.obstacle = built->obstacle;
        if (!built->sensor) return;
        each.result.obstacle = obstacle_met([&] {
            measure::ReadOptions options;
            options.threads = threads_each;
            const measure::ReadResult result = read(set_up(*built->sensor, *each.scenario), options);
            each.result.level = result.verdict.level;
            for (std::size_t q = 0; q < each.result.values.size(); ++q) {
                each.result.values[q] = measure::sweep_quantities()[q].value(result, *each.scenario);
            }
        });
        each.scenario.reset();
    });
}

// Points are handed out in blocks that take about a second, so that a run that is cut off has lost little and the cores
// seldom wait for one another. No result depends on their size.
void SweepRun::work_off(std::int64_t first, std::int64_t last) {
    using Clock = std::chrono::steady_clock;
    constexpr std::chrono::milliseconds short_block(500);
    constexpr std::chrono::milliseconds long_block(2000);
    constexpr std::size_t least = 4;
    constexpr std::size_t most = 1024;
    std::size_t size = least;
    for (std::int64_t place = first; place < last;) {
        const Clock::time_point begin = Clock::now();
        std::vector<PointInWork> points = next_points(place, last, size);
        make_scenarios(points);
        build_sensors(points);
        read_points(points);
        for (const PointInWork& each : points) {
            if (options_.sink) options_.sink(each.point, each.result);
        }
        if (options_.progress) options_.progress(place - first, last - first);
        const auto taken = Clock::now() - begin;
        if (taken < short_block) size = std::min(most, 2 * size);
        if (taken > long_block) size = std::max(least, size / 2);
    }
}

}  // namespace

void run_sweep(const Sweep& sweep, std::int64_t first, std::int64_t last, const SweepOptions& options) {
    if (first < 0 || last < first || last > sweep.points) {
        throw base::DomainError("last point", static_cast<double>(last), "0 <= first <= last <= points");
    }
    SweepRun(sweep, options).work_off(first, last);
}

}  // namespace spotwright::study
