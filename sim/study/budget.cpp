#include "sim/measure/inside_error.hpp"
#include "sim/study/budget.hpp"

#include <boost/math/distributions/normal.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <mutex>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/base/words.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/study/budget_lines.hpp"
#include "sim/study/budget_around.hpp"
#include "sim/study/budget_motion.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/motion.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

namespace {

// Everything that is not known, drawn together.
Draw draw_of_all(const scenario::Scenario& s, double flicker, base::RandomSequence& random) {
    const auto within = [&random](double half_width) { return half_width * (2.0 * random.uniform() - 1.0); };
    Draw draw = nominal_draw(s);
    draw.displacement += within(s.uncertainty.displacement);
    draw.tilt[0] += within(s.uncertainty.tilt);
    draw.tilt[1] += within(s.uncertainty.tilt);
    draw.temperature += within(s.uncertainty.temperature);
    draw.ambient += within(s.uncertainty.illuminance_share);
    if (scenario::has_markings(s.target))
        draw.position = {within(s.uncertainty.position), within(s.uncertainty.position)};
    if (flicker != 0.0) draw.ambient *= 1.0 + flicker * std::cos(2.0 * base::pi * random.uniform());
    return draw;
}

// Trials that share a drawn part, of which each has another patch, noise, background and reference: working out the
// light takes longest. Blocks hold whole shares, so that their scatter gives the error of the whole.
constexpr std::int64_t trials_per_draw = 8;

std::vector<std::optional<double>> errors_of_all(const ErrorModel& model, const std::vector<MaterialEffect>& material,
                                                 std::int64_t draws, const BudgetOptions& options) {
    const scenario::Scenario& s = scenario_of(model.setup());
    const base::RandomKey key{static_cast<std::uint64_t>(s.seed), base::Stream::budget_trial};
    // A part that moves brings the errors of a moment of its series, which with a passing surface hold the speckle.
    const bool passes = measure::surface_passes(s);
    const MotionErrors motion = motion_errors(model.setup(), passes, options.threads);
    const double at_rest = motion.errors.empty() ? 0.0 : model.error_at(nominal_draw(s)).value_or(0.0);
    const double flicker = model.flicker_amplitude();
    const AroundErrors around = around_errors(model.setup());
    const double inside = measure::inside_error_of(model.setup());
    std::vector<std::optional<double>> errors(static_cast<std::size_t>(draws * trials_per_draw));
    std::mutex mutex;
    std::int64_t done = 0;
    base::parallel_for(draws, options.threads, [&](std::int64_t i) {
        base::RandomSequence random(key, i);
        const Draw draw = draw_of_all(s, flicker, random);
        const std::int64_t first = i * trials_per_draw;
        std::vector<Realisation> chances;
        for (std::int64_t k = first; k < first + trials_per_draw; ++k) {
            chances.push_back({passes ? std::nullopt : std::optional(k + 1), k});
        }
        double by_material = 0.0;
        for (const MaterialEffect& effect : material) by_material += effect.at(2.0 * random.uniform() - 1.0);
        const boost::math::normal_distribution<double> normal;
        auto found = model.errors_at(draw, chances);
        for (std::size_t k = 0; k < found.size(); ++k) {
            const double reference = s.uncertainty.reference * boost::math::quantile(normal, random.uniform());
            double moved = 0.0;
            // On its way the part may be where there is no reading.
            const bool lost = motion.lost_share > 0.0 && random.uniform() < motion.lost_share;
            if (!motion.errors.empty()) {
                const auto count = static_cast<double>(motion.errors.size());
                moved = motion.errors[static_cast<std::size_t>(count * random.uniform())] - at_rest;
            }
            const double beside = around.drawn(random);
            if (found[k] && !lost) {
                errors[static_cast<std::size_t>(first) + k] =
                    *found[k] + reference + moved + by_material + beside + inside;
            }
        }
        const std::lock_guard lock(mutex);
        ++done;
        if (options.progress) options.progress(done, draws);
    });
    return errors;
}

MonteCarlo all_together(const ErrorModel& model, const std::vector<MaterialEffect>& material,
                        const BudgetOptions& options) {
    const scenario::Scenario& s = scenario_of(model.setup());
    constexpr std::int64_t blocks = 10;
    const std::int64_t per_block = std::max<std::int64_t>(2, s.run.trials / (blocks * trials_per_draw));
    const auto errors = errors_of_all(model, material, blocks * per_block, options);
    MonteCarloOptions monte_carlo_options;
    monte_carlo_options.block = per_block * trials_per_draw;
    monte_carlo_options.most = blocks * monte_carlo_options.block;
    monte_carlo_options.threads = 1;
    monte_carlo_options.digits = 9;  // all of them count
    return monte_carlo([&errors](std::int64_t index) { return errors[static_cast<std::size_t>(index)]; },
                       monte_carlo_options);
}

double effect_of(const BudgetLine& line) {
    return std::abs(line.bias) + 2.0 * line.component.standard_uncertainty;
}

// The value of `[uncertainty]` that a line comes from, where nobody wrote it and the level hangs on it; else empty.
std::string taken_as(const scenario::Scenario& s, measure::Cause cause, measure::Level level) {
    const auto key = [cause]() -> std::string {
        switch (cause) {
            case measure::Cause::tilt:
                return "uncertainty.tilt_deg";
            case measure::Cause::temperature:
                return "uncertainty.temperature_K";
            case measure::Cause::ambient_change:
                return "uncertainty.illuminance_share";
            case measure::Cause::material:
                return "uncertainty.material_share";
            case measure::Cause::reference:
                return "uncertainty.reference_um";
            default:
                return {};
        }
    }();
    if (key.empty() || level == measure::Level::stable) return {};
    const auto value = scenario::default_in_use(s, key);
    return value ? fmt::format("{} = {}", key, *value) : std::string();
}

measure::Verdict verdict_of(const scenario::Scenario& s, const Budget& budget) {
    measure::Verdict verdict;
    verdict.covers = measure::Covers::open_questions;
    verdict.valid_share = budget.valid_share;
    const double whole = std::max(std::abs(budget.together.shortest.low), std::abs(budget.together.shortest.high));
    const double bound = budget.agrees ? budget.error_bound : whole;
    verdict.expanded_uncertainty = bound;
    verdict.level = measure::level_of(s.requirement, budget.valid_share, bound);
    for (const BudgetLine& line : budget.lines) {
        verdict.contributions.push_back({line.cause, line.component.standard_uncertainty, false});
        if (line.bias != 0.0) verdict.contributions.push_back({line.cause, std::abs(line.bias), true});
    }
    const BudgetLine& first = budget.lines.front();
    verdict.reasons.emplace_back(measure::LargestLine{bound, sensor::percent_of_span(s, bound), s.requirement.tolerance,
                                                      first.cause, first.bias, first.component.standard_uncertainty,
                                                      taken_as(s, first.cause, verdict.level)});
    if (!budget.agrees) {
        verdict.reasons.emplace_back(
            measure::MonteCarloDiffers{budget.together.shortest.low, budget.together.shortest.high,
                                       budget.bias - budget.combined.expanded, budget.bias + budget.combined.expanded});
    }
    if (budget.valid_share < 1.0) verdict.reasons.emplace_back(measure::TrialsLost{1.0 - budget.valid_share});
    return verdict;
}

}  // namespace

