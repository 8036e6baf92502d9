#include "sim/drawing/crossover_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <optional>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/chart.hpp"
#include "sim/drawing/page.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::mW, base::um;
using study::CrossoverPoint, study::CrossoverStudy, study::ErrorAtDistance;

constexpr double lowest_of_chart = 648.0;

// A sensor in the chart.
struct Contender {
    const char* id;
    ErrorAtDistance CrossoverPoint::*error;
    CurveStyle style;
    std::string name;
};

std::array<Contender, 2> contenders(const CrossoverStudy& study) {
    const char* flight = std::visit(base::Cases{[](scenario::Pulsed) { return "time of flight, pulsed"; },
                                                [](scenario::PhaseShift) { return "time of flight, by phase"; },
                                                [](scenario::Triangulation) { return "triangulation"; }},
                                    study.flight_principle);
    return {{{"triangulation",
              &CrossoverPoint::triangulation,
              {palette::ink, dash::solid, Marker::disc, true, 2.2},
              "triangulation"},
             {"time-of-flight",
              &CrossoverPoint::flight,
              {palette::beam_edge, dash::dashed, Marker::square, true, 1.8},
              flight}}};
}

// Micrometres, or millimetres where the errors reach that far.
struct ErrorUnit {
    double size;
    const char* name;
};

bool reads(const ErrorAtDistance& error) {
    return error.uncertainty && *error.uncertainty > 0.0;
}

ErrorUnit error_unit(const scenario::Scenario& s, const CrossoverStudy& study) {
    double largest = s.requirement.tolerance;
    for (const CrossoverPoint& point : study.points) {
        for (const ErrorAtDistance* error : {&point.triangulation, &point.flight}) {
            if (reads(*error)) largest = std::max(largest, *error->uncertainty);
        }
    }
    constexpr double soon = 0.6 * mm;
    return largest < soon ? ErrorUnit{um, "µm"} : ErrorUnit{mm, "mm"};
}

std::string size_words(const ErrorUnit& unit, double size) {
    return number(size / unit.size, 2) + "\u00A0" + unit.name;
}

std::string in_metres(double distance) {
    return number(distance, 2) + "\u00A0m";
}

ChartCurve error_line(const CrossoverStudy& study, const Contender& contender, const ErrorUnit& unit) {
    ChartCurve curve;
    curve.id = contender.id;
    curve.style = contender.style;
    for (const CrossoverPoint& point : study.points) {
        const ErrorAtDistance& error = point.*contender.error;
        constexpr double gap = std::numeric_limits<double>::quiet_NaN();
        curve.points.push_back({point.distance, reads(error) ? *error.uncertainty / unit.size : gap});
        if (!reads(error)) continue;
        curve.end_name = fmt::format("{}: {} at {}", contender.name, size_words(unit, *error.uncertainty),
                                     in_metres(point.distance));
    }
    return curve;
}

// Where a sensor does not read; neighbours that fail for the same reason share a word.
ChartLane unread_lane(const CrossoverStudy& study, const Contender& contender) {
    ChartLane lane;
    lane.id = fmt::format("unread-{}", contender.id);
    lane.name = "does not read here";
    lane.style = contender.style;
    bool previous_failed = false;
    for (const CrossoverPoint& point : study.points) {
        const ErrorAtDistance& error = point.*contender.error;
        const bool failed = !reads(error);
        if (failed) lane.places.push_back(point.distance);
        if (failed && previous_failed && lane.notes.back().words == error.obstacle) {
            lane.notes.back().to = point.distance;
        } else if (failed) {
            lane.notes.push_back({point.distance, point.distance, error.obstacle});
        }
        previous_failed = failed;
    }
    return lane;
}

