#include "sim/cli/report.hpp"

#include <fmt/format.h>

#include <functional>
#include <string_view>

#include "sim/base/errors.hpp"
#include "sim/cli/read_output.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/flight_layout_drawing.hpp"
#include "sim/record/layout_drawing.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/study/flight_layout.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::cli {

namespace {

constexpr int linearity_places = 21;

// A page without a study is better than none; it says what is missing.
void attempt(record::ReportContent& content, std::string_view what, const std::function<void()>& study) {
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

record::ReportContent begin_report(const scenario::Scenario& s) {
    record::ReportContent content;
    content.scenario = s;
    const record::SeriesOrigin origin = record::origin_of(s, current_date());
    content.program = origin.source;
    content.date = origin.date;
    content.left_out = left_out();
    content.checks = record::recorded_checks();
    if (s.principle == scenario::Principle::triangulation) {
        const study::Layout layout = study::make_layout(s);
        content.layout_drawing = record::draw_layout(s, layout);
        content.laser = {layout.laser_class, emitter::safety_caution()};
    } else {
        const study::FlightLayout layout = study::make_flight_layout(s);
        content.layout_drawing = record::draw_flight_layout(s, layout);
        content.laser = {layout.laser_class, layout.laser_caution};
    }
    return content;
}

ReadReport::ReadReport(const std::string& out, const scenario::Scenario& s)
    : file_(out), content_(begin_report(s)), series_(s) {}

void ReadReport::write(const study::Sensor& sensor, const study::ReadResult& result, int threads) {
    content_.reading_picture = picture_of(sensor, result);
    content_.read = result;
    content_.series = series_.trace();
    if (content_.series->truth.empty()) {
        content_.series->truth = {{0, result.true_displacement},
                                  {content_.series->readings - 1, result.true_displacement}};
    }
    content_.histogram = record::histogram_of(series_.outputs());
    content_.allan = study::allan_study(series_.outputs(), content_.series->period);
    if (!series_.whole()) {
        content_.about_series = fmt::format("Of the first {} readings.", record::SeriesCollector::most_kept);
    }
    attempt(content_, "The error over the range", [&] {
        content_.linearity = study::linearity_study(sensor, study::materials_compared(), linearity_places, threads);
    });
    attempt(content_, "Drift with temperature", [&] { content_.drift = study::drift_study(sensor, threads); });
    file_.write(record::report_html(content_));
    file_.commit();
}

}  // namespace spotwright::cli
