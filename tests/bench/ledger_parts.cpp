// Processor time of parts of the program, for the ledger: `spotwright_ledger_parts NAME...` prints one JSON object with
// the times of all runs of each part that is named, all parts without a name. Times are those of this process. [s]
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <ctime>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/measure/moving.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/sensor.hpp"

namespace {

using namespace spotwright;
using Settings = std::vector<std::string>;

double processor_time() {
    timespec now{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

// Processor time of one call, over and over: five runs at least, more while they are short.
std::vector<double> times_of(const std::function<void()>& work) {
    constexpr std::size_t fewest = 5;
    constexpr std::size_t most = 200;
    constexpr double enough = 1.0;  // s in all
    work();                         // caches and tables are warm, as they are in any long run
    std::vector<double> times;
    double sum = 0.0;
    while (times.size() < fewest || (sum < enough && times.size() < most)) {
        const double start = processor_time();
        work();
        times.push_back(processor_time() - start);
        sum += times.back();
    }
    return times;
}

scenario::Scenario scenario_of(const std::string& name, const Settings& settings) {
    const std::string folder = name == "still_target" ? "/tests/bench/" : "/scenarios/";
    return scenario::load(SPOTWRIGHT_SOURCE_DIR + folder + name + ".toml", settings);
}

std::vector<double> time_pose(const std::string& name, const Settings& settings) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario_of(name, settings), 1);
    const double displacement = setup.scenario.target.displacement;
    return times_of([&] { static_cast<void>(sensor::make_pose(setup, displacement, 1)); });
}

std::vector<double> time_instrument(const std::string& name) {
    const scenario::Scenario s = scenario_of(name, {});
    double lowest = 0.0;
    return times_of([&] { lowest += sensor::make_instrument(s, 1).calibration.lowest(); });
}

constexpr std::int64_t series_readings = 20'000;

// Time of one reading.
std::vector<double> time_still(const std::string& name, const Settings& settings) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario_of(name, settings), 1);
    const sensor::Pose pose = sensor::make_pose(setup, setup.scenario.target.displacement, 1);
    constexpr std::int64_t readings = 10 * series_readings;
    auto times = times_of([&] { static_cast<void>(measure::take_series(setup, pose, {readings, 1, {}, {}})); });
    for (double& t : times) t /= static_cast<double>(readings);
    return times;
}

std::vector<double> time_moving(const std::string& name, const Settings& settings) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario_of(name, settings), 1);
    auto times = times_of([&] { static_cast<void>(measure::take_moving_series(setup, {series_readings, 1, {}, {}})); });
    for (double& t : times) t /= static_cast<double>(series_readings);
    return times;
}

// The same without what a series begins with, its images for the most part: what a longer series takes more.
std::vector<double> time_moving_onward(const std::string& name, const Settings& settings) {
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(scenario_of(name, settings), 1);
    constexpr std::int64_t more = 10 * series_readings;
    const auto take = [&](std::int64_t readings) {
        const double start = processor_time();
        static_cast<void>(measure::take_moving_series(setup, {readings, 1, {}, {}}));
        return processor_time() - start;
    };
    constexpr int runs = 9;
    std::vector<double> times;
    take(series_readings);  // caches and tables are warm
    for (int i = 0; i < runs; ++i) {
        const double begin = take(series_readings);
        times.push_back((take(series_readings + more) - begin) / static_cast<double>(more));
    }
    return times;
}

struct Part {
    std::string name;
    std::function<std::vector<double>()> times;
};

std::vector<Part> all_parts() {
    const Settings wide{"emitter.waist_radius_um=[55,55]", "exposure.exposure_us=3.5", "target.displacement_mm=0"};
    const Settings painted{"target.material=black-glossy-paint", "target.tilt_deg=[10,0]"};
    return {
        {"pose_matt", [] { return time_pose("01-white-tile", {}); }},
        {"pose_polished", [] { return time_pose("08-polished-ring-specular", {}); }},
        {"pose_glossy_tilted", [=] { return time_pose("01-white-tile", painted); }},
        {"pose_plate", [] { return time_pose("14-clear-cover", {}); }},
        {"pose_translucent", [] { return time_pose("15-translucent-cap", {}); }},
        {"pose_groove", [] { return time_pose("19-shiny-groove", {"run.model=spot"}); }},
        {"instrument_tile", [] { return time_instrument("01-white-tile"); }},
        {"instrument_mirror", [] { return time_instrument("08-polished-ring-specular"); }},
        {"still_narrow", [] { return time_still("still_target", {}); }},
        {"still_15px", [=] { return time_still("still_target", wide); }},
        {"still_unmoved", [] { return time_still("27-vibrating-plate", {}); }},
        {"moving_vibrating", [] { return time_moving("27-vibrating-plate", {}); }},
        {"moving_vibrating_onward", [] { return time_moving_onward("27-vibrating-plate", {}); }},
        {"moving_passing_onward",
         [] { return time_moving_onward("01-white-tile", {"motion.across_mm_per_s=[50,0]"}); }},
        {"moving_passing", [] { return time_moving("01-white-tile", {"motion.across_mm_per_s=[50,0]"}); }},
    };
}

}  // namespace

int main(int argc, char** argv) {
    const std::vector<std::string> wanted(argv + 1, argv + argc);
    nlohmann::json result = nlohmann::json::object();
    try {
        for (const Part& part : all_parts()) {
            if (!wanted.empty() && std::find(wanted.begin(), wanted.end(), part.name) == wanted.end()) continue;
            result[part.name] = part.times();
        }
    } catch (const base::Error& error) {
        fmt::print(stderr, "{}\n", error.what());
        return 2;
    }
    fmt::print("{}\n", result.dump());
    return 0;
}
