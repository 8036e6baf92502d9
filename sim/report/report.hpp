// The report: one HTML file that an engineer hands on.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/report/embedded_report.hpp"
#include "sim/report/histogram_bins.hpp"
#include "sim/report/series_trace.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/study/advice.hpp"
#include "sim/study/allan.hpp"
#include "sim/study/budget.hpp"
#include "sim/study/drift.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/study/linearity.hpp"
#include "sim/measure/read.hpp"

namespace spotwright::report {

/// Estimate of the laser class, and the caution that goes with it.
struct LaserNote {
    std::string estimate;
    std::string caution;
};

/// Everything that a report may show. Empty members are left out.
struct ReportContent {
    scenario::Scenario scenario;
    std::string program;          ///< name and version
    std::string date;             ///< ISO 8601; the same date and content give the same bytes
    std::string left_out;         ///< effects that the models leave out, in a few words
    std::string layout_drawing;   ///< SVG by `draw_layout` or `draw_flight_layout`
    std::string mounting_figure;  ///< SVG by `draw_mounting_figure`; may be empty
    std::string reading_picture;  ///< SVG by `draw_profile` or `draw_flight_reading`
    std::optional<LaserNote> laser;
    std::optional<measure::ReadResult> read;
    std::optional<SeriesTrace> series;
    std::optional<Histogram> histogram;  ///< of outputs; of a part that moves, of outputs less truth. [m]
    std::vector<study::LinearityCurve> linearity;
    std::optional<study::DriftStudy> drift;
    std::optional<study::AllanStudy> allan;  ///< of outputs. [m]
    std::string about_series;                ///< the readings behind histogram and Allan deviation, if not all
    std::optional<study::Budget> budget;
    std::optional<study::EnsembleSpread> ensemble;  ///< of an inferred sensor, judged as the answer is
    std::optional<study::Advice> advice;
    std::optional<RecordedChecks> checks;
    std::vector<std::string> not_studied;  ///< studies that were impossible, and why: sentences
};

/// One self-contained page: no network, no fonts, no links to outside. It is complete without scripts.
[[nodiscard]] std::string report_html(const ReportContent& content);

}  // namespace spotwright::report
