#include "sim/drawing/averaging_chart.hpp"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/chart.hpp"
#include "sim/drawing/page.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::ms, base::um;
using study::AveragedError;

constexpr double chart_bottom = 660.0;

std::string micrometres(double size) {
    return number(size / um, 2) + "\u00A0µm";
}

// A guide of slope -1/2 beside the line of the moved part, where no other line runs.
double guide_start(std::span<const AveragedError> errors) {
    const AveragedError& first = errors.front();
    constexpr double aside = 1.7;
    return first.noise < first.moved / (aside * aside) ? first.moved / aside : first.moved * aside;
}

ChartCurve error_curve(std::span<const AveragedError> errors, double AveragedError::*size, const CurveStyle& style,
                       const std::string& name) {
    ChartCurve curve;
    curve.style = style;
    for (const AveragedError& error : errors) {
        curve.points.push_back({static_cast<double>(error.average), error.*size / um});
    }
    curve.end_name = fmt::format("{}: {}", name, micrometres(errors.back().*size));
    return curve;
}

ChartCurve guide_curve(std::span<const AveragedError> errors) {
    ChartCurve guide;
    guide.id = "guide";
    guide.style = {palette::grey, dash::dotted, Marker::none, false, 1.2};
    const double start = guide_start(errors) / um;
    const auto most = static_cast<double>(errors.back().average);
    guide.points = {{1.0, start}, {most, start / std::sqrt(most)}};
    guide.end_name = "falls as 1/√(readings averaged)";
    return guide;
}

ChartAxis average_axis(std::span<const AveragedError> errors) {
    ChartAxis axis{"readings averaged; below them the response time of the output, ms", true, {}, {}, false, false, {}};
    for (const AveragedError& error : errors) {
        axis.ticks.push_back(
            {static_cast<double>(error.average), std::to_string(error.average), number(error.response_time / ms, 3)});
    }
    return axis;
}

Chart averaging_chart(std::span<const AveragedError> errors) {
    Chart chart;
    chart.id = "averaging";
    chart.x = average_axis(errors);
    chart.y.label = "root mean square error of outputs, µm";
    chart.y.logarithmic = true;
    const auto add = [&](const char* id, double AveragedError::*size, const CurveStyle& style, const char* name) {
        chart.curves.push_back(error_curve(errors, size, style, name));
        chart.curves.back().id = id;
    };
    chart.curves.push_back(guide_curve(errors));
    add("still", &AveragedError::still, {palette::ink, dash::solid, Marker::disc, true, 2.2}, "part stands still");
    add("moved", &AveragedError::moved, {palette::beam_edge, dash::solid, Marker::square, true, 2.2},
        "part moved on between readings");
    add("noise", &AveragedError::noise, {palette::grey, dash::dashed, Marker::triangle, true, 1.6}, "noise alone");
    return chart;
}

std::vector<std::string> sentences(std::span<const AveragedError> errors) {
    const AveragedError& first = errors.front();
    const AveragedError& last = errors.back();
    const double lowered = first.still / last.still;
    constexpr double by_half = 2.0;
    std::vector<std::string> list;
    if (lowered < by_half && last.average > first.average) {
        list.push_back(fmt::format(
            "The error that averaging does not cure: while the part stands still, every reading sees the same speckle, "
            "so that {} readings leave {} of {}. Noise alone would fall to {}.",
            last.average, micrometres(last.still), micrometres(first.still), micrometres(last.noise)));
    } else {
        list.push_back(fmt::format(
            "Noise is the larger part of the error here: averaging {} readings lowers it from {} to {} even while the "
            "part stands still.",
            last.average, micrometres(first.still), micrometres(last.still)));
    }
    list.push_back(fmt::format(
        "Where each reading meets another patch of the surface, speckle is drawn anew like noise, and averaging lowers "
        "both: to {}.",
        micrometres(last.moved)));
    list.emplace_back(
        "Errors count from the mean over all patches: a bias that is the same wherever the beam lands is left out, and "
        "no average lowers it.");
    return list;
}

}  // namespace

std::string draw_averaging(const scenario::Scenario& s, std::span<const AveragedError> errors) {
    Canvas canvas;
    const std::string title = s.title.empty() ? "Averaging" : s.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas,
                 fmt::format("Averaging readings of {} at s = {} mm: a part that stands still, and one that moves on",
                             s.target.material, signed_number(s.target.displacement / mm)),
                 caption);
    if (errors.empty()) {
        canvas.text({page_margin, caption + 60.0}, "No valid outputs: there is nothing to average.", {heading_size});
        return page_of(canvas, title);
    }
    draw_chart(canvas, {page_margin, caption + 21.0, page_width - page_margin, chart_bottom}, averaging_chart(errors));
    draw_sentences(canvas, sentences(errors),
                   {page_margin, chart_bottom + 24.0, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
