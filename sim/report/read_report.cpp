#include "sim/report/read_report.hpp"

#include <fmt/format.h>

#include <functional>
#include <string_view>

#include "sim/base/errors.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/drawing/drawings.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/scenario/input_files.hpp"
#include "sim/sensor/flight_layout.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/base/cases.hpp"

namespace spotwright::report {

namespace {

const std::filesystem::path& checked_html(const std::filesystem::path& out, const scenario::Scenario& s) {
    static_cast<void>(record::checked_extension(out, {".html"}));
    record::keep_inputs(out, scenario::input_files(s));
    return out;
}

// A failed study is left out, and the page says so.
void attempt(ReportContent& content, std::string_view what, const std::function<void()>& study) {
    const auto note = [&](const std::string& why) {
        content.not_studied.push_back(fmt::format("{} was not studied: {}.", what, why));
    };
    try {
        study();
    } catch (const base::ScenarioError& error) {
        note(error.problems().front().message);
    } catch (const base::DomainError& error) {
        note(error.what());
    }
}

}  // namespace

std::string left_out(const scenario::Scenario& s) {
    using scenario::ShapeKind;
    const scenario::Target& t = s.target;
    // No place of a convex part sees another.
    const bool is_convex = t.shape == ShapeKind::plane || t.shape == ShapeKind::plate ||
                           (t.shape == ShapeKind::cylinder && t.cylinder.curvature == scenario::Curvature::convex) ||
                           (t.shape == ShapeKind::sphere && t.sphere.curvature == scenario::Curvature::convex);
    const bool alone = is_convex || s.run.model == scenario::LightModel::ray;
    const auto of_image = [alone](scenario::Triangulation) {
        return alone ? "" : "light that the part throws on itself, which `--model ray` traces";
    };
    const char* of_timing = alone ? "" : "light that the part throws on itself, which `--model ray` traces";
    return std::visit(base::Cases{of_image, [&](scenario::PhaseShift) { return of_timing; },
                                  [&](scenario::Pulsed) { return of_timing; }},
                      s.principle);
}

ReportFile::ReportFile(const std::filesystem::path& out, const scenario::Scenario& s, const std::string& when)
    : file_(checked_html(out, s)) {
    content_.scenario = s;
    const record::SeriesOrigin origin = record::origin_of(s, when);
    content_.program = origin.source;
    content_.date = origin.date;
    content_.left_out = left_out(s);
    content_.checks = recorded_checks();
    content_.layout_drawing = drawing::draw_geometry(s);
    content_.mounting_figure = drawing::draw_mounting_figure(s);
    const auto laser_of = [](const auto& layout) { return LaserNote{layout.laser_class, layout.laser_caution}; };
    content_.laser = std::visit(laser_of, sensor::layout_of(s));
}

void ReportFile::commit() {
    file_.write(report_html(content_));
    file_.commit();
}

ReadReport::ReadReport(const std::filesystem::path& out, const scenario::Scenario& s, const std::string& when)
    : file_(out, s, when), series_(s) {}

void ReadReport::fill(const sensor::Setup& setup, const measure::ReadResult& result, int threads) {
    ReportContent& content = file_.content();
    // One report has one verdict: with a budget, its own.
    measure::ReadResult shown = result;
    if (content.budget) {
        shown.verdict = content.budget->verdict;
        shown.verdict.expanded_uncertainty = result.verdict.expanded_uncertainty;
    }
    content.reading_picture = drawing::draw_reading(setup, shown);
    content.read = result;
    content.series = series_.trace();
    if (!series_.part_moves()) {
        content.series->truth = {{0, result.true_displacement},
                                 {content.series->readings - 1, result.true_displacement}};
    }
    content.histogram = histogram_of(series_.outputs());
    // Differences of outputs are noise only while the part is still.
    if (!series_.part_moves()) content.allan = study::allan_study(series_.outputs(), content.series->period);
    if (!series_.whole()) {
        content.about_series = fmt::format("Of the first {} readings.", SeriesCollector::most_kept);
    }
    attempt(content, "The error over the range", [&] {
        content.linearity =
            study::linearity_study(setup, study::materials_compared(), study::places_over_range, threads);
    });
    attempt(content, "Drift with temperature", [&] { content.drift = study::drift_study(setup, threads); });
}

void ReadReport::read_and_fill(const sensor::Setup& setup, int threads) {
    measure::ReadOptions options;
    options.threads = threads;
    options.sink = [this](const measure::SeriesBlock& block) { add(block); };
    const measure::ReadResult result = measure::read(setup, options);
    fill(setup, result, threads);
}

void ReadReport::add_budget(const sensor::Setup& setup, int threads) {
    attempt(content(), "The budget", [&] { content().budget = study::budget(setup, {threads, {}}); });
}

}  // namespace spotwright::report
