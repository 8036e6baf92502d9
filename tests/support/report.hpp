// A report of invented numbers that holds everything a report may hold.
#pragma once

#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/report/report.hpp"
#include "tests/support/drawing.hpp"
#include "tests/support/record.hpp"

namespace spotwright::test {

inline const std::string some_svg =
    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"297mm\" "
    "height=\"210mm\" viewBox=\"0 0 297 210\">\n<title>A drawing</title>\n<g id=\"axes\"><line x1=\"1\" y1=\"2\" "
    "x2=\"3\" y2=\"4\" stroke=\"#000\"/></g>\n<text x=\"9\" y=\"9\">say id=\"axes\" here</text>\n</svg>\n";

/// Values without order that no formula of the program gives: between -1 and 1.
inline double unordered(int i) {
    const double t = std::sin(12.9898 * i) * 43758.5453;
    return 2.0 * (t - std::floor(t)) - 1.0;
}

inline report::SeriesTrace some_trace() {
    report::SeriesTrace trace;
    trace.readings = 300;
    trace.period = 133e-6;
    for (int i = 0; i < 300; ++i) trace.output.push_back({i, 1e-3 + 1e-6 * unordered(i)});
    trace.output[40].value = nan_value;
    trace.missing = 1;
    trace.with_missing = {40};
    trace.truth = {{0, 1e-3}, {299, 1e-3}};
    return trace;
}

inline std::vector<study::LinearityCurve> some_curves() {
    std::vector<study::LinearityCurve> curves;
    for (const char* material : {"white-ceramic", "black-rubber", "matt <paint>", "translucent-polymer"}) {
        study::LinearityCurve curve;
        curve.material = material;
        const double size = 1e-6 * static_cast<double>(curves.size() + 1);
        for (int i = 0; i <= 20; ++i) {
            const double s = -5e-3 + 0.5e-3 * i;
            curve.displacement.push_back(s);
            curve.error.push_back(size * std::sin(900.0 * s + static_cast<double>(curves.size())));
        }
        const study::NonLinearity figure{0.0, 0.0, size};
        curve.figures = study::LinearityFigures{figure, figure, figure, figure};
        curves.push_back(curve);
    }
    study::LinearityCurve dark;
    dark.material = "mirror";
    dark.unread = 21;
    curves.push_back(dark);
    return curves;
}

inline study::DriftStudy some_drift() {
    study::DriftStudy drift;
    drift.causes = {{"housing", 1e-7, 2e-7, 3e-7}, {"all together", 1e-7, 2e-7, 3e-7}};
    for (int i = 0; i <= 120; ++i) {
        const double warmth = 8.0 * (1.0 - std::exp(-i / 30.0));
        drift.path.push_back({60.0 * i, 293.15 + warmth, 2e-7 * warmth, 2e-7 * warmth - (i >= 60 ? 1.4e-6 : 0.0)});
    }
    drift.resets = {{study::endless, 1.2e-6, 1.6e-6}, {3600.0, 5e-7, 1.4e-6}};
    return drift;
}

inline study::AllanStudy some_allan() {
    study::AllanStudy study;
    study.readings = study.used = 1024;
    for (std::int64_t count = 1; count <= 256; count *= 2) {
        const auto n = static_cast<double>(count);
        const double deviation = 1e-7 * std::sqrt(1.0 / n + 1e-5 * n);
        study.curve.push_back(
            {count,
             133e-6 * n,
             deviation,
             {deviation * (1.0 - 0.03 * std::sqrt(n) / 2.0), deviation * (1.0 + 0.05 * std::sqrt(n) / 2.0)}});
    }
    return study;
}

inline study::Budget some_budget() {
    study::Budget budget;
    // One by one: g++ 12 warns of the temporaries of a list.
    using study::BudgetLine, study::Component, study::Evaluation;
    const auto add = [&budget](const Component& component, double bias, const char* basis) {
        budget.lines.push_back(BudgetLine{measure::Cause::noise, component, bias, basis});
    };
    add({"speckle, the same while the part stands still", Evaluation::a, 2.5e-6, 255.0}, 0.0,
        "scatter from patch to patch");
    add({"bias of this part", Evaluation::b, 0.4e-6, study::endless}, -1.75e-6, "without noise");
    add({"tilt of the part", Evaluation::b, 0.9e-6, study::endless}, 0.0, "half width 0.5 deg");
    budget.bias = -1.75e-6;
    budget.combined = {2.7e-6, 290.0, 1.968, 5.3e-6};
    budget.error_bound = 7.05e-6;
    budget.together.trials = 20000;
    budget.together.without_result = 3;
    budget.together.mean = -1.7e-6;
    budget.together.standard_uncertainty = 2.72e-6;
    budget.together.shortest = {-7.1e-6, 3.6e-6};
    budget.together.symmetric = {-7.0e-6, 3.7e-6};
    budget.together.end_error = 0.04e-6;
    budget.together.settled = true;
    budget.disagreement = 0.05e-6;
    budget.tolerance = 0.53e-6;
    budget.agrees = true;
    budget.valid_share = 0.99985;
    budget.verdict.level = measure::Level::marginal;
    budget.verdict.covers = measure::Covers::open_questions;
    budget.verdict.valid_share = budget.valid_share;
    budget.verdict.expanded_uncertainty = budget.error_bound;
    budget.verdict.contributions = {{measure::Cause::patches, 2.5e-6, false}};
    budget.verdict.reasons = {measure::TrialsLost{0.03}};
    return budget;
}

inline study::Advice some_advice() {
    study::Advice advice;
    advice.as_it_is.level = measure::Level::marginal;
    advice.as_it_is.expanded_uncertainty = 7.05e-6;
    advice.as_it_is.valid_share = 0.99985;
    study::Trialled wider;
    wider.changes = {"a lens half as wide again"};
    wider.settings = {"receiver.aperture_mm=6.0"};
    wider.cost.parts = 1;
    wider.level = measure::Level::stable;
    wider.expanded_uncertainty = 4.9e-6;
    wider.valid_share = 1.0;
    study::Trialled closer = wider;
    closer.changes = {"mounted closer"};
    closer.level = measure::Level::unreadable;
    closer.expanded_uncertainty.reset();
    closer.obstacle = "the array would stand in the beam";
    closer.cost = {0.25, 0.4, 0};
    advice.reaching = {wider};
    advice.others = {closer};
    advice.summary = "A lens half as wide again would do.";
    return advice;
}

inline report::ReportContent min_content(const std::string& title = "A trial") {
    report::ReportContent content;
    content.scenario = some_scenario(title);
    content.program = "spotwright 0.0.0";
    content.date = some_date;
    return content;
}

inline report::ReportContent full_content(const std::string& title = "A trial") {
    report::ReportContent content = min_content(title);
    content.left_out = "what nobody asked for";
    content.layout_drawing = some_svg;
    content.reading_picture = some_svg;
    content.laser = report::LaserNote{"2", "an invented caution"};
    content.read = some_result();
    content.series = some_trace();
    std::vector<double> outputs;
    for (const report::TracePoint& point : content.series->output) outputs.push_back(point.value);
    content.histogram = report::histogram_of(outputs);
    content.read->tracking = measure::TrackingResult{};
    content.read->exposure_use = measure::ExposureUse{};
    content.scenario.reading.zero_reset = 3600.0;
    content.linearity = some_curves();
    content.drift = some_drift();
    content.allan = some_allan();
    content.budget = some_budget();
    content.advice = some_advice();
    content.checks = report::RecordedChecks{12, 0};
    return content;
}

}  // namespace spotwright::test
