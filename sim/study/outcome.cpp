#include "sim/study/outcome.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/study/budget_lines.hpp"

namespace spotwright::study {

namespace {

constexpr std::int64_t few_readings = 1024;
constexpr std::int64_t few_patches = 64;
constexpr std::int64_t most_readings = 16384;  // more would not sharpen a share of 99.9 %

std::string first_problem_of(const base::ScenarioError& error) {
    return error.problems().empty() ? std::string(error.what()) : error.problems().front().message;
}

void take_lines(const std::vector<BudgetLine>& lines, double corrected_bias, Outcome& outcome) {
    double bias = -corrected_bias;
    double most = 0.0;
    std::vector<Component> components;
    for (const BudgetLine& line : lines) {
        // What the user takes off comes with the part's place, and stands in the line of the part.
        const double left = line.bias - (line.cause == measure::Cause::linearity ? corrected_bias : 0.0);
        bias += line.bias;
        components.push_back(line.component);
        outcome.contributions.push_back({line.cause, line.component.standard_uncertainty, false});
        if (left != 0.0) outcome.contributions.push_back({line.cause, std::abs(left), true});
        const double effect = std::abs(left) + 2.0 * line.component.standard_uncertainty;
        if (effect <= most) continue;
        most = effect;
        outcome.largest = line.component.name;
    }
    const auto effect_of_cause = [](const measure::Contribution& c) { return c.systematic ? c.size : 2.0 * c.size; };
    std::stable_sort(outcome.contributions.begin(), outcome.contributions.end(),
                     [&](const auto& a, const auto& b) { return effect_of_cause(a) > effect_of_cause(b); });
    outcome.expanded_uncertainty = std::abs(bias) + combine(components).expanded;
}

}  // namespace

std::vector<std::string> effort_settings(const scenario::Scenario& s, Effort effort) {
    const bool ranking = effort == Effort::ranking;
    const std::int64_t window = 8 * (s.reading.average + s.reading.median);
    const std::int64_t readings = std::max(window, std::min(s.run.readings, ranking ? few_readings : most_readings));
    const std::int64_t patches = ranking ? std::min(s.run.patches, few_patches) : s.run.patches;
    return {fmt::format("run.readings={}", readings), fmt::format("run.patches={}", patches)};
}

Outcome outcome_of(const sensor::Setup& setup, int threads, double corrected_bias, measure::ReadResult* kept) {
    const scenario::Scenario& s = scenario_of(setup);
    Outcome outcome;
    measure::ReadResult result = measure::read(setup, {threads, {}, {}});
    outcome.exposure = result.timing.exposure;
    outcome.period = result.timing.period;
    outcome.response = result.response_time;
    outcome.peak_share = result.signal.peak_share;
    const double still = measure::valid_share(result.statistics);
    outcome.valid_share = result.speckle ? std::min(still, result.speckle->replaced_valid_share) : still;
    if (!result.verdict.reasons.empty()) outcome.largest = in_words(result.verdict.reasons.front());
    const bool has_errors = result.verdict.expanded_uncertainty.has_value();
    if (kept != nullptr) *kept = std::move(result);
    if (!has_errors) return outcome;
    try {
        take_lines(budget_lines(ErrorModel(setup), material_effects(setup, threads), threads), corrected_bias, outcome);
        outcome.level = measure::level_of(s.requirement, outcome.valid_share, outcome.expanded_uncertainty);
    } catch (const base::ScenarioError& error) {
        outcome.obstacle = first_problem_of(error);
        outcome.largest = outcome.obstacle;
    }
    return outcome;
}

NoiselessReading noiseless_reading_of(const sensor::Setup& setup) {
    const double displacement = scenario_of(setup).target.displacement;
    NoiselessReading reading;
    const auto found = [&](const auto& each, const auto& pose, double brightest) {
        reading.timing = pose.timing;
        reading.peak_share = brightest / each.scenario.detector.full_well;
        const auto read = noiseless_reading(each, pose);
        if (read) reading.error = *read - pose.true_displacement;
    };
    std::visit(base::Cases{[&](const sensor::TriangulationSetup& each) {
                               const sensor::Pose pose = make_pose(each, displacement, 1);
                               found(each, pose, expected_peak(pose));
                           },
                           [&](const sensor::FlightSetup& each) {
                               const sensor::FlightPose pose = make_flight_pose(each, displacement);
                               const bool timed_pulses =
                                   std::holds_alternative<scenario::Pulsed>(each.scenario.principle);
                               found(each, pose, timed_pulses ? 0.0 : brightest_bucket(pose));
                           }},
               setup);
    return reading;
}

}  // namespace spotwright::study
