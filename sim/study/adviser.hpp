// The search behind `advise`: what it has tried so far, and what it tries next.
#pragma once

#include <cstdint>
#include <map>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "sim/study/advice.hpp"
#include "sim/study/changes.hpp"
#include "sim/study/outcome.hpp"

namespace spotwright::study {

/// Better first: by level, then by the share of valid readings where that decides, then by uncertainty.
[[nodiscard]] bool is_better(const Trialled& a, const Trialled& b);

/// Whether a change asks for another sensor, or for the same one built otherwise.
[[nodiscard]] bool needs_sensor(const Change& change);

/// All of them in one sentence.
[[nodiscard]] std::string changes_in_words(const Trialled& trial);

/// One call of `advise`.
class Adviser {
public:
    Adviser(const scenario::Scenario& scenario, const AdviceOptions& options)
        : scenario_(scenario), options_(options) {}

    Advice advise();

private:
    [[nodiscard]] scenario::Scenario changed(const std::vector<std::string>& settings, Effort effort) const;
    [[nodiscard]] double known_excess(const scenario::Scenario& turned) const;
    [[nodiscard]] Trialled tried(const std::vector<Change>& changes, Effort effort, Outcome& outcome) const;
    void try_all(const std::vector<std::vector<Change>>& combinations);
    void try_with_exposures(const std::vector<std::vector<Change>>& combinations);
    void confirm_stable();
    void drop_unconfirmed();
    void count_one();
    [[nodiscard]] bool out_of_time() const;
    [[nodiscard]] bool out_of_time_to_search() const;
    [[nodiscard]] bool reaches() const;
    [[nodiscard]] sensor::Setup setup_of(const scenario::Scenario& scenario, const std::vector<Change>& changes) const;
    [[nodiscard]] double screened(const std::vector<Change>& changes) const;
    [[nodiscard]] std::vector<std::vector<Change>> found_in_company(const std::vector<Change>& changes) const;
    [[nodiscard]] std::vector<std::vector<Change>> pairs_of_best() const;
    [[nodiscard]] std::optional<EnsembleSpread> ensemble_with(const Trialled& trial) const;
    void judge_ensemble(Advice& advice) const;
    [[nodiscard]] std::string summary(const Advice& advice) const;

    const scenario::Scenario& scenario_;
    const AdviceOptions& options_;
    std::optional<sensor::Setup> setup_as_it_is_;  // of the scenario as it is
    Outcome as_it_is_;
    Trialled trial_as_it_is_;
    std::vector<Trialled> trials_;
    std::vector<Outcome> outcomes_;                  // of the trials
    std::vector<std::vector<Change>> combinations_;  // of the trials
    std::vector<char> confirmed_;                    // of the trials: read as thoroughly as the scenario says
    std::int64_t planned_ = 0;
    struct Counter {
        std::mutex mutex;
        std::int64_t done = 0;
    };
    mutable Counter counter_;
    mutable std::mutex mutex_;
    mutable std::map<std::string, sensor::Setup> setups_;  // by the settings that need another sensor
};

}  // namespace spotwright::study
