// What every report carries, built into the program: see cmake/embed_report.cmake.
#pragma once

#include <span>
#include <string_view>

namespace spotwright::report {

// Texts in pieces, to be joined; fit to stand in a script or style element.

[[nodiscard]] std::span<const std::string_view> chart_library();  ///< Chart.js, with its notice
[[nodiscard]] std::span<const std::string_view> report_style();   ///< sim/record/report_page.css
[[nodiscard]] std::span<const std::string_view> report_script();  ///< sim/record/report_page.js

/// Checks against published values, as docs/validation.md tells of them.
struct RecordedChecks {
    int made = 0;
    int failed = 0;
};

[[nodiscard]] RecordedChecks recorded_checks();

}  // namespace spotwright::report
