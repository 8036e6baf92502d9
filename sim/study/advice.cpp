#include "sim/study/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <mutex>
#include <set>

#include "sim/base/parallel.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/scenario/sensor_keys.hpp"
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
    [[nodiscard]] Trialled tried(const std::vector<Change>& changes, Effort effort, Outcome& outcome) const;
    void try_all(const std::vector<std::vector<Change>>& combinations);
    void try_with_exposures(const std::vector<std::vector<Change>>& combinations);
    void confirm_stable();
    void count_one();
    [[nodiscard]] bool out_of_time() const;
    [[nodiscard]] bool reaches() const;
    [[nodiscard]] sensor::Setup setup_of(const scenario::Scenario& scenario, const std::vector<Change>& changes) const;
    [[nodiscard]] double screened(const std::vector<Change>& changes) const;
    [[nodiscard]] std::vector<std::vector<Change>> found_in_company(const std::vector<Change>& changes) const;
    [[nodiscard]] std::vector<std::vector<Change>> pairs_of_best() const;
    [[nodiscard]] std::string summary(const Advice& advice) const;

    const scenario::Scenario& scenario_;
    const AdviceOptions& options_;
    std::optional<sensor::Setup> setup_as_it_is_;  // of the scenario as it is
    Outcome as_it_is_;
    Trialled trial_as_it_is_;
    std::vector<Trialled> trials_;
    std::vector<Outcome> outcomes_;                  // of the trials
    std::vector<std::vector<Change>> combinations_;  // of the trials
    std::int64_t planned_ = 0;
    mutable Counter counter_;
    mutable std::mutex mutex_;
    mutable std::map<std::string, sensor::Setup> setups_;  // by the settings that need another sensor
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

bool is_seen_in_image(const Change& change) {
    constexpr std::array<std::string_view, 8> kinds{"mount", "turn",     "orientation", "peak",
                                                    "coat",  "distance", "reference",   "angle"};
    return !change.other_sensor && std::find(kinds.begin(), kinds.end(), change.kind) != kinds.end();
}

bool needs_sensor(const Change& change) {
    return std::any_of(change.settings.begin(), change.settings.end(), [](const std::string& setting) {
        return scenario::is_sensor_key(setting.substr(0, setting.find('=')));
    });
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
        outcome = outcome_of(setup_of(changed(settings, effort), changes), 1);
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
        if (out_of_time()) return;
        trials[k] = tried(combinations[k], Effort::ranking, outcomes[k]);
        done[k] = 1;
        count_one();
    });
    for (std::size_t k = 0; k < combinations.size(); ++k) {
        if (done[k] == 0) continue;
        trials_.push_back(std::move(trials[k]));
        outcomes_.push_back(std::move(outcomes[k]));
        combinations_.push_back(combinations[k]);
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
            const auto exposure =
                suited_exposure(changed(trials_[k].settings, Effort::ranking), share, outcomes_[k].exposure);
            if (!exposure) continue;
            exposed.push_back(changes);
            exposed.back().push_back(*exposure);
        } catch (const base::ScenarioError&) {
            continue;  // its obstacle is known
        }
    }
    try_all(exposed);
}

bool Adviser::out_of_time() const {
    return options_.seconds > 0.0 && options_.elapsed && options_.elapsed() > options_.seconds;
}

bool Adviser::reaches() const {
    return std::any_of(trials_.begin(), trials_.end(),
                       [](const Trialled& trial) { return trial.level == measure::Level::stable; });
}

// How far a part is from being read well, by its image at any exposure: error over tolerance where it is read, 1000 and
// decades of missing light where not. One image, a few milliseconds.
double Adviser::screened(const std::vector<Change>& changes) const {
    constexpr double unread = 1000.0;
    constexpr double of_a_change = 0.05;
    std::vector<std::string> settings;
    for (const Change& change : changes) {
        settings.insert(settings.end(), change.settings.begin(), change.settings.end());
    }
    try {
        scenario::Scenario s = changed(settings, Effort::ranking);
        constexpr double shortest = 1e-9;
        constexpr double longest = 0.01;
        s.exposure.mode = scenario::ExposureMode::automatic;
        s.exposure.exposure = shortest;
        s.exposure.period[1] = std::max(s.exposure.period[1], longest);
        const NoiselessReading reading = noiseless_reading_of(setup_of(s, changes));
        const double cost = of_a_change * static_cast<double>(changes.size());
        if (reading.error) return std::abs(*reading.error) / s.requirement.tolerance + cost;
        return unread + cost + std::max(0.0, -std::log10(std::max(reading.peak_share, 1e-12)));
    } catch (const base::Error&) {
        return std::numeric_limits<double>::infinity();
    }
}

