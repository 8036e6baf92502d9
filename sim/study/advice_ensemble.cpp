// What advice that was found for one sensor is worth for all that fit its sheet.
#include <fmt/format.h>

#include <algorithm>

#include "sim/study/adviser.hpp"

namespace spotwright::study {

std::string changes_in_words(const Trialled& trial) {
    std::string words;
    for (const std::string& change : trial.changes) words += (words.empty() ? "" : ", and ") + change;
    return words;
}

// All sensors that fit the sheet, with these changes; none without an ensemble, or where time is up.
std::optional<EnsembleSpread> Adviser::ensemble_with(const Trialled& trial) const {
    if (out_of_time()) return std::nullopt;
    const scenario::Scenario s = changed(trial.settings, Effort::own);
    if (s.sensor_file.ensemble.empty()) return std::nullopt;
    EnsembleOptions options;
    options.judgement = EnsembleJudgement::budget;
    options.threads = options_.threads;
    options.corrected_bias = known_excess(s);
    return spread_over(read_ensemble(s, options));
}

// Of the first suggestion and, where that is not enough for most sensors, of the next until one is.
void Adviser::judge_ensemble(Advice& advice) const {
    const Trialled& first = advice.reaching.empty() ? advice.as_it_is : advice.reaching.front();
    advice.ensemble = ensemble_with(first);
    if (!advice.ensemble) return;
    advice.summary +=
        fmt::format(". That is for the sensor that fits the sheet best; {}", in_words(*advice.ensemble, first.level));
    if (most_common_level(*advice.ensemble) == first.level) return;
    constexpr std::size_t looked_at = 4;
    for (std::size_t k = 1; k < std::min(looked_at, advice.reaching.size()); ++k) {
        const std::optional<EnsembleSpread> spread = ensemble_with(advice.reaching[k]);
        if (!spread || most_common_level(*spread) != measure::Level::stable) continue;
        advice.summary += fmt::format(". Enough for most of them: {}, which is {}",
                                      changes_in_words(advice.reaching[k]), in_words(*spread, measure::Level::stable));
        return;
    }
}

}  // namespace spotwright::study
