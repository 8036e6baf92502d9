// Style, script and checks of every report, built into the program: see cmake/embed_report.cmake.
#pragma once

#include <string_view>

namespace spotwright::report {

// Fit to stand in a script or style element.

[[nodiscard]] std::string_view report_style();   ///< sim/report/page.css
[[nodiscard]] std::string_view report_script();  ///< sim/report/page.js

// SHA-256 of these texts in base64: a page that names them in its Content-Security-Policy allows no others.

[[nodiscard]] std::string_view style_hash();
[[nodiscard]] std::string_view script_hash();

/// Checks against published values, as listed in docs/validation.md.
struct RecordedChecks {
    int made = 0;
    int failed = 0;
};

[[nodiscard]] RecordedChecks recorded_checks();

}  // namespace spotwright::report
