// Sections of a report about readings over time.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/record/study_tables.hpp"
#include "sim/report/sections.hpp"

namespace spotwright::report {

namespace {

using base::mm, base::ms, base::um, base::us;

constexpr double no_value = std::numeric_limits<double>::quiet_NaN();

bool stands_still(const std::vector<TracePoint>& truth) {
    return !truth.empty() && std::all_of(truth.begin(), truth.end(), [&truth](const TracePoint& point) {
        return point.value == truth.front().value;
    });
}

// Zero of the displacement axis, chosen so that differences are readable.
struct Origin {
    double value = 0.0;  ///< [m]
    std::string words;   ///< of the axis, without its unit
};

Origin origin_at(double displacement) {
    const double value = std::round(displacement / um) * um;
    if (value == 0.0) return {0.0, "displacement"};
    return {value, fmt::format("displacement less {} mm", cell(value / mm, 7))};
}

Origin origin_of(const SeriesTrace& trace) {
    if (stands_still(trace.truth)) return {trace.truth.front().value, "output less truth"};
    if (!trace.truth.empty()) return origin_at(trace.truth.front().value);
    double sum = 0.0;
    double count = 0.0;
    for (const TracePoint& point : trace.output) {
        if (std::isnan(point.value)) continue;
        sum += point.value;
        count += 1.0;
    }
    return origin_at(sum / count);
}

struct TraceExtent {
    double low = std::numeric_limits<double>::infinity();
    double high = -std::numeric_limits<double>::infinity();

