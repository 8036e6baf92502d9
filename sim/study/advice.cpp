#include "sim/study/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <set>

#include "sim/base/parallel.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/changes.hpp"
#include "sim/study/outcome.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

namespace {

struct Counter {
    std::mutex mutex;
    std::int64_t done = 0;
};

std::string first_problem(const base::ScenarioError& error) {
    return error.problems().empty() ? std::string(error.what()) : error.problems().front().message;
}

void take_outcome(const Outcome& outcome, Trialled& trial) {
    trial.valid_share = outcome.valid_share;
    trial.expanded_uncertainty = outcome.expanded_uncertainty;
    trial.level = outcome.level;
    trial.obstacle = outcome.obstacle;
}

class Adviser {
public:
    Adviser(const scenario::Scenario& scenario, const AdviceOptions& options)
        : scenario_(scenario), options_(options) {}

    Advice advise();

private:
    [[nodiscard]] scenario::Scenario changed(const std::vector<std::string>& settings, Effort effort) const;
    [[nodiscard]] Trialled tried(const std::vector<Change>& changes, Effort effort) const;
    void try_all(const std::vector<std::vector<Change>>& combinations);
    void confirm_stable();
    void count_one();
    [[nodiscard]] std::vector<std::vector<Change>> pairs_of_best(const std::vector<Change>& changes) const;
    [[nodiscard]] std::string summary(const Advice& advice) const;

    const scenario::Scenario& scenario_;
    const AdviceOptions& options_;
    std::optional<sensor::Setup> setup_as_it_is_;  // of the scenario as it is
    Outcome as_it_is_;
    Trialled trial_as_it_is_;
    std::vector<Trialled> trials_;
    std::vector<std::vector<Change>> combinations_;  // of the trials
    std::int64_t planned_ = 0;
    mutable Counter counter_;
};

scenario::Scenario Adviser::changed(const std::vector<std::string>& settings, Effort effort) const {
    std::vector<std::string> all = effort_settings(scenario_, effort);
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::with_settings(scenario_, all);
}

// A choice of this program: a part that must be another one weighs as much as half of the speed or of the range, and
// each change a little.
double cost_in_all(const ChangeCost& cost, std::size_t changes) {
    constexpr double of_a_part = 0.5;
    constexpr double of_a_change = 0.05;
    return cost.speed + cost.range + of_a_part * cost.parts + of_a_change * static_cast<double>(changes);
}

Trialled Adviser::tried(const std::vector<Change>& changes, Effort effort) const {
    Trialled trial;
    double range_left = 1.0;
    std::vector<std::string> settings;
    for (const Change& change : changes) {
        trial.changes.push_back(change.words);
        settings.insert(settings.end(), change.settings.begin(), change.settings.end());
        range_left *= 1.0 - change.range;
        trial.cost.parts += change.parts;
    }
    Outcome outcome;
    try {
        outcome = outcome_of(sensor::set_up(*setup_as_it_is_, changed(settings, effort), 1), 1);
        take_outcome(outcome, trial);
        const double slower = std::max(outcome.response / as_it_is_.response, outcome.period / as_it_is_.period);
        trial.cost.speed = std::max(0.0, 1.0 - 1.0 / slower);
        if (outcome.response > scenario_.requirement.response && outcome.response > as_it_is_.response) {
            trial.obstacle = "the output would follow a step too slowly";
            trial.level = measure::Level::unreadable;
        }
    } catch (const base::ScenarioError& error) {
        trial.obstacle = first_problem(error);
    } catch (const base::Error& error) {
        trial.obstacle = error.what();
    }
    const auto is_setting_of_a_run = [](const std::string& setting) { return setting.starts_with("run."); };
    settings.erase(std::remove_if(settings.begin(), settings.end(), is_setting_of_a_run), settings.end());
    trial.settings = std::move(settings);
    trial.cost.range = 1.0 - range_left;
    trial.total_cost = cost_in_all(trial.cost, changes.size());
    return trial;
}

void Adviser::try_all(const std::vector<std::vector<Change>>& combinations) {
    const std::size_t before = trials_.size();
    trials_.resize(before + combinations.size());
    combinations_.insert(combinations_.end(), combinations.begin(), combinations.end());
    base::parallel_for(static_cast<std::int64_t>(combinations.size()), options_.threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        trials_[before + k] = tried(combinations[k], Effort::ranking);
        count_one();
    });
}

void Adviser::count_one() {
    const std::lock_guard lock(counter_.mutex);
    ++counter_.done;
    if (options_.progress) options_.progress(counter_.done, std::max(planned_, counter_.done));
}

// What would be recommended is read as thoroughly as the scenario says, so that `read` says the same of it.
void Adviser::confirm_stable() {
    std::vector<std::size_t> stable;
    for (std::size_t k = 0; k < trials_.size(); ++k) {
        if (trials_[k].level == measure::Level::stable) stable.push_back(k);
    }
    planned_ = counter_.done + static_cast<std::int64_t>(stable.size());
    base::parallel_for(static_cast<std::int64_t>(stable.size()), options_.threads, [&](std::int64_t i) {
        const std::size_t k = stable[static_cast<std::size_t>(i)];
        trials_[k] = tried(combinations_[k], Effort::own);
        count_one();
    });
}