// Twos and threes of different kinds that the image favours over each part of them: best first, a few. Each step goes
// on from the best of the step before, whether or not a part of it helps alone.
std::vector<std::vector<Change>> Adviser::found_in_company(const std::vector<Change>& changes) const {
    struct Company {
        std::vector<std::size_t> members;
        double key = 0.0;
    };
    std::vector<std::size_t> candidates;
    std::vector<Company> beam;
    for (std::size_t i = 0; i < changes.size(); ++i) {
        if (!is_seen_in_image(changes[i])) continue;
        candidates.push_back(i);
        beam.push_back({{i}, screened({changes[i]})});
    }
    std::vector<Company> found;
    std::set<std::vector<std::size_t>> seen;
    for (int step = 0; step < 2 && !out_of_time(); ++step) {
        std::vector<Company> grown;
        for (const Company& company : beam) {
            for (const std::size_t next : candidates) {
                const auto clashes = [&](std::size_t member) {
                    return changes[member].kind == changes[next].kind ||
                           (needs_sensor(changes[member]) && needs_sensor(changes[next]));
                };
                if (std::any_of(company.members.begin(), company.members.end(), clashes)) continue;
                Company larger = company;
                larger.members.push_back(next);
                std::sort(larger.members.begin(), larger.members.end());
                if (seen.insert(larger.members).second) grown.push_back(std::move(larger));
            }
        }
        const auto count = static_cast<std::int64_t>(grown.size());
        base::parallel_for(count, options_.threads, [&](std::int64_t i) {
            Company& company = grown[static_cast<std::size_t>(i)];
            const double alone = company.key;
            std::vector<Change> together;
            for (const std::size_t member : company.members) together.push_back(changes[member]);
            company.key = screened(together);
            if (company.key >= alone) company.key = std::numeric_limits<double>::infinity();
        });
        std::stable_sort(grown.begin(), grown.end(), [](const auto& a, const auto& b) { return a.key < b.key; });
        constexpr std::size_t width = 6;
        if (grown.size() > width) grown.resize(width);
        for (const Company& company : grown) {
            if (std::isfinite(company.key)) found.push_back(company);
        }
        beam = std::move(grown);
    }
    std::stable_sort(found.begin(), found.end(), [](const auto& a, const auto& b) { return a.key < b.key; });
    std::vector<std::vector<Change>> combinations;
    for (const Company& company : found) {
        combinations.emplace_back();
        for (const std::size_t member : company.members) combinations.back().push_back(changes[member]);
    }
    return combinations;
}

// What would be recommended is read as thoroughly as the scenario says, so that `read` says the same of it.
void Adviser::confirm_stable() {
    std::vector<std::size_t> stable;
    for (std::size_t k = 0; k < trials_.size(); ++k) {
        if (trials_[k].level == measure::Level::stable) stable.push_back(k);
    }
    planned_ = counter_.done + static_cast<std::int64_t>(stable.size());
    // Cheapest first: what the time does not reach is left out, it was only ranked.
    std::stable_sort(stable.begin(), stable.end(),
                     [this](std::size_t a, std::size_t b) { return trials_[a].total_cost < trials_[b].total_cost; });
    std::vector<char> left_out(trials_.size(), 0);
    base::parallel_for(static_cast<std::int64_t>(stable.size()), options_.threads, [&](std::int64_t i) {
        const std::size_t k = stable[static_cast<std::size_t>(i)];
        if (i > 0 && out_of_time()) {
            left_out[k] = 1;
            return;
        }
        Outcome outcome;
        trials_[k] = tried(combinations_[k], Effort::own, outcome);
        count_one();
    });
    std::vector<Trialled> kept;
    for (std::size_t k = 0; k < trials_.size(); ++k) {
        if (left_out[k] == 0) kept.push_back(std::move(trials_[k]));
    }
    trials_ = std::move(kept);
}

void Adviser::count_one() {
    const std::lock_guard lock(counter_.mutex);
    ++counter_.done;
    if (options_.progress) options_.progress(counter_.done, std::max(planned_, counter_.done));
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

// The best of each set of kinds, as far as they help, two by two.
std::vector<std::vector<Change>> Adviser::pairs_of_best() const {
    std::vector<std::size_t> order(trials_.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return is_better(trials_[a], trials_[b]); });
    constexpr std::size_t most = 6;
    std::vector<std::size_t> best;
    std::set<std::set<std::string>> kinds;
    const auto kinds_of = [this](std::size_t i) {
        std::set<std::string> all;
        for (const Change& change : combinations_[i]) all.insert(change.kind);
        return all;
    };
    for (const std::size_t i : order) {
        // What is enough by itself needs no second change.
        const bool helps = trials_[i].obstacle.empty() && trials_[i].level != measure::Level::stable &&
                           is_better(trials_[i], trial_as_it_is_);
        if (best.size() == most || !helps || !kinds.insert(kinds_of(i)).second) continue;
        best.push_back(i);
    }
    std::vector<std::vector<Change>> pairs;
    for (std::size_t i = 0; i < best.size(); ++i) {
        for (std::size_t k = i + 1; k < best.size(); ++k) {
            // In the order of the list, so that light is set before the exposure that suits it.
            std::vector<Change> both = combinations_[std::min(best[i], best[k])];
            const std::vector<Change>& more = combinations_[std::max(best[i], best[k])];
            const std::set<std::string> had = kinds_of(std::min(best[i], best[k]));
            const bool clash = std::any_of(more.begin(), more.end(),
                                           [&had](const Change& change) { return had.count(change.kind) > 0; });
            if (clash) continue;
            both.insert(both.end(), more.begin(), more.end());
            pairs.push_back(std::move(both));
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
        std::vector<std::vector<Change>> others;
        for (const Change& change : changes) (change.other_sensor ? others : singles).push_back({change});
        constexpr std::int64_t most_together = 30;
        planned_ = static_cast<std::int64_t>(singles.size()) + most_together;
        try_with_exposures(singles);
        try_with_exposures(found_in_company(changes));
        try_all(pairs_of_best());
        if (!reaches()) try_with_exposures(others);
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