Chart crossover_chart_of(const scenario::Scenario& s, const CrossoverStudy& study) {
    const ErrorUnit unit = error_unit(s, study);
    Chart chart;
    chart.id = "crossover";
    chart.x.label = "distance from emitter to part, m";
    chart.y.label = fmt::format("expanded uncertainty (k = 2), {}", unit.name);
    chart.x.logarithmic = chart.y.logarithmic = true;
    for (const Contender& contender : contenders(study)) {
        chart.curves.push_back(error_line(study, contender, unit));
        const ChartLane lane = unread_lane(study, contender);
        if (!lane.places.empty()) chart.lanes.push_back(lane);
    }
    ChartMark tolerance{s.requirement.tolerance / unit.size, true, {}, {}, {}, {palette::grey, 1.4, dash::dotted}, {}};
    tolerance.id = "tolerance";
    tolerance.end_name = "tolerance ±" + size_words(unit, s.requirement.tolerance);
    chart.marks.push_back(tolerance);
    if (study.crossover) {
        ChartMark crossing{*study.crossover, false, {}, {}, {}, {palette::grey, 1.2, dash::chain}, "crossover"};
        crossing.words = "crossover at " + in_metres(*study.crossover);
        chart.marks.push_back(crossing);
    }
    return chart;
}

std::string statement(const CrossoverStudy& study) {
    if (study.crossover) {
        return fmt::format(
            "Triangulation stops being the better choice at {}: beyond it time of flight has the smaller uncertainty "
            "on "
            "this part wherever both read.",
            in_metres(*study.crossover));
    }
    int both = 0;
    int better = 0;
    for (const CrossoverPoint& point : study.points) {
        if (!reads(point.triangulation) || !reads(point.flight)) continue;
        ++both;
        if (*point.triangulation.uncertainty < *point.flight.uncertainty) ++better;
    }
    if (both == 0) return "There is no distance here at which both sensors read, and so no crossover.";
    return better > 0 ? "No crossover: triangulation is still the better choice at the last distance where both read."
                      : "No crossover: time of flight is the better choice wherever both read.";
}

// What decides where a line ends.
std::optional<std::string> decisive(const CrossoverStudy& study, const Contender& contender) {
    const auto last = std::find_if(study.points.rbegin(), study.points.rend(),
                                   [&](const CrossoverPoint& point) { return reads(point.*contender.error); });
    if (last == study.points.rend()) return std::nullopt;
    return fmt::format("Largest cause of error at {}, {}: {}.", in_metres(last->distance), contender.name,
                       ((*last).*contender.error).largest);
}

// Why a sensor does not read at the first distance where it does not.
std::optional<std::string> first_failure(const CrossoverStudy& study, const Contender& contender) {
    const auto first = std::find_if(study.points.begin(), study.points.end(),
                                    [&](const CrossoverPoint& point) { return !reads(point.*contender.error); });
    if (first == study.points.end()) return std::nullopt;
    return fmt::format("No reading at {}, {}: {}.", in_metres(first->distance), contender.name,
                       ((*first).*contender.error).reason);
}

std::vector<std::string> crossover_sentences(const CrossoverStudy& study) {
    std::vector<std::string> list{statement(study)};
    for (const Contender& contender : contenders(study)) {
        if (auto words = decisive(study, contender)) list.push_back(*words);
        if (auto words = first_failure(study, contender)) list.push_back(*words);
    }
    list.emplace_back(
        "The same sensor pointed farther: the lens keeps its place beside the beam, which is focused on the part; "
        "exposure is automatic within the wanted response. Noise of a triangulating reading grows as d²/(B f), its "
        "speckle as λ d²/(B D), light falls as 1/d²; the phase of light in metres asks for light alone.");
    return list;
}

std::string crossover_caption(const scenario::Scenario& s, const CrossoverStudy& study) {
    const scenario::Aperture& aperture = s.receiver.aperture;
    const std::string widths = aperture.shape == scenario::ApertureShape::round
                                   ? number(aperture.in_plane / mm)
                                   : number(aperture.in_plane / mm) + " × " + number(aperture.out_of_plane / mm);
    return fmt::format(
        "Uncertainty over distance on {}: mean power {} mW, aperture {} mm, focal length {} mm, "
        "baseline of the triangulation {} mm",
        s.target.material, number(study.power / mW, 3), widths, number(s.receiver.focal_length / mm),
        number(study.baseline / mm, 3));
}

}  // namespace

std::string draw_crossover(const scenario::Scenario& s, const CrossoverStudy& study) {
    Canvas canvas;
    const std::string title = s.title.empty() ? "Triangulation or time of flight" : s.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, crossover_caption(s, study), caption);
    draw_chart(canvas, {page_margin, caption + 21.0, page_width - page_margin, lowest_of_chart},
               crossover_chart_of(s, study));
    draw_sentences(canvas, crossover_sentences(study),
                   {page_margin, lowest_of_chart + 20.0, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
