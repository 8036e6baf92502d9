// The sections of a report. Each returns markup, empty if its content is missing.
#pragma once

#include <string>
#include <vector>

#include "sim/report/report.hpp"
#include "sim/report/chart.hpp"

namespace spotwright::report {

/// The answer of the report: the verdict of the widest study it has, budget, readings, advice. A report shows this
/// level and no other.
struct Answer {
    measure::Verdict verdict;           ///< its contributions may be missing
    std::optional<double> uncertainty;  ///< expanded, bias included. [m]
    std::string headline;               ///< the level, beside those of other sensors that fit the sheet
    std::string explanation;            ///< of the level, in one line
    std::vector<std::string> reasons;
    std::string largest;  ///< cause, in words; empty: none is known
    std::string next;     ///< what to try first; empty: nothing is needed
    std::string basis;    ///< the study it comes from
};
[[nodiscard]] std::optional<Answer> answer_of(const ReportContent& content);

/// The answer at a glance, for the first screen and the first printed page: level by word, sign and colour, why it is
/// that, tolerance and error as a bar, largest cause, next step, and the mounting. Empty without an answer.
[[nodiscard]] std::string answer_panel(const ReportContent& content);

/// Numbers of the part where it stands, or of its motion and changes.
enum class About { part, motion };

/// Rows of the numbers of a reading, "label, value", under a heading row for each group. Labels are the long names of
/// the table of quantities. Empty without a reading.
[[nodiscard]] std::vector<TextRow> reading_rows(const ReportContent& content, About about);

[[nodiscard]] std::string verdict_section(const ReportContent& content);
[[nodiscard]] std::string job_section(const ReportContent& content);

[[nodiscard]] std::string series_section(const ReportContent& content);
[[nodiscard]] std::string histogram_section(const ReportContent& content);
[[nodiscard]] std::string allan_section(const ReportContent& content);
[[nodiscard]] std::string linearity_section(const ReportContent& content);
[[nodiscard]] std::string drift_section(const ReportContent& content);
[[nodiscard]] std::string budget_section(const ReportContent& content);
[[nodiscard]] std::string advice_section(const ReportContent& content);

[[nodiscard]] std::string models_section(const ReportContent& content);
[[nodiscard]] std::string checks_section(const ReportContent& content);
[[nodiscard]] std::string sources_section(const ReportContent& content);
[[nodiscard]] std::string cautions_section(const ReportContent& content);

}  // namespace spotwright::report
