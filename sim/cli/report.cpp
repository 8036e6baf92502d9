#include "sim/cli/report.hpp"

#include <fmt/format.h>

#include "sim/cli/read_output.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/record/flight_layout_drawing.hpp"
#include "sim/record/layout_drawing.hpp"
#include "sim/record/series_columns.hpp"
#include "sim/study/flight_layout.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::cli {

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
    if (!series_.whole()) {
        content_.about_series = fmt::format("Of the first {} readings.", record::SeriesCollector::most_kept);
    }
    static_cast<void>(threads);
    file_.write(record::report_html(content_));
    file_.commit();
}

}  // namespace spotwright::cli
