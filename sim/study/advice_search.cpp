// Combinations of changes: those that the image favours, and pairs of the best changes tried.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <set>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/scenario/reader.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/study/adviser.hpp"

namespace spotwright::study {

namespace {

bool is_seen_in_image(const Change& change) {
    constexpr std::array<std::string_view, 8> kinds{"mount", "turn",     "orientation", "peak",
                                                    "coat",  "distance", "reference",   "angle"};
    return !change.other_sensor && std::find(kinds.begin(), kinds.end(), change.kind) != kinds.end();
}

}  // namespace

// How far a part is from being read well, by its image at any exposure; takes a few milliseconds. Where it is read:
// error over tolerance. Else: 1000 plus the decades of light that are missing.
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
        if (!is_seen_in_image(changes[i]) || out_of_time_to_search()) continue;
        candidates.push_back(i);
        beam.push_back({{i}, screened({changes[i]})});
    }
    std::vector<Company> found;
    std::set<std::vector<std::size_t>> seen;
    for (int step = 0; step < 2 && !out_of_time_to_search(); ++step) {
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
            if (out_of_time_to_search()) {
                company.key = std::numeric_limits<double>::infinity();
                return;
            }
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

// Pairs of the best changes, one of each kind, that help but are not enough alone.
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
            // In the order of the list of changes, so that light is set before the exposure that suits it.
            const bool in_order = combinations_[best[i]].front().place <= combinations_[best[k]].front().place;
            const std::size_t first = in_order ? best[i] : best[k];
            std::vector<Change> both = combinations_[first];
            const std::vector<Change>& more = combinations_[in_order ? best[k] : best[i]];
            const std::set<std::string> had = kinds_of(first);
            const bool clash = std::any_of(more.begin(), more.end(),
                                           [&had](const Change& change) { return had.count(change.kind) > 0; });
            if (clash) continue;
            both.insert(both.end(), more.begin(), more.end());
            pairs.push_back(std::move(both));
        }
    }
    return pairs;
}

}  // namespace spotwright::study