    void include(double value) {
        if (std::isnan(value)) return;
        low = std::min(low, value);
        high = std::max(high, value);
    }
};

TraceExtent extent_of(const SeriesTrace& trace, double origin) {
    TraceExtent extent;
    for (const TracePoint& point : trace.output) extent.include(point.value - origin);
    for (const TracePoint& point : trace.truth) extent.include(point.value - origin);
    return extent;
}

std::vector<std::array<double, 2>> curve_points(const std::vector<TracePoint>& points, double origin, double unit) {
    std::vector<std::array<double, 2>> list;
    list.reserve(points.size());
    for (const TracePoint& point : points) {
        list.push_back({static_cast<double>(point.reading), (point.value - origin) / unit});
    }
    return list;
}

std::string axis_label(const Origin& origin, const LengthUnit& unit) {
    return fmt::format("{} / {}", origin.words, unit.symbol);
}

Chart series_chart(const SeriesTrace& trace) {
    const Origin origin = origin_of(trace);
    const TraceExtent extent = extent_of(trace, origin.value);
    const LengthUnit unit = length_unit(std::max(std::abs(extent.low), std::abs(extent.high)));
    Chart chart;
    chart.id = "series";
    chart.x.label = "reading";
    chart.x.whole = true;
    chart.x.low = 0.0;
    chart.x.high = static_cast<double>(std::max<std::int64_t>(1, trace.readings - 1));
    chart.y.label = axis_label(origin, unit);
    chart.description = "Line chart of the outputs of a series of readings over their index.";

    constexpr std::size_t few = 120;
    CurveStyle output = curve_style(0);
    output.width = 1.0;
    if (trace.output.size() > few) output.marker = Marker::none;
    chart.curves.push_back({"output", curve_points(trace.output, origin.value, unit.size), output});
    if (!trace.truth.empty()) {
        CurveStyle truth = curve_style(2);
        if (trace.truth.size() > few) truth.marker = Marker::none;
        chart.curves.push_back({"truth", curve_points(trace.truth, origin.value, unit.size), truth});
    }
    chart.caption = trace.stretch == 1
                        ? "Every output in its order"
                        : fmt::format("The least and the greatest of every {} outputs, in their order", trace.stretch);
    chart.caption += fmt::format("; one reading every {} us.", cell(trace.period / us));
    if (trace.missing > 0) {
        ChartCurve lost{"an output is missing here", {}, {"#D55E00", "", Marker::saltire, true}, false};
        const double spread = std::max(extent.high - extent.low, 1e-3 * unit.size);
        for (const std::int64_t at : trace.with_missing) {
            lost.points.push_back({static_cast<double>(at), (extent.low - 0.06 * spread) / unit.size});
        }
        chart.curves.push_back(lost);
        chart.caption += fmt::format(" {} of {} outputs do not exist; crosses at the foot show where.", trace.missing,
                                     trace.readings);
    }
    chart.table_head = {"reading", chart.y.label};
    for (const auto& [reading, value] : chart.curves.front().points) {
        chart.table.push_back({fmt::format("{:.0f}", reading), cell(value, 6)});
    }
    return chart;
}

Chart histogram_chart(const Histogram& histogram, const Origin& origin) {
    const double end = histogram.low + histogram.width * static_cast<double>(histogram.counts.size());
    const LengthUnit unit = length_unit(std::max(std::abs(histogram.low - origin.value), std::abs(end - origin.value)));
    const auto place = [&](double value) { return (value - origin.value) / unit.size; };
    Chart chart;
    chart.id = "histogram";
    chart.x.label = axis_label(origin, unit);
    chart.y.label = "outputs in a bin";
    chart.y.whole = true;
    chart.y.low = 0.0;
    chart.description = "Histogram of outputs with the normal curve of the same mean and standard deviation.";
    chart.table_head = {fmt::format("from / {}", unit.symbol), fmt::format("to / {}", unit.symbol), "outputs"};

    ChartCurve bins{"outputs", {{place(histogram.low), 0.0}}, {"#000000", "", Marker::none, false, 1.0}};
    bins.stepped = true;
    bins.fill = CurveFill::area;
    for (std::size_t i = 0; i < histogram.counts.size(); ++i) {
        const double edge = histogram.low + histogram.width * static_cast<double>(i);
        bins.points.push_back({place(edge), static_cast<double>(histogram.counts[i])});
        chart.table.push_back(
            {cell(place(edge), 5), cell(place(edge + histogram.width), 5), std::to_string(histogram.counts[i])});
    }
    bins.points.push_back({place(end), 0.0});
    ChartCurve normal{
        "normal distribution, same mean and standard deviation", {}, {"#D55E00", "7 4", Marker::none, false, 2.0}};
    constexpr int steps = 120;
    constexpr double reach = 4.0;
    for (int i = 0; i <= steps; ++i) {
        const double value = histogram.mean + histogram.deviation * reach * (2.0 * i / steps - 1.0);
        normal.points.push_back({place(value), normal_count(histogram, value)});
    }
    chart.curves = {bins, normal};
    chart.caption = fmt::format(
        "{} outputs, {}; mean at {} {} of the axis, standard deviation {}. Where the bins leave the curve, "
        "scatter is not normal and the factor k = 2 is only a guide.",
        histogram.values, histogram.rule, cell(place(histogram.mean)), unit.symbol,
        uncertainty_cell(histogram.deviation));
    return chart;
}

std::string gaps_text(const study::AllanStudy& study) {
    if (study.gaps == study::Gaps::none) return {};
    const std::string missing = fmt::format("{} of {} outputs are missing: ", study.missing, study.readings);
    return html_paragraph(
        missing + (study.gaps == study::Gaps::closed
                       ? "the curve closes these gaps."
                       : fmt::format("the curve stands on the {} of the longest stretch without a gap.", study.used)));
}

}  // namespace

std::string series_section(const ReportContent& content) {
    std::string text;
    if (content.series) {
        const SeriesTrace& trace = *content.series;
        const bool any = std::any_of(trace.output.begin(), trace.output.end(),
                                     [](const TracePoint& point) { return !std::isnan(point.value); });
        if (any) {
            text += chart_figure(series_chart(trace));
        } else {
            text += html_paragraph(fmt::format("None of {} readings gave an output.", trace.readings));
        }
    }
    const std::vector<TextRow> rows = reading_rows(content, About::motion);
    if (!rows.empty()) text += html_table("Numbers of the series over time.", {"quantity", "value"}, rows);
    return text;
}

std::string histogram_section(const ReportContent& content) {
    if (!content.histogram) return {};
    Origin origin = origin_at(content.histogram->mean);
    if (content.series && !content.series->truth.empty()) {
        origin = {stands_still(content.series->truth) ? content.series->truth.front().value : 0.0, "output less truth"};
    }
    return chart_figure(histogram_chart(*content.histogram, origin)) +
           (content.about_series.empty() ? "" : html_paragraph(content.about_series));
}

std::string allan_section(const ReportContent& content) {
    if (!content.allan) return {};
    std::vector<study::AllanPoint> points;  // others have no logarithm
    const std::vector<study::AllanPoint>& curve = content.allan->curve;
    std::copy_if(curve.begin(), curve.end(), std::back_inserter(points), [](const study::AllanPoint& p) {
        return std::isfinite(p.deviation) && p.deviation > 0.0 && p.time > 0.0;
    });
    if (points.empty()) return {};
    Chart chart;
    chart.id = "allan";
    chart.x.label = "time averaged over / ms";
    chart.y.label = "Allan deviation / um";
    chart.x.logarithmic = chart.y.logarithmic = true;
    chart.description = "Allan deviation over averaging time, both scales logarithmic, with its 95 % interval.";
    const record::TextTable table = record::allan_table(points);
    chart.table_head = table.head;
    chart.table = table.rows;
    ChartCurve low{"", {}, {"#666666", "", Marker::none, false, 0.0}};
    ChartCurve high{"95 % interval", {}, {"#666666", "", Marker::none, false, 0.0}};
    high.fill = CurveFill::band;
    ChartCurve deviation{"overlapping Allan deviation", {}, curve_style(0)};
    ChartCurve white{
        "white noise alone: falls with the square root of the time", {}, {"#0072B2", "7 4", Marker::none, false, 1.6}};
    const auto least = std::min_element(points.begin(), points.end(),
                                        [](const auto& a, const auto& b) { return a.deviation < b.deviation; });
    for (const study::AllanPoint& p : points) {
        const double time = p.time / ms;
        const bool shown = p.interval.low > 0.0 && std::isfinite(p.interval.high);
        low.points.push_back({time, shown ? p.interval.low / um : no_value});
        high.points.push_back({time, shown ? p.interval.high / um : no_value});
        deviation.points.push_back({time, p.deviation / um});
        white.points.push_back({time, points.front().deviation / um * std::sqrt(points.front().time / p.time)});
    }
    chart.curves = {low, high, white, deviation};
    chart.caption = fmt::format(
        "Scatter of the mean of outputs against the time they are averaged over. As long as it is on the "
        "dashed line, averaging longer helps; where it levels off or rises, it does not. Lowest here: {} over {} ms. A "
        "constant error, as of frozen speckle, does not show.",
        uncertainty_cell(least->deviation), cell(least->time / ms));
    return chart_figure(chart) + gaps_text(*content.allan) +
           (content.about_series.empty() ? "" : html_paragraph(content.about_series));
}

}  // namespace spotwright::report