Budget budget(const sensor::Setup& setup, const BudgetOptions& options) {
    const scenario::Scenario& s = scenario_of(setup);
    const ErrorModel model(setup);
    const std::vector<MaterialEffect> material = material_effects(setup, options.threads);
    Budget result;
    result.lines = budget_lines(model, material, options.threads);
    std::stable_sort(result.lines.begin(), result.lines.end(),
                     [](const BudgetLine& a, const BudgetLine& b) { return effect_of(a) > effect_of(b); });
    std::vector<Component> components;
    std::vector<Component> of_this_sensor;  // what the Monte Carlo has: it reads with one specimen
    for (const BudgetLine& line : result.lines) {
        result.bias += line.bias;
        components.push_back(line.component);
        if (line.cause != measure::Cause::making) of_this_sensor.push_back(line.component);
    }
    result.combined = combine(components);
    result.error_bound = std::abs(result.bias) + result.combined.expanded;
    try {
        result.together = all_together(model, material, options);
    } catch (const base::DomainError& error) {
        scenario::reject(s, "run.trials", error.what(), "doubts within which the part gives valid readings");
    }
    result.valid_share =
        1.0 - static_cast<double>(result.together.without_result) / static_cast<double>(result.together.trials);
    const double expanded = combine(of_this_sensor).expanded;
    const double low = result.bias - expanded;
    const double high = result.bias + expanded;
    result.disagreement =
        std::max(std::abs(low - result.together.shortest.low), std::abs(high - result.together.shortest.high));
    constexpr double share = 0.1;
    constexpr double errors = 3.0;
    result.tolerance = share * expanded + errors * result.together.end_error;
    result.agrees = result.disagreement <= result.tolerance;
    constexpr double telling = 0.5;
    result.conclusive = result.tolerance <= telling * expanded;
    result.verdict = verdict_of(s, result);
    return result;
}

}  // namespace spotwright::study
