// Sections of a report about the range and about temperature.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "sim/base/units.hpp"
#include "sim/report/sections.hpp"
#include "sim/record/study_tables.hpp"
#include "sim/record/text.hpp"

namespace spotwright::report {

namespace {

using base::mm, base::um;

// The minus sign of print in numbers.
std::vector<TextRow> for_print(std::vector<TextRow> rows) {
    for (TextRow& row : rows) {
        for (std::size_t i = 1; i < row.size(); ++i) row[i] = signed_for_print(row[i]);
    }
    return rows;
}

double span_of(const ReportContent& content) {
    const auto [near, far] = content.scenario.mount.range;
    return far - near;
}

std::string figures_table(const ReportContent& content) {
    const record::TextTable table = record::linearity_table(content.linearity, span_of(content));
    return html_table(
        "Largest distance of the error from a straight line, by the definitions of IEC 61298-2: the line with the "
        "least such distance (independent), through both ends (terminal), through the near end (zero-based), and by "
        "least squares.",
        table.head, for_print(table.rows));
}

Chart linearity_chart(const std::vector<study::LinearityCurve>& curves) {
    double largest = 0.0;
    for (const study::LinearityCurve& curve : curves) {
        for (const double error : curve.error) largest = std::max(largest, std::abs(error));
    }
    const LengthUnit unit = length_unit(largest);
    Chart chart;
    chart.id = "linearity";
    chart.x.label = "displacement / mm";
    chart.y.label = fmt::format("error / {}", unit.symbol);
    chart.height = 380;
    chart.description = "Line chart of the error of readings over displacement, one curve for each material.";
    chart.caption =
        "Reading less truth over the range, without noise and speckle. The sensor is calibrated on its reference; what "
        "another surface adds shows as its curve's distance from zero.";
    chart.table_head = {"material", chart.x.label, chart.y.label};
    for (const study::LinearityCurve& curve : curves) {
        if (curve.displacement.empty()) continue;
        ChartCurve drawn{record::one_line(curve.material), {}, curve_style(chart.curves.size())};
        for (std::size_t i = 0; i < curve.displacement.size(); ++i) {
            drawn.points.push_back({curve.displacement[i] / mm, curve.error[i] / unit.size});
            chart.table.push_back({drawn.label, cell(curve.displacement[i] / mm, 6), cell(curve.error[i] / unit.size)});
        }
        chart.curves.push_back(drawn);
    }
    return chart;
}

// A second chart for materials with small errors, if others have far larger ones.
std::optional<Chart> close_up(const Chart& all) {
    const auto largest = [](const ChartCurve& curve) {
        double size = 0.0;
        for (const auto& [place, error] : curve.points) size = std::max(size, std::abs(error));
        return size;
    };
    std::vector<double> sizes;
    for (const ChartCurve& curve : all.curves) sizes.push_back(largest(curve));
    std::sort(sizes.begin(), sizes.end());
    constexpr double far_more = 8.0;
    if (sizes.size() < 3 || !(sizes.back() > far_more * sizes[(sizes.size() - 1) / 2])) return std::nullopt;
    const double limit = sizes.back() / far_more;
    Chart chart = all;
    chart.id = "linearityclose";
    chart.caption = fmt::format("The same for those that stay within {} of zero, enlarged.",
                                length_cell(limit * (all.y.label.ends_with("mm") ? mm : um), 2));
    chart.table_head.clear();
    chart.table.clear();
    chart.curves.erase(std::remove_if(chart.curves.begin(), chart.curves.end(),
                                      [&](const ChartCurve& curve) { return largest(curve) > limit; }),
                       chart.curves.end());
    return chart;
}

std::string causes_table(const ReportContent& content) {
    const record::TextTable table = record::drift_table(content.drift->causes, span_of(content));
    return html_table("Change of a reading per kelvin, each cause alone; the last line is all together.", table.head,
                      for_print(table.rows));
}

// Points of a chart: a long path is thinned as a series is.
std::vector<std::array<double, 2>> over_time(const std::vector<study::DriftPoint>& path,
                                             double study::DriftPoint::*value, double unit, double offset) {
    Thinning thinning(static_cast<std::int64_t>(path.size()));
    for (const study::DriftPoint& point : path) thinning.add(point.*value);
    std::vector<std::array<double, 2>> points;
    for (const TracePoint& point : thinning.points()) {
        points.push_back({path[static_cast<std::size_t>(point.reading)].time / 60.0, point.value / unit - offset});
    }
    return points;
}

CurveStyle plain(std::size_t index) {
    CurveStyle style = curve_style(index);
    style.marker = Marker::none;
    style.width = 1.8;
    return style;
}

Chart drift_chart(const std::vector<study::DriftPoint>& path, bool reset) {
    double largest = 0.0;
    for (const study::DriftPoint& point : path) largest = std::max(largest, std::abs(point.error));
    const LengthUnit unit = length_unit(largest);
    Chart chart;
    chart.id = "drift";
    chart.x.label = "time / min";
    chart.y.label = fmt::format("error / {}", unit.symbol);
    chart.description = "Line chart of the error of a reading over time.";
    chart.caption =
        reset ? "Error of a reading as the sensor warms and cools, and what is left of it when the zero is set "
                "at its interval."
              : "Error of a reading as the sensor warms and cools; its zero is never set again.";
    chart.curves.push_back({"error", over_time(path, &study::DriftPoint::error, unit.size, 0.0), plain(0)});
    if (reset) {
        chart.curves.push_back({"error after setting the zero",
                                over_time(path, &study::DriftPoint::after_reset, unit.size, 0.0), plain(1)});
    }
    chart.table_head = {"time / min", chart.y.label, "after setting the zero / " + std::string(unit.symbol),
                        "temperature / C"};
    const std::size_t step = (path.size() + 199) / 200;
    for (std::size_t i = 0; i < path.size(); i += step) {
        chart.table.push_back({cell(path[i].time / 60.0), cell(path[i].error / unit.size),
                               cell(path[i].after_reset / unit.size), cell(path[i].temperature - base::zero_celsius)});
    }
    return chart;
}

Chart temperature_chart(const std::vector<study::DriftPoint>& path) {
    Chart chart;
    chart.id = "temperature";
    chart.x.label = "time / min";
    chart.y.label = "temperature / C";
    chart.height = 190;
    chart.description = "Line chart of the temperature of the sensor over time.";
    chart.caption = "The temperature that makes the error above.";
    chart.curves.push_back({"", over_time(path, &study::DriftPoint::temperature, 1.0, base::zero_celsius), plain(0)});
    return chart;
}

std::string resets_section(const std::vector<study::ResetInterval>& resets) {
    const record::TextTable table = record::resets_table(resets);
    return html_table("Remaining drift over the path if the zero is set at an interval.", table.head,
                      for_print(table.rows));
}

}  // namespace

std::string linearity_section(const ReportContent& content) {
    if (content.linearity.empty()) return {};
    const Chart chart = linearity_chart(content.linearity);
    std::string text;
    if (!chart.curves.empty()) {
        text += chart_figure(chart);
        if (const std::optional<Chart> close = close_up(chart)) {
            text += chart_figure(*close);
        }
    } else {
        text += html_paragraph("None of the materials can be read anywhere in the range.");
    }
    return text + figures_table(content);
}

std::string drift_section(const ReportContent& content) {
    if (!content.drift) return {};
    const study::DriftStudy& drift = *content.drift;
    std::string text = drift.causes.empty() ? "" : causes_table(content);
    if (!drift.path.empty()) {
        text += chart_figure(drift_chart(drift.path, content.scenario.reading.zero_reset.has_value()));
        text += chart_figure(temperature_chart(drift.path));
    }
    if (!drift.resets.empty()) text += resets_section(drift.resets);
    return text;
}

}  // namespace spotwright::report
