#include "sim/cli/describe_studies.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/base/words.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/cli/terminal.hpp"

namespace spotwright::cli {

namespace {

using base::um;

std::string u_in_um(double uncertainty) {
    return base::two_digits(uncertainty / um);
}

// To the second digit of an uncertainty; 0 without decimals.
std::string rounded_in_um(double length, double uncertainty) {
    return length == 0.0 ? "0" : base::value_text(length, uncertainty, um, 4);
}

// A length of signs in proportion to a share of the largest.
std::string bar(double size, double largest) {
    constexpr double width = 24.0;
    const auto signs = static_cast<std::size_t>(std::lround(width * size / largest));
    return largest > 0.0 ? std::string(signs, '#') : "";
}

std::string freedom_text(double degrees_of_freedom) {
    constexpr double many = 1e4;  // from here on k has three digits of its limit
    if (!std::isfinite(degrees_of_freedom)) return "-";
    return degrees_of_freedom < many ? fmt::format("{:.0f}", degrees_of_freedom) : "many";
}

std::string title_of(const scenario::Scenario& s) {
    return printable(s.title.empty() ? s.file : s.title);
}

// What the difference between both intervals tells.
std::string comparison_of(const study::Budget& budget) {
    const std::string differs = fmt::format("ends differ by {} um", u_in_um(budget.disagreement));
    if (!budget.conclusive) {
        return fmt::format(
            "{}; the ends of these trials are known to {} um only, so that the two cannot be compared: a few trials "
            "are far off",
            differs, u_in_um(budget.together.end_error));
    }
    return fmt::format("{}, {} the {} um allowed: the two {}", differs, budget.agrees ? "within" : "MORE than",
                       u_in_um(budget.tolerance), budget.agrees ? "agree" : "do not agree");
}

}  // namespace

std::string describe(const study::DriftStudy& study, const scenario::Scenario& s) {
    std::string text = table(record::drift_table(study.causes, s.mount.range[1] - s.mount.range[0]));
    if (!study.resets.empty()) text += table(record::resets_table(study.resets));
    return text;
}

std::string describe(const study::Budget& budget, const scenario::Scenario& s,
                     const std::optional<study::EnsembleSpread>& ensemble) {
    std::vector<std::vector<std::string>> rows{{"cause", "kind", "bias um", "u um", "freedom", "effect"}};
    const auto effect = [](const study::BudgetLine& line) {
        return std::abs(line.bias) + 2.0 * line.component.standard_uncertainty;
    };
    const double u = budget.combined.standard_uncertainty;
    double largest = 0.0;
    for (const study::BudgetLine& line : budget.lines) largest = std::max(largest, effect(line));
    for (const study::BudgetLine& line : budget.lines) {
        rows.push_back({line.component.name, line.component.evaluation == study::Evaluation::a ? "A" : "B",
                        rounded_in_um(line.bias, u), u_in_um(line.component.standard_uncertainty),
                        freedom_text(line.component.degrees_of_freedom), bar(effect(line), largest)});
    }
    std::string text = fmt::format("{}\n{}", title_of(s), table(rows));
    const auto add = [&text](std::string_view head, const std::string& rest) {
        text += fmt::format("  {:<13}{}\n", head, wrapped(rest, 15));
    };
    const study::MonteCarlo& all = budget.together;
    add("combined",
        fmt::format("bias {} um, u {} um, k {:.3g} ({} degrees of freedom): {} +- {} um, 95 %",
                    rounded_in_um(budget.bias, u), u_in_um(u), budget.combined.coverage_factor,
                    freedom_text(budget.combined.degrees_of_freedom),
                    rounded_in_um(budget.bias, budget.combined.expanded), u_in_um(budget.combined.expanded)));
    add("together",
        fmt::format("{} trials of everything at once: mean {} um, u {} um, shortest 95 % from {} to {} um", all.trials,
                    rounded_in_um(all.mean, all.standard_uncertainty), u_in_um(all.standard_uncertainty),
                    rounded_in_um(all.shortest.low, all.standard_uncertainty),
                    rounded_in_um(all.shortest.high, all.standard_uncertainty)));
    add("", comparison_of(budget));
    text += describe(budget.verdict, s.requirement, ensemble);
    for (const measure::Reason& reason : budget.verdict.reasons) {
        text += fmt::format("    - {}\n", wrapped(in_words(reason), 6));
    }
    return text;
}

namespace {

std::string changes_of(const study::Trialled& trial) {
    std::string text;
    for (const std::string& change : trial.changes) text += (text.empty() ? "" : "; ") + change;
    return text.empty() ? "as it is" : text;
}

std::string result_of(const study::Trialled& trial) {
    if (!trial.obstacle.empty()) return "cannot be: " + trial.obstacle;
    const std::string errors =
        trial.expanded_uncertainty
            ? fmt::format("errors up to {}, ", base::uncertainty_text(*trial.expanded_uncertainty))
            : "";
    return fmt::format("{}, {}{:.4g} % valid", measure::name_of(trial.level), errors, 100.0 * trial.valid_share);
}

std::string cost_of(const study::Trialled& trial) {
    return fmt::format("costs {:.0f} % of speed, {:.0f} % of range, {} part{} changed", 100.0 * trial.cost.speed,
                       100.0 * trial.cost.range, trial.cost.parts, trial.cost.parts == 1 ? "" : "s");
}

std::string settings_of(const study::Trialled& trial) {
    std::string text;
    for (const std::string& setting : trial.settings) text += fmt::format(" --set '{}'", setting);
    return text.empty() ? text : text.substr(1);
}

}  // namespace

std::string describe(const study::Advice& advice, const scenario::Scenario& s) {
    std::string text = fmt::format("{}\n  {:<13}{}\n  {:<13}{}\n", title_of(s), "as it is", result_of(advice.as_it_is),
                                   "advice", wrapped(advice.summary, 15));
    int rank = 0;
    for (const study::Trialled& trial : advice.reaching) {
        text += fmt::format("  {:>2}. {}\n      {}\n      {}\n      {}\n", ++rank, wrapped(changes_of(trial), 6),
                            result_of(trial), cost_of(trial), settings_of(trial));
    }
    if (advice.others.empty()) return text;
    text += "  not enough, best first\n";
    constexpr std::size_t most = 8;
    for (std::size_t i = 0; i < std::min(most, advice.others.size()); ++i) {
        const study::Trialled& trial = advice.others[i];
        text += fmt::format("    - {}\n", wrapped(changes_of(trial) + ": " + result_of(trial), 6));
    }
    if (advice.others.size() > most) {
        text += fmt::format("    - and {} more, which --json lists\n", advice.others.size() - most);
    }
    return text;
}

}  // namespace spotwright::cli
