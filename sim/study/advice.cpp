#include "sim/study/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/base/parallel.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_keys.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/turned.hpp"
#include "sim/study/adviser.hpp"

namespace spotwright::study {

namespace {

std::string first_problem(const base::ScenarioError& error) {
    return error.problems().empty() ? std::string(error.what()) : error.problems().front().message;
}

void take_outcome(const Outcome& outcome, Trialled& trial) {
    trial.valid_share = outcome.valid_share;
    trial.expanded_uncertainty = outcome.expanded_uncertainty;
    trial.level = outcome.level;
    trial.obstacle = outcome.obstacle;
}

// A choice of this program: a part that must be another one weighs as much as half of the speed or of the range, and
// each change a little.
double cost_in_all(const ChangeCost& cost, std::size_t changes) {
    constexpr double of_a_part = 0.5;
    constexpr double of_a_change = 0.05;
    return cost.speed + cost.range + of_a_part * cost.parts + of_a_change * static_cast<double>(changes);
}

std::string error_text(const Trialled& trial) {
    return trial.expanded_uncertainty ? base::uncertainty_text(*trial.expanded_uncertainty) : "no valid readings";
}

}  // namespace

// Better first: by level, then by the share of valid readings where that decides, then by uncertainty.
bool is_better(const Trialled& a, const Trialled& b) {
    if (a.level != b.level) return a.level < b.level;
    if (a.expanded_uncertainty.has_value() != b.expanded_uncertainty.has_value()) {
        return a.expanded_uncertainty.has_value();
    }
    if (!a.expanded_uncertainty) return a.valid_share > b.valid_share;
    return *a.expanded_uncertainty < *b.expanded_uncertainty;
}

bool needs_sensor(const Change& change) {
    return std::any_of(change.settings.begin(), change.settings.end(), [](const std::string& setting) {
        return scenario::is_sensor_key(setting.substr(0, setting.find('=')));
    });
}

scenario::Scenario Adviser::changed(const std::vector<std::string>& settings, Effort effort) const {
    std::vector<std::string> all = effort_settings(scenario_, effort);
    all.insert(all.end(), settings.begin(), settings.end());
    return scenario::with_settings(scenario_, all);
}

// A sensor is built once for all combinations that share its settings.
sensor::Setup Adviser::setup_of(const scenario::Scenario& s, const std::vector<Change>& changes) const {
    std::string name;
    for (const Change& change : changes) {
        if (!needs_sensor(change)) continue;
        for (const std::string& setting : change.settings) name += setting + "\n";
    }
    if (name.empty()) return sensor::set_up(*setup_as_it_is_, s, 1);
    std::optional<sensor::Setup> built;
    {
        const std::lock_guard lock(mutex_);
        const auto found = setups_.find(name);
        if (found != setups_.end()) built = found->second;
    }
    if (built) return sensor::set_up(*built, s, 1);
    sensor::Setup made = sensor::set_up(s, 1);
    const std::lock_guard lock(mutex_);
    setups_.emplace(name, made);
    return made;
}

// Who turns the sensor knows by how much, and multiplies its readings: the change says so. [m]
double Adviser::known_excess(const scenario::Scenario& turned) const {
    const bool turns = turned.mount.tilt != scenario_.mount.tilt && turned.emitter.angle == 0.0;
    return turns ? sensor::excess_of_turned(turned.mount.tilt, turned.target.displacement) : 0.0;
}

Trialled Adviser::tried(const std::vector<Change>& changes, Effort effort, Outcome& outcome) const {
    Trialled trial;
    double range_left = 1.0;
    std::vector<std::string> settings;
    for (const Change& change : changes) {
        trial.changes.push_back(change.words);
        settings.insert(settings.end(), change.settings.begin(), change.settings.end());
        range_left *= 1.0 - change.range;
        trial.cost.parts += change.parts;
        trial.other_sensor = trial.other_sensor || change.other_sensor;
    }
    try {
        const scenario::Scenario turned = changed(settings, effort);
        outcome = outcome_of(setup_of(turned, changes), 1, known_excess(turned));
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
    std::vector<Trialled> trials(combinations.size());
    std::vector<Outcome> outcomes(combinations.size());
    std::vector<char> done(combinations.size(), 0);
    base::parallel_for(static_cast<std::int64_t>(combinations.size()), options_.threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        if (out_of_time_to_search()) return;
        trials[k] = tried(combinations[k], Effort::ranking, outcomes[k]);
        done[k] = 1;
        count_one();
    });
    for (std::size_t k = 0; k < combinations.size(); ++k) {
        if (done[k] == 0) continue;
        trials_.push_back(std::move(trials[k]));
        outcomes_.push_back(std::move(outcomes[k]));
        combinations_.push_back(combinations[k]);
        confirmed_.push_back(0);
    }
}

// Tries them, and those that change the light once more with the exposure that suits it.
void Adviser::try_with_exposures(const std::vector<std::vector<Change>>& combinations) {
    const std::size_t before = trials_.size();
    try_all(combinations);
    const std::size_t tried_now = trials_.size();
    std::vector<std::vector<Change>> exposed;
    for (std::size_t k = before; k < tried_now; ++k) {
        const auto is_exposure = [](const Change& change) { return change.kind == "exposure"; };
        const std::vector<Change>& changes = combinations_[k];
        const bool has_own = std::any_of(changes.begin(), changes.end(), is_exposure);
        constexpr double dim = 0.2;
        constexpr double bright = 0.95;
        const double share = outcomes_[k].peak_share;
        if (has_own || trials_[k].level == measure::Level::stable || (share > dim && share < bright)) continue;
        try {
            const scenario::Scenario s = changed(trials_[k].settings, Effort::ranking);
            // Glossy parts have patches several times as bright as their mean: a quarter of the light leaves them room.
            const double most_room = s.target.made_of.index ? 4.0 : 1.0;
            for (double room = 1.0; room <= most_room; room *= 4.0) {
                const auto exposure = suited_exposure(s, room * share, outcomes_[k].exposure);
                if (!exposure) continue;
                exposed.push_back(changes);
                exposed.back().push_back(*exposure);
            }
        } catch (const base::ScenarioError&) {
            continue;  // its obstacle is known
        }
    }
    try_all(exposed);
}

bool Adviser::out_of_time() const {
    return options_.seconds > 0.0 && options_.elapsed && options_.elapsed() > options_.seconds;
}

// Some of the time is left for confirming what was found.
bool Adviser::out_of_time_to_search() const {
    if (options_.seconds <= 0.0 || !options_.elapsed) return false;
    constexpr double for_the_search = 0.7;
    return options_.elapsed() > (reaches() ? for_the_search : 1.0) * options_.seconds;
}

bool Adviser::reaches() const {
    return std::any_of(trials_.begin(), trials_.end(),
                       [](const Trialled& trial) { return trial.level == measure::Level::stable; });
}

// What would be recommended is read as thoroughly as the scenario says, so that `read` says the same of it. Cheapest
// first, and one at least: what the time does not reach stays a candidate.
void Adviser::confirm_stable() {
    std::vector<std::size_t> stable;
    bool has_one = false;
    for (std::size_t k = 0; k < trials_.size(); ++k) {
        if (trials_[k].level != measure::Level::stable) continue;
        has_one = has_one || confirmed_[k] != 0;
        if (confirmed_[k] == 0) stable.push_back(k);
    }
    planned_ = std::max(planned_, counter_.done + static_cast<std::int64_t>(stable.size()));
    std::stable_sort(stable.begin(), stable.end(),
                     [this](std::size_t a, std::size_t b) { return trials_[a].total_cost < trials_[b].total_cost; });
    base::parallel_for(static_cast<std::int64_t>(stable.size()), options_.threads, [&](std::int64_t i) {
        const std::size_t k = stable[static_cast<std::size_t>(i)];
        if ((i > 0 || has_one) && out_of_time()) return;
        Outcome outcome;
        trials_[k] = tried(combinations_[k], Effort::own, outcome);
        confirmed_[k] = 1;
        count_one();
    });
}

// What was only ranked as stable is not recommended.
void Adviser::drop_unconfirmed() {
    std::vector<Trialled> kept;
    for (std::size_t k = 0; k < trials_.size(); ++k) {
        const bool open = trials_[k].level == measure::Level::stable && confirmed_[k] == 0;
        if (!open) kept.push_back(std::move(trials_[k]));
    }
    trials_ = std::move(kept);
}

void Adviser::count_one() {
    const std::lock_guard lock(counter_.mutex);
    ++counter_.done;
    if (options_.progress) options_.progress(counter_.done, std::max(planned_, counter_.done));
}

namespace {

// What a setting changes; another sensor is a change of its own.
std::string changed_key(const std::string& setting) {
    return setting.starts_with("sensor=") ? setting : setting.substr(0, setting.find('='));
}

bool changes_all_of(const Trialled& all, const Trialled& some) {
    std::set<std::string> keys;
    for (const std::string& setting : all.settings) keys.insert(changed_key(setting));
    return std::all_of(some.settings.begin(), some.settings.end(),
                       [&keys](const std::string& setting) { return keys.count(changed_key(setting)) > 0; });
}

bool is_no_dearer(const ChangeCost& a, const ChangeCost& b) {
    constexpr double unnoticed = 0.01;
    return a.parts <= b.parts && a.speed <= b.speed + unnoticed && a.range <= b.range + unnoticed;
}

// Where fewer changes of the same keys are enough, to whatever values, nobody makes more of them.
void drop_what_adds_nothing(std::vector<Trialled>& reaching) {
    std::vector<Trialled> kept;
    for (const Trialled& trial : reaching) {
        const auto is_enough = [&](const Trialled& other) {
            return other.changes.size() < trial.changes.size() && changes_all_of(trial, other) &&
                   is_no_dearer(other.cost, trial.cost);
        };
        if (std::none_of(reaching.begin(), reaching.end(), is_enough)) kept.push_back(trial);
    }
    reaching = std::move(kept);
}

}  // namespace

std::string Adviser::summary(const Advice& advice) const {
    const std::string asked = fmt::format("{} against a tolerance of +-{}", error_text(advice.as_it_is),
                                          base::length_text(scenario_.requirement.tolerance, 3));
    if (advice.as_it_is.level == measure::Level::stable) {
        return fmt::format("reads stably as it is, errors up to {}", asked);
    }
    if (!advice.reaching.empty()) {
        const Trialled& first = advice.reaching.front();
        const std::string words = changes_in_words(first);
        if (!advice.as_it_is.expanded_uncertainty) {
            return fmt::format("{}: the part then reads stably, errors up to {}", words, error_text(first));
        }
        // Where the errors are small already, readings are what is lost.
        if (*advice.as_it_is.expanded_uncertainty <= measure::allowed_error(scenario_.requirement)) {
            return fmt::format("{}: the part then reads stably, {:.4g} % of readings valid in place of {:.4g} %", words,
                               100.0 * first.valid_share, 100.0 * advice.as_it_is.valid_share);
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
        const std::vector<std::string> indicated = indicated_kinds(result.verdict);
        std::vector<std::vector<Change>> first;
        std::vector<std::vector<Change>> singles;
        std::vector<std::vector<Change>> others;
        for (const Change& change : changes) {
            const bool is_indicated = std::find(indicated.begin(), indicated.end(), change.kind) != indicated.end();
            (change.other_sensor ? others : is_indicated ? first : singles).push_back({change});
        }
        constexpr std::int64_t most_together = 30;
        planned_ = static_cast<std::int64_t>(first.size() + singles.size()) + most_together;
        // What the reasons of the verdict point to is tried and confirmed before the rest: it is there however short
        // the time.
        std::stable_sort(first.begin(), first.end(), [&](const auto& a, const auto& b) {
            const auto rank = [&](const Change& c) { return std::find(indicated.begin(), indicated.end(), c.kind); };
            return rank(a.front()) < rank(b.front());
        });
        try_with_exposures(first);
        confirm_stable();
        try_with_exposures(singles);
        try_with_exposures(found_in_company(changes));
        try_all(pairs_of_best());
        if (!reaches()) try_with_exposures(others);
        confirm_stable();
        drop_unconfirmed();
    }
    for (Trialled& trial : trials_) {
        (trial.level == measure::Level::stable ? advice.reaching : advice.others).push_back(std::move(trial));
    }
    std::stable_sort(advice.reaching.begin(), advice.reaching.end(), [](const Trialled& a, const Trialled& b) {
        return a.total_cost != b.total_cost ? a.total_cost < b.total_cost : is_better(a, b);
    });
    drop_what_adds_nothing(advice.reaching);
    std::stable_sort(advice.others.begin(), advice.others.end(), is_better);
    advice.summary = summary(advice);
    judge_ensemble(advice);
    return advice;
}

Advice advise(const scenario::Scenario& scenario, const AdviceOptions& options) {
    return Adviser(scenario, options).advise();
}

}  // namespace spotwright::study
