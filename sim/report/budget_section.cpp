// Sections of a report about uncertainty, and what would lower it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/report/sections.hpp"
#include "sim/record/text.hpp"

namespace spotwright::report {

namespace {

using base::um;

std::string freedom_cell(double degrees) {
    return std::isinf(degrees) ? "infinite" : cell(degrees, 5);
}

std::string lines_table(const study::Budget& budget) {
    const double u = budget.combined.standard_uncertainty;
    std::vector<TextRow> rows;
    for (const study::BudgetLine& line : budget.lines) {
        const study::Component& component = line.component;
        rows.push_back({record::one_line(component.name), component.evaluation == study::Evaluation::a ? "A" : "B",
                        um_uncertainty_cell(component.standard_uncertainty), freedom_cell(component.degrees_of_freedom),
                        rounded_um_cell(line.bias, u), record::one_line(line.basis)});
    }
    rows.push_back({"all together", "", um_uncertainty_cell(u), freedom_cell(budget.combined.degrees_of_freedom),
                    rounded_um_cell(budget.bias, u),
                    fmt::format("k = {}, expanded uncertainty {} um about the bias",
                                cell(budget.combined.coverage_factor), um_uncertainty_cell(budget.combined.expanded))});
    return html_table(
        "Kind A: from the scatter of readings; B: otherwise (GUM 2.3). A bias is not corrected by the sensor.",
        {"cause", "kind", "standard uncertainty / um", "degrees of freedom", "bias / um", "basis"}, rows);
}

Chart lines_chart(const study::Budget& budget) {
    Chart chart;
    chart.id = "budget";
    chart.x.label = "size / um";
    chart.x.low = 0.0;
    chart.description = "Bars of the standard uncertainty and of the bias that each cause brings.";
    constexpr std::size_t most = 14;
    const std::size_t shown = std::min(most, budget.lines.size());
    ChartBars uncertainty{"standard uncertainty", {}, "#0072B2", false};
    ChartBars bias{"size of the bias", {}, "#E69F00", true};
    for (std::size_t i = 0; i < shown; ++i) {
        const study::BudgetLine& line = budget.lines[i];
        chart.categories.push_back(line.component.name);
        uncertainty.spans.push_back({0.0, line.component.standard_uncertainty / um});
        bias.spans.push_back({0.0, std::abs(line.bias) / um});
    }
    double longest = 0.0;
    for (std::size_t i = 0; i < shown; ++i) longest = std::max({longest, uncertainty.spans[i][1], bias.spans[i][1]});
    chart.x.high = 1.05 * longest;
    chart.x.soft = true;
    chart.bars = {uncertainty, bias};
    chart.caption = "What each cause brings, by itself. Uncertainties combine by squares; a bias adds in full.";
    if (shown < budget.lines.size()) chart.caption += fmt::format(" The {} largest causes.", shown);
    return chart;
}

Chart intervals_chart(const study::Budget& budget, double tolerance) {
    Chart chart;
    chart.id = "intervals";
    chart.x.label = "error / um";
    chart.description = "Bars of the 95 % interval of the error by the GUM and by Monte Carlo, with the tolerance.";
    const double low = (budget.bias - budget.combined.expanded) / um;
    const double high = (budget.bias + budget.combined.expanded) / um;
    const study::Interval& trials = budget.together.shortest;
    chart.categories = {"GUM", "Monte Carlo"};
    chart.bars = {{"95 % interval of the error", {{low, high}, {trials.low / um, trials.high / um}}, "#0072B2", false}};
    for (const double limit : {-tolerance / um, tolerance / um}) {
        drawing::ChartMark mark;
        mark.value = limit;
        mark.label = "tolerance";
        chart.marks.push_back(mark);
    }
    const double reach = 1.08 * std::max({std::abs(low), std::abs(high), std::abs(trials.low) / um,
                                          std::abs(trials.high) / um, tolerance / um});
    chart.x.low = -reach;
    chart.x.high = reach;
    chart.x.soft = true;
    chart.caption = "The error of a reading with 95 % probability; dashed lines: the tolerance.";
    return chart;
}

std::string intervals_table(const study::Budget& budget) {
    const study::MonteCarlo& trials = budget.together;
    const auto row = [](const char* name, double mean, double deviation, double low, double high) {
        return TextRow{name, rounded_um_cell(mean, deviation), um_uncertainty_cell(deviation),
                       rounded_um_cell(low, deviation), rounded_um_cell(high, deviation)};
    };
    return html_table(
        fmt::format(
            "95 % intervals of the error. Monte Carlo: {} trials of the whole model, {} without a result; ends "
            "known to {} um; {}.",
            trials.trials, trials.without_result, um_cell(trials.end_error, 2),
            trials.settled ? "its results had settled" : "it ended by its limit before its results had settled"),
        {"method", "mean / um", "standard uncertainty / um", "from / um", "to / um"},
        {row("GUM", budget.bias, budget.combined.standard_uncertainty, budget.bias - budget.combined.expanded,
             budget.bias + budget.combined.expanded),
         row("Monte Carlo, shortest", trials.mean, trials.standard_uncertainty, trials.shortest.low,
             trials.shortest.high),
         row("Monte Carlo, symmetric", trials.mean, trials.standard_uncertainty, trials.symmetric.low,
             trials.symmetric.high)});
}

std::string agreement(const study::Budget& budget) {
    const std::string sizes =
        fmt::format("their ends differ by up to {} um where {} um are allowed",
                    um_uncertainty_cell(budget.disagreement), um_uncertainty_cell(budget.tolerance));
    if (!budget.conclusive) {
        return fmt::format(
            "The methods cannot be compared: {}, and the ends of the Monte Carlo interval depend on a few trials. "
            "Large and rare errors do this.",
            sizes);
    }
    if (budget.agrees) return fmt::format("Both methods agree: {}.", sizes);
    return fmt::format(
        "The methods disagree: {}. Causes are not independent, or not normal; the Monte Carlo interval is the one to "
        "use.",
        sizes);
}

std::string cost_text(const study::ChangeCost& cost) {
    std::string text;
    const auto add = [&text](const std::string& words) { text += (text.empty() ? "" : "; ") + words; };
    if (cost.speed > 0.0) add(fmt::format("{} % slower", cell(100.0 * cost.speed, 3)));
    if (cost.range > 0.0) add(fmt::format("{} % less range", cell(100.0 * cost.range, 3)));
    if (cost.parts > 0) add(fmt::format("{} other part{}", cost.parts, cost.parts == 1 ? "" : "s"));
    return text.empty() ? "nothing" : text;
}

TextRow trial_row(const std::string& rank, const study::Trialled& trial) {
    std::string changes;
    for (const std::string& change : trial.changes) changes += (changes.empty() ? "" : "; ") + record::one_line(change);
    std::string settings;
    for (const std::string& setting : trial.settings)
        settings += (settings.empty() ? "" : " ") + record::one_line(setting);
    const std::string result =
        trial.obstacle.empty() ? std::string(measure::name_of(trial.level)) : record::one_line(trial.obstacle);
    return {rank,
            changes.empty() ? "as it is" : changes,
            settings,
            cost_text(trial.cost),
            trial.expanded_uncertainty ? uncertainty_cell(*trial.expanded_uncertainty) : "none",
            cell(100.0 * trial.valid_share),
            result};
}

std::string trials_table(const std::string& caption, const std::vector<study::Trialled>& trials,
                         std::size_t first_rank) {
    std::vector<TextRow> rows;
    for (const study::Trialled& trial : trials)
        rows.push_back(trial_row(std::to_string(first_rank + rows.size()), trial));
    return html_table(caption, {"rank", "change", "settings", "cost", "error +-", "valid / %", "result"}, rows);
}

}  // namespace

std::string budget_section(const ReportContent& content) {
    if (!content.budget || content.budget->lines.empty()) return {};
    const study::Budget& budget = *content.budget;
    std::string text = chart_figure(lines_chart(budget)) + lines_table(budget);
    text += chart_figure(intervals_chart(budget, content.scenario.requirement.tolerance));
    text += intervals_table(budget) + html_paragraph(agreement(budget));
    return text + html_paragraph(fmt::format("Bias and expanded uncertainty together: +-{}. Valid trials: {} %.",
                                             uncertainty_cell(budget.error_bound), cell(100.0 * budget.valid_share)));
}

std::string advice_section(const ReportContent& content) {
    if (!content.advice) return {};
    const study::Advice& advice = *content.advice;
    std::string text = advice.summary.empty() ? "" : html_paragraph(advice.summary);
    text += trials_table("The job as it is.", {advice.as_it_is}, 0);
    if (!advice.reaching.empty()) {
        text += trials_table("Changes after which the part reads stably, cheapest first.", advice.reaching, 1);
    }
    if (!advice.others.empty()) {
        text += trials_table("Changes that do not reach it, best first.", advice.others, advice.reaching.size() + 1);
    }
    return text +
           html_paragraph("Each was tried in the model. No change raises the power past the laser class of the job.");
}

}  // namespace spotwright::report
