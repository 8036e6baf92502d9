#include "sim/study/ensemble.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/sensor_file.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/budget_lines.hpp"

namespace spotwright::study {

namespace {

// Fewer readings and patches than the scenario says, but some full windows of its average and median.
std::vector<std::string> effort_of(const scenario::Scenario& s, const EnsembleOptions& options) {
    constexpr std::int64_t windows = 8;
    constexpr std::int64_t most_rays = 200000;
    const std::int64_t least = windows * (s.reading.average + s.reading.median);
    return {fmt::format("run.readings={}", std::max(least, std::min(s.run.readings, options.readings))),
            fmt::format("run.patches={}", std::min(s.run.patches, options.patches)),
            fmt::format("run.rays={}", std::min(s.run.rays, most_rays))};
}

// The bound of a budget from its lines, as `budget` has it where its Monte Carlo agrees.
void judge_by_budget(const sensor::Setup& setup, double corrected_bias, EnsembleMember& member) {
    const std::vector<BudgetLine> lines = budget_lines(ErrorModel(setup), material_effects(setup, 1), 1);
    double bias = -corrected_bias;
    std::vector<Component> components;
    for (const BudgetLine& line : lines) {
        bias += line.bias;
        components.push_back(line.component);
    }
    member.expanded_uncertainty = std::abs(bias) + combine(components).expanded;
    member.level = measure::level_of(scenario_of(setup).requirement, member.valid_share, member.expanded_uncertainty);
}

EnsembleMember read_one(const scenario::Scenario& s, const EnsembleOptions& options) {
    EnsembleMember member;
    const sensor::Setup setup = sensor::set_up(s, 1);
    const measure::ReadResult result = measure::read(setup, {1, {}, {}});
    const double still = measure::valid_share(result.statistics);
    member.valid_share = result.speckle ? std::min(still, result.speckle->replaced_valid_share) : still;
    member.level = result.verdict.level;
    member.bias = result.bias;
    member.systematic = result.systematic;
    member.scatter = result.statistics.standard_deviation;
    member.replaced = result.speckle ? result.speckle->replaced_deviation : member.scatter;
    member.expanded_uncertainty = result.verdict.expanded_uncertainty;
    if (options.judgement == EnsembleJudgement::budget && member.expanded_uncertainty) {
        judge_by_budget(setup, options.corrected_bias, member);
    }
    return member;
}

std::string first_message(const base::ScenarioError& error) {
    return error.problems().empty() ? error.what() : error.problems().front().message;
}

EnsembleMember read_or_say_why(const scenario::Scenario& s, const EnsembleOptions& options) {
    EnsembleMember member;
    try {
        member = read_one(scenario::with_settings(s, effort_of(s, options)), options);
    } catch (const base::ScenarioError& error) {
        member = {};
        member.obstacle = first_message(error);
    } catch (const base::DomainError& error) {
        member = {};
        member.obstacle = error.what();
    }
    return member;
}

// A member's part in the spread, from a point of its sweep.
EnsembleMember member_of(const SweepPoint& point) {
    const auto quantities = measure::sweep_quantities();
    const auto value = [&](std::string_view name) -> std::optional<double> {
        for (std::size_t q = 0; q < quantities.size(); ++q) {
            if (quantities[q].name != name || std::isnan(point.values[q])) continue;
            return point.values[q] * base::unit_of(name).factor;
        }
        return std::nullopt;
    };
    EnsembleMember member;
    member.level = point.level;
    member.bias = value("bias_um");
    member.scatter = value("still_sd_um");
    member.replaced = value("replaced_sd_um");
    member.expanded_uncertainty = value("expanded_uncertainty_um");
    member.obstacle = point.obstacle;
    return member;
}

// A sensor of an ensemble in the scenario's place of the first, or why it cannot stand there.
struct Placed {
    std::optional<scenario::Scenario> scenario;
    std::string obstacle;
};

std::vector<Placed> placed_members(const scenario::Scenario& s) {
    std::vector<Placed> members;
    for (const std::vector<std::string>& settings : s.sensor_file.ensemble) {
        try {
            members.push_back({scenario::with_settings(s, settings), {}});
        } catch (const base::ScenarioError& error) {
            members.push_back({std::nullopt, first_message(error)});
        }
    }
    return members;
}

EnsembleMember hindered(const std::string& obstacle) {
    EnsembleMember member;
    member.obstacle = obstacle;
    return member;
}

// One result for each of so many members.
template <class Read>
std::vector<EnsembleMember> read_all(std::size_t size, const EnsembleOptions& options, const Read& read) {
    std::vector<EnsembleMember> results(size);
    const auto count = static_cast<std::int64_t>(size);
    std::mutex mutex;
    std::int64_t done = 0;
    base::parallel_for(count, options.threads, [&](std::int64_t i) {
        results[static_cast<std::size_t>(i)] = read(static_cast<std::size_t>(i));
        const std::lock_guard lock(mutex);
        ++done;
        if (options.progress) options.progress(done, count);
    });
    return results;
}

bool exchanges_sensor(const SweepAxis& axis) {
    return axis.key == "sensor" || axis.key.starts_with(scenario::design_prefix);
}

}  // namespace

std::optional<Spread> spread_of(std::vector<double> values) {
    if (values.empty()) return std::nullopt;
    std::sort(values.begin(), values.end());
    return Spread{values.front(), values[(values.size() - 1) / 2], values.back()};
}

EnsembleSpread spread_over(std::span<const EnsembleMember> members) {
    EnsembleSpread spread;
    spread.members = static_cast<std::int64_t>(members.size());
    std::array<std::vector<double>, 4> values;
    for (const EnsembleMember& member : members) {
        ++spread.levels.at(static_cast<std::size_t>(member.level));
        if (!member.obstacle.empty() && spread.hindered++ == 0) spread.first_obstacle = member.obstacle;
        const std::array of{member.bias, member.scatter, member.replaced, member.expanded_uncertainty};
        for (std::size_t i = 0; i < of.size(); ++i) {
            if (of.at(i)) values.at(i).push_back(*of.at(i));
        }
    }
    spread.bias = spread_of(values[0]);
    spread.scatter = spread_of(values[1]);
    spread.replaced = spread_of(values[2]);
    spread.expanded_uncertainty = spread_of(values[3]);
    return spread;
}

std::vector<EnsembleMember> read_members(std::span<const scenario::Scenario> members, const EnsembleOptions& options) {
    return read_all(members.size(), options, [&](std::size_t i) { return read_or_say_why(members[i], options); });
}

std::vector<EnsembleMember> read_ensemble(const scenario::Scenario& scenario, const EnsembleOptions& options) {
    const std::vector<Placed> members = placed_members(scenario);
    return read_all(members.size(), options, [&](std::size_t i) {
        return members[i].scenario ? read_or_say_why(*members[i].scenario, options) : hindered(members[i].obstacle);
    });
}

std::vector<EnsembleSpread> sweep_ensemble(const Sweep& sweep, const EnsembleOptions& options) {
    if (std::any_of(sweep.axes.begin(), sweep.axes.end(), exchanges_sensor)) return {};
    const std::vector<Placed> members = placed_members(sweep.scenario);
    if (members.empty()) return {};
    std::vector<std::vector<EnsembleMember>> at(static_cast<std::size_t>(sweep.points));
    std::int64_t done = 0;
    for (const Placed& each : members) {
        if (each.scenario) {
            const Sweep own =
                make_sweep(scenario::with_settings(*each.scenario, effort_of(*each.scenario, options)), sweep.axes);
            SweepOptions sweep_options;
            sweep_options.threads = options.threads;
            sweep_options.sink = [&](std::int64_t point, const SweepPoint& result) {
                at[static_cast<std::size_t>(point)].push_back(member_of(result));
            };
            run_sweep(own, 0, own.points, sweep_options);
        } else {
            for (std::vector<EnsembleMember>& point : at) point.push_back(hindered(each.obstacle));
        }
        ++done;
        if (options.progress) options.progress(done, static_cast<std::int64_t>(members.size()));
    }
    std::vector<EnsembleSpread> spreads;
    for (const std::vector<EnsembleMember>& point : at) spreads.push_back(spread_over(point));
    return spreads;
}

measure::Level most_common_level(const EnsembleSpread& spread) {
    std::size_t most = 0;
    for (std::size_t i = 0; i < spread.levels.size(); ++i) {
        if (spread.levels.at(i) >= spread.levels.at(most)) most = i;
    }
    return static_cast<measure::Level>(most);
}

std::string headline(measure::Level level, const EnsembleSpread& spread) {
    const measure::Level most = most_common_level(spread);
    const std::string_view name = measure::name_of(level);
    const std::int64_t same = spread.at(level);
    if (same == spread.members) return fmt::format("{}, as for all {} sensors that fit the sheet", name, same);
    if (most == level) return fmt::format("{}, as for {} of {} sensors that fit the sheet", name, same, spread.members);
    return fmt::format("{} for the sensor that fits the sheet best, but {} for {} of {} that fit it", name,
                       measure::name_of(most), spread.at(most), spread.members);
}

std::string in_words(const EnsembleSpread& spread, measure::Level level) {
    return levels_in_words(spread, level, "sensors that fit the sheet");
}

std::string levels_in_words(const EnsembleSpread& spread, measure::Level level, std::string_view members) {
    std::string text =
        fmt::format("{} for {} of {} {}", measure::name_of(level), spread.at(level), spread.members, members);
    std::string others;
    for (const measure::Level other :
         {measure::Level::stable, measure::Level::marginal, measure::Level::unstable, measure::Level::unreadable}) {
        if (other == level || spread.at(other) == 0) continue;
        others += fmt::format("{}{} {}", others.empty() ? "" : ", ", measure::name_of(other), spread.at(other));
    }
    return others.empty() ? text : fmt::format("{} ({})", text, others);
}

}  // namespace spotwright::study