// Better first: by level, then by the share of valid readings where that decides, then by uncertainty.
bool is_better(const Trialled& a, const Trialled& b) {
    if (a.level != b.level) return a.level < b.level;
    if (a.expanded_uncertainty.has_value() != b.expanded_uncertainty.has_value()) {
        return a.expanded_uncertainty.has_value();
    }
    if (!a.expanded_uncertainty) return a.valid_share > b.valid_share;
    return *a.expanded_uncertainty < *b.expanded_uncertainty;
}

// The best change of each kind, as far as it helps, two by two.
std::vector<std::vector<Change>> Adviser::pairs_of_best(const std::vector<Change>& changes) const {
    std::vector<std::size_t> order(changes.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return is_better(trials_[a], trials_[b]); });
    constexpr std::size_t most = 6;
    std::vector<std::size_t> best;
    std::set<std::string> kinds;
    for (const std::size_t i : order) {
        // What is enough by itself needs no second change.
        const bool helps = trials_[i].obstacle.empty() && trials_[i].level != measure::Level::stable &&
                           is_better(trials_[i], trial_as_it_is_);
        if (best.size() == most || !helps || !kinds.insert(changes[i].kind).second) continue;
        best.push_back(i);
    }
    std::vector<std::vector<Change>> pairs;
    for (std::size_t i = 0; i < best.size(); ++i) {
        for (std::size_t k = i + 1; k < best.size(); ++k) {
            // In the order of the list, so that light is set before the exposure that suits it.
            pairs.push_back({changes[std::min(best[i], best[k])], changes[std::max(best[i], best[k])]});
        }
    }
    return pairs;
}

std::string error_text(const Trialled& trial) {
    return trial.expanded_uncertainty ? base::uncertainty_text(*trial.expanded_uncertainty) : "no valid readings";
}

std::string Adviser::summary(const Advice& advice) const {
    const std::string asked = fmt::format("{} against a tolerance of +-{}", error_text(advice.as_it_is),
                                          base::length_text(scenario_.requirement.tolerance, 3));
    if (advice.as_it_is.level == measure::Level::stable) {
        return fmt::format("reads stably as it is, errors up to {}", asked);
    }
    if (!advice.reaching.empty()) {
        const Trialled& first = advice.reaching.front();
        std::string words;
        for (const std::string& change : first.changes) words += (words.empty() ? "" : ", and ") + change;
        if (!advice.as_it_is.expanded_uncertainty) {
            return fmt::format("{}: the part then reads stably, errors up to {}", words, error_text(first));
        }
        return fmt::format("{}: the part then reads stably, errors up to {} in place of {}", words, error_text(first),
                           error_text(advice.as_it_is));
    }
    std::string best;
    if (!advice.others.empty() && advice.others.front().obstacle.empty()) {
        best = fmt::format("; the best reaches {} with errors up to {}", name_of(advice.others.front().level),
                           error_text(advice.others.front()));
    }
    return fmt::format("none of {} changes tried makes it read stably{}. What stands in the way: {}",
                       advice.others.size(), best, as_it_is_.largest);
}

Advice Adviser::advise() {
    measure::ReadResult result;
    setup_as_it_is_ = sensor::set_up(changed({}, Effort::own), 1);
    as_it_is_ = outcome_of(*setup_as_it_is_, 1, 0.0, &result);
    take_outcome(as_it_is_, trial_as_it_is_);
    Advice advice;
    advice.as_it_is = trial_as_it_is_;
    if (advice.as_it_is.level != measure::Level::stable) {
        const std::vector<Change> changes = possible_changes(scenario_, result);
        std::vector<std::vector<Change>> singles;
        for (const Change& change : changes) singles.push_back({change});
        constexpr std::int64_t most_pairs = 15;
        planned_ = static_cast<std::int64_t>(singles.size()) + most_pairs;
        try_all(singles);
        try_all(pairs_of_best(changes));
        confirm_stable();
    }
    for (Trialled& trial : trials_) {
        (trial.level == measure::Level::stable ? advice.reaching : advice.others).push_back(std::move(trial));
    }
    std::stable_sort(advice.reaching.begin(), advice.reaching.end(), [](const Trialled& a, const Trialled& b) {
        return a.total_cost != b.total_cost ? a.total_cost < b.total_cost : is_better(a, b);
    });
    std::stable_sort(advice.others.begin(), advice.others.end(), is_better);
    advice.summary = summary(advice);
    return advice;
}

}  // namespace

Advice advise(const scenario::Scenario& scenario, const AdviceOptions& options) {
    return Adviser(scenario, options).advise();
}

}  // namespace spotwright::study
