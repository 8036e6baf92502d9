#include "sim/study/sheet_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/measure/read.hpp"
#include "sim/scenario/reader.hpp"

namespace spotwright::study {

namespace {

constexpr std::string_view at_prefix = "tile-at-";
constexpr std::string_view at_suffix = "us";

scenario::Scenario tile_of(const Candidate& sensor) {
    const bool specular = sensor.scenario.emitter.angle != 0.0;
    scenario::Scenario s = sensor.scenario;
    if (!specular && s.target.material != "white-ceramic") {
        s = scenario::with_settings(s, std::vector<std::string>{"target.material=white-ceramic"});
    }
    return s;
}

// The sensor as it stands, before the part of a scenario of its own.
sensor::Setup before(const scenario::Scenario& s, const Candidate& sensor) {
    if (s.target.material != sensor.scenario.target.material) return sensor::with_part(*sensor.setup, s);
    sensor::Setup setup = *sensor.setup;
    std::visit([&s](auto& each) { each.scenario = s; }, setup);
    return setup;
}

// Largest share of a well that the tile fills; none where there are no wells. [1]
std::optional<double> signal_of(const sensor::Setup& setup) {
    const auto of_array = [](const sensor::TriangulationSetup& each) {
        const sensor::Pose pose = sensor::make_pose(each, 0.0, 1);
        return std::optional(std::min(1.0, sensor::expected_peak(pose) / each.scenario.detector.full_well));
    };
    const auto timed = [](const sensor::FlightSetup& each) -> std::optional<double> {
        if (!scenario::abilities_of(each.scenario.principle).exposure) return std::nullopt;
        const double brightest = sensor::brightest_bucket(sensor::make_flight_pose(each, 0.0));
        return std::min(1.0, brightest / each.scenario.detector.full_well);
    };
    return std::visit(base::Cases{of_array, timed}, setup);
}

BenchStatistics still_statistics(const scenario::Scenario& s, const Candidate& sensor) {
    const sensor::Setup setup = before(s, sensor);
    return {single_scatter(setup), signal_of(setup)};
}

// Speckle has models of its own.
scenario::SpeckleModel speckle_model_of(const scenario::Principle& principle) {
    return std::visit(base::Cases{[](scenario::Triangulation) { return scenario::SpeckleModel::coherent; },
                                  [](scenario::PhaseShift) { return scenario::SpeckleModel::statistical; },
                                  [](scenario::Pulsed) { return scenario::SpeckleModel::statistical; }},
                      principle);
}

// On some patches.
BenchStatistics moved_statistics(scenario::Scenario s, const Candidate& sensor) {
    constexpr std::int64_t patches = 64;
    s.run.speckle = speckle_model_of(s.principle);
    s.run.patches = patches;
    s.run.readings = 4 * patches;
    const sensor::Setup setup = before(s, sensor);
    const measure::ReadResult result = measure::read(setup, {1, {}, {}});
    if (!result.speckle) return {};
    return {result.speckle->replaced_deviation, std::nullopt};
}

struct Miss {
    double square = 0.0;  // in standard uncertainties
    double largest = 0.0;
};

void add_miss(std::optional<double> measured, std::optional<double> predicted, double error, Miss& miss) {
    if (!measured || *measured <= 0.0) return;
    constexpr double hopeless = 100.0;
    const double by = predicted && *predicted > 0.0 ? std::abs(std::log(*measured / *predicted)) / error : hopeless;
    miss.square += by * by;
    miss.largest = std::max(miss.largest, by);
}

Miss miss_of(const BenchMeasured& log, const BenchStatistics& predicted) {
    const BenchError error = bench_error(log.task);
    Miss miss;
    add_miss(log.statistics.scatter, predicted.scatter, error.scatter, miss);
    add_miss(log.statistics.signal, predicted.signal, error.signal, miss);
    return miss;
}

double settled_exposure(const sensor::Setup& setup) {
    return std::visit(
        base::Cases{
            [](const sensor::TriangulationSetup& each) { return sensor::make_pose(each, 0.0, 1).timing.exposure; },
            [](const sensor::FlightSetup& each) { return sensor::make_flight_pose(each, 0.0).timing.exposure; }},
        setup);
}

// Exposures to look at: half of what suits the middle sensor, and a sixteenth of that, in two digits, as far as the
// sensor offers them.
std::vector<BenchTask> tasks_for(const std::vector<Candidate>& members) {
    std::vector<BenchTask> tasks{{BenchTask::Kind::still, 0.0}, {BenchTask::Kind::moved, 0.0}};
    std::vector<double> suiting;
    for (const Candidate& member : members) {
        if (!scenario::abilities_of(member.scenario.principle).exposure) return tasks;
        suiting.push_back(settled_exposure(before(tile_of(member), member)));
    }
    constexpr double dim = 16.0;
    const double shortest = members.front().scenario.exposure.exposure;
    const double bright = std::max(shortest, 0.5 * spread_of(suiting)->median);
    tasks.push_back({BenchTask::Kind::exposure, scenario::stated(bright, base::us, 2).middle()});
    if (bright / dim >= shortest) {
        tasks.push_back({BenchTask::Kind::exposure, scenario::stated(bright / dim, base::us, 2).middle()});
    }
    return tasks;
}

std::optional<BenchWorth> worth_of(const BenchTask& task, std::string_view statistic, double error,
                                   const std::vector<double>& values) {
    constexpr std::size_t enough = 2;
    if (values.size() < enough) return std::nullopt;
    double sum = 0.0;
    double squares = 0.0;
    for (const double value : values) {
        sum += std::log(value);
        squares += std::log(value) * std::log(value);
    }
    const auto count = static_cast<double>(values.size());
    const double variance = std::max(0.0, (squares - sum * sum / count) / (count - 1.0));
    return BenchWorth{task, statistic, *spread_of(values), std::sqrt(variance) / error};
}

[[noreturn]] void reject_logs(const std::vector<BenchMeasured>& logs,
                              const std::vector<std::vector<BenchStatistics>>& predicted) {
    std::vector<base::Problem> problems;
    for (std::size_t l = 0; l < logs.size(); ++l) {
        std::vector<double> scatters;
        std::vector<double> signals;
        for (const auto& member : predicted) {
            if (member[l].scatter) scatters.push_back(*member[l].scatter);
            if (member[l].signal) signals.push_back(*member[l].signal);
        }
        base::SourceLocation place;
        place.file = logs[l].file;
        place.key = name_of(logs[l].task);
        std::string message = "no sensor that fits the sheet explains the logs";
        std::string allowed;
        if (logs[l].statistics.scatter && !scatters.empty()) {
            const Spread spread = *spread_of(scatters);
            message += fmt::format("; scatter {}", base::length_text(*logs[l].statistics.scatter, 2));
            allowed = fmt::format("the sensors predict a scatter of {} to {}", base::length_text(spread.least, 2),
                                  base::length_text(spread.greatest, 2));
        }
        if (logs[l].statistics.signal && !signals.empty()) {
            const Spread spread = *spread_of(signals);
            message += fmt::format("; signal {:.3g}", *logs[l].statistics.signal);
            allowed += fmt::format("{}a signal of {:.3g} to {:.3g}", allowed.empty() ? "the sensors predict " : ", ",
                                   spread.least, spread.greatest);
        }
        problems.push_back({place, message, allowed, "is it the tile, at the reference distance, not averaged?"});
    }
    throw base::ScenarioError(std::move(problems));
}

}  // namespace

std::string name_of(const BenchTask& task) {
    switch (task.kind) {
        case BenchTask::Kind::still:
            return "tile-still";
        case BenchTask::Kind::moved:
            return "tile-moved";
        case BenchTask::Kind::exposure:
            break;
    }
    return fmt::format("{}{:.6g}{}", at_prefix, task.exposure / base::us, at_suffix);
}

BenchTask bench_task(const std::string& name) {
    if (name == "tile-still") return {BenchTask::Kind::still, 0.0};
    if (name == "tile-moved") return {BenchTask::Kind::moved, 0.0};
    if (name.starts_with(at_prefix) && name.ends_with(at_suffix)) {
        std::string_view number(name);
        number.remove_prefix(at_prefix.size());
        number.remove_suffix(at_suffix.size());
        const std::optional<double> exposure = base::number_of(number);
        constexpr double longest = 1e7;
        if (exposure && *exposure > 0.0 && *exposure < longest) {
            return {BenchTask::Kind::exposure, *exposure * base::us};
        }
    }
    base::SourceLocation place;
    place.key = "--log";
    throw base::ScenarioError(
        {{place, "no such measurement: " + base::printable(name),
          "tile-still=FILE, tile-moved=FILE or tile-at-2.5us=FILE, with the exposure in us", ""}});
}

std::string in_words(const BenchTask& task) {
    switch (task.kind) {
        case BenchTask::Kind::still:
            return "white tile at the reference distance, at rest, automatic exposure";
        case BenchTask::Kind::moved:
            return "white tile at the reference distance, moved sideways by more than the spot between readings";
        case BenchTask::Kind::exposure:
            break;
    }
    return fmt::format("white tile at the reference distance, at rest, fixed exposure of {:.3g} us",
                       task.exposure / base::us);
}

// Scatter of a still tile differs by some 10 % from patch to patch, by its frozen speckle. Scatter of a moved one is
// known to 1 / sqrt(2 n), n patches; 64 of the model and 256 or so of a log give 10 %. The reflectance of a tile is
// known to 5 %. All of these: common practice.
BenchError bench_error(const BenchTask&) {
    return {};
}

BenchStatistics predict(const Candidate& sensor, const BenchTask& task) {
    scenario::Scenario s = tile_of(sensor);
    switch (task.kind) {
        case BenchTask::Kind::still:
            return still_statistics(s, sensor);
        case BenchTask::Kind::moved:
            return moved_statistics(s, sensor);
        case BenchTask::Kind::exposure:
            break;
    }
    s.exposure.mode = scenario::ExposureMode::fixed;
    s.exposure.exposure = task.exposure;
    const double all = task.exposure * static_cast<double>(scenario::exposures_in_period(s));
    s.exposure.period[0] = std::max(s.exposure.period[0], all);
    return still_statistics(s, sensor);
}

std::vector<BenchWorth> bench_worths(const std::vector<Candidate>& members, int threads) {
    const std::vector<BenchTask> tasks = tasks_for(members);
    std::vector<std::vector<BenchStatistics>> predicted(members.size());
    base::parallel_for(static_cast<std::int64_t>(members.size()), threads, [&](std::int64_t i) {
        for (const BenchTask& task : tasks) {
            predicted[static_cast<std::size_t>(i)].push_back(predict(members[static_cast<std::size_t>(i)], task));
        }
    });
    std::vector<BenchWorth> worths;
    for (std::size_t t = 0; t < tasks.size(); ++t) {
        std::vector<double> scatters;
        std::vector<double> signals;
        for (const auto& member : predicted) {
            if (member[t].scatter) scatters.push_back(*member[t].scatter);
            if (member[t].signal) signals.push_back(*member[t].signal);
        }
        const BenchError error = bench_error(tasks[t]);
        if (const auto worth = worth_of(tasks[t], "scatter", error.scatter, scatters)) worths.push_back(*worth);
        // Automatic exposure keeps the signal where it wants it.
        if (tasks[t].kind != BenchTask::Kind::exposure) continue;
        if (const auto worth = worth_of(tasks[t], "signal", error.signal, signals)) worths.push_back(*worth);
    }
    std::stable_sort(worths.begin(), worths.end(),
                     [](const BenchWorth& a, const BenchWorth& b) { return a.ratio > b.ratio; });
    return worths;
}

std::vector<BenchVerdict> narrow(std::vector<Candidate>& members, const std::vector<BenchMeasured>& logs, int threads) {
    if (logs.empty()) return {};
    std::vector<std::vector<BenchStatistics>> predicted(members.size());
    base::parallel_for(static_cast<std::int64_t>(members.size()), threads, [&](std::int64_t i) {
        for (const BenchMeasured& log : logs) {
            predicted[static_cast<std::size_t>(i)].push_back(predict(members[static_cast<std::size_t>(i)], log.task));
        }
    });
    std::vector<BenchVerdict> verdicts;
    for (const BenchMeasured& log : logs) verdicts.push_back({log, {}, 0});
    constexpr double most = 3.0;
    std::vector<double> squares;
    for (const auto& member : predicted) {
        double square = 0.0;
        for (std::size_t l = 0; l < logs.size(); ++l) {
            const Miss miss = miss_of(logs[l], member[l]);
            square += miss.square;
            if (miss.largest <= most) continue;
            ++verdicts[l].contradicted;
            square = std::numeric_limits<double>::infinity();
        }
        squares.push_back(square);
    }
    const auto least = std::min_element(squares.begin(), squares.end());
    if (std::isinf(*least)) reject_logs(logs, predicted);
    const auto nearest = static_cast<std::size_t>(least - squares.begin());
    for (std::size_t l = 0; l < logs.size(); ++l) verdicts[l].best = predicted[nearest][l];
    std::vector<Candidate> kept;
    for (std::size_t i = 0; i < members.size(); ++i) {
        if (std::isfinite(squares[i])) kept.push_back(std::move(members[i]));
    }
    members = std::move(kept);
    return verdicts;
}

}  // namespace spotwright::study
