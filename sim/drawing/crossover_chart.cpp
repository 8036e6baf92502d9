#include "sim/drawing/crossover_chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::mW, base::um;
using study::CrossoverPoint, study::CrossoverStudy, study::ErrorAtDistance;

constexpr Box chart_area{page_margin + 62.0, 164.0, page_width - page_margin - 206.0, 608.0};
constexpr Pen raster_pen{palette::faint, 0.6};
constexpr double inset = 16.0;        // from the sides to the first and last distance
constexpr double lane_height = 22.0;  // of a row of distances without a reading
constexpr double marker_radius = 3.6;

enum class Marker { disc, square };

// A sensor in the chart.
struct Contender {
    const char* id;
    ErrorAtDistance CrossoverPoint::*error;
    Marker marker;
    Pen pen;
    std::string name;
};

std::array<Contender, 2> contenders(const CrossoverStudy& study) {
    const char* flight = std::visit(base::Cases{[](scenario::Pulsed) { return "time of flight, pulsed"; },
                                                [](scenario::PhaseShift) { return "time of flight, by phase"; },
                                                [](scenario::Triangulation) { return "triangulation"; }},
                                    study.flight_principle);
    return {
        {{"triangulation", &CrossoverPoint::triangulation, Marker::disc, {palette::ink, 2.2}, "triangulation"},
         {"time-of-flight", &CrossoverPoint::flight, Marker::square, {palette::beam_edge, 1.8, dash::dashed}, flight}}};
}

// Logarithmic scales.
struct LogAxes {
    double nearest = 1.0;  // [m]
    double farthest = 10.0;
    double low = 1.0;  // [m]
    double high = 10.0;

    // Micrometres, or millimetres where the errors reach that far.
    [[nodiscard]] double unit() const { return high < mm ? um : mm; }
    [[nodiscard]] const char* unit_name() const { return high < mm ? "µm" : "mm"; }

    [[nodiscard]] double x(double distance) const {
        return std::lerp(chart_area.left + inset, chart_area.right - inset,
                         std::log(distance / nearest) / std::log(farthest / nearest));
    }
    [[nodiscard]] double y(double error) const {
        return std::lerp(chart_area.bottom, chart_area.top, std::log(error / low) / std::log(high / low));
    }
};

LogAxes log_axes(const scenario::Scenario& s, const CrossoverStudy& study) {
    LogAxes axes{study.points.front().distance, study.points.back().distance, s.requirement.tolerance,
                 s.requirement.tolerance};
    for (const CrossoverPoint& point : study.points) {
        for (const ErrorAtDistance* error : {&point.triangulation, &point.flight}) {
            if (!error->uncertainty || !(*error->uncertainty > 0.0)) continue;
            axes.low = std::min(axes.low, *error->uncertainty);
            axes.high = std::max(axes.high, *error->uncertainty);
        }
    }
    constexpr double margin = 1.6;
    axes.low /= margin;
    axes.high *= margin;
    return axes;
}

// 1, 2 and 5 times powers of ten between the ends, or the powers alone where those would be too many.
std::vector<double> logarithmic_ticks(double low, double high) {
    constexpr double many_decades = 7.0;
    const bool powers_alone = std::log10(high / low) > many_decades;
    const double slack = 1.0 + 1e-9;
    std::vector<double> values;
    for (auto power = static_cast<int>(std::floor(std::log10(low))); power <= std::log10(high); ++power) {
        for (const double factor : {1.0, 2.0, 5.0}) {
            if (powers_alone && factor > 1.0) continue;
            const double value = factor * std::pow(10.0, power);
            if (value * slack >= low && value <= high * slack) values.push_back(value);
        }
    }
    return values;
}

std::string size_words(const LogAxes& axes, double size) {
    return number(size / axes.unit(), 2) + "\u00A0" + axes.unit_name();
}

std::string in_metres(double distance) {
    return number(distance, 2) + "\u00A0m";
}

void draw_raster(Canvas& canvas, const LogAxes& axes) {
    canvas.open_group("error-axis");
    for (const double value : logarithmic_ticks(axes.low / axes.unit(), axes.high / axes.unit())) {
        const double y = axes.y(value * axes.unit());
        canvas.line({chart_area.left, y}, {chart_area.right, y}, raster_pen);
        canvas.text({chart_area.left - 8.0, y + 3.8}, number(value), {small_size, Anchor::end});
    }
    canvas.close_group();
    canvas.open_group("distance-axis");
    for (const double value : logarithmic_ticks(axes.nearest, axes.farthest)) {
        const double x = axes.x(value);
        canvas.line({x, chart_area.top}, {x, chart_area.bottom}, raster_pen);
        canvas.text({x, chart_area.bottom + 17.0}, number(value), {body_size, Anchor::middle});
    }
    canvas.close_group();
    const std::array frame{Vector2(chart_area.left, chart_area.top), Vector2(chart_area.left, chart_area.bottom),
                           Vector2(chart_area.right, chart_area.bottom), Vector2(chart_area.right, chart_area.top),
                           Vector2(chart_area.left, chart_area.top)};
    canvas.polyline(frame, {palette::grey, 0.9}, "frame");
    canvas.text({chart_area.right + 14.0, chart_area.bottom + 17.0}, "distance from emitter to part, m", {small_size});
}

void draw_marker(Canvas& canvas, const Vector2& at, Marker marker, const char* colour) {
    const Pen pen{colour, 1.4};
    if (marker == Marker::disc) {
        canvas.circle(at, marker_radius, palette::paper, pen);
        return;
    }
    const std::array corners{
        Vector2(at + Vector2(-marker_radius, -marker_radius)), Vector2(at + Vector2(marker_radius, -marker_radius)),
        Vector2(at + Vector2(marker_radius, marker_radius)), Vector2(at + Vector2(-marker_radius, marker_radius))};
    canvas.polygon(corners, palette::paper, pen);
}

bool reads(const ErrorAtDistance& error) {
    return error.uncertainty && *error.uncertainty > 0.0;
}

// One line for each stretch of distances that read, the first with the sensor's name as its identifier.
void draw_error_line(Canvas& canvas, const LogAxes& axes, const CrossoverStudy& study, const Contender& contender) {
    std::vector<Vector2> stretch;
    std::vector<Vector2> markers;
    int drawn = 0;
    const auto finish = [&] {
        if (stretch.size() > 1) {
            canvas.polyline(stretch, contender.pen,
                            drawn == 0 ? std::string(contender.id) : fmt::format("{}-{}", contender.id, drawn));
            ++drawn;
        }
        stretch.clear();
    };
    for (const CrossoverPoint& point : study.points) {
        const ErrorAtDistance& error = point.*contender.error;
        if (!reads(error)) {
            finish();
            continue;
        }
        stretch.emplace_back(axes.x(point.distance), axes.y(*error.uncertainty));
        markers.push_back(stretch.back());
    }
    finish();
    for (const Vector2& marker : markers) draw_marker(canvas, marker, contender.marker, contender.pen.colour);
}

// Neighbouring distances that fail for the same reason.
struct Failure {
    double from;
    double to;
    std::string word;
};

std::vector<Failure> failures_of(const LogAxes& axes, const CrossoverStudy& study, const Contender& contender) {
    std::vector<Failure> list;
    bool previous_failed = false;
    for (const CrossoverPoint& point : study.points) {
        const ErrorAtDistance& error = point.*contender.error;
        const bool failed = !reads(error);
        const double x = axes.x(point.distance);
        if (failed && previous_failed && list.back().word == error.obstacle) {
            list.back().to = x;
        } else if (failed) {
            list.push_back({x, x, error.obstacle});
        }
        previous_failed = failed;
    }
    return list;
}

// Words below the row of markers, as near to theirs as they fit; those without room are left to the sentences.
void draw_obstacles(Canvas& canvas, const std::vector<Failure>& failures, double baseline) {
    constexpr double gap = 8.0;
    double end = chart_area.left;
    for (const Failure& failure : failures) {
        const double width = text_width(failure.word, small_size);
        const double wanted = 0.5 * (failure.from + failure.to - width);
        const double left = std::min(std::max(wanted, end), chart_area.right - width);
        if (left < end) continue;
        canvas.text({left, baseline}, failure.word, {small_size, Anchor::start, false, false, 0.0, palette::grey});
        end = left + width + gap;
    }
}

// A row above the chart: struck markers where the sensor does not read, a word between them.
void draw_lane(Canvas& canvas, const LogAxes& axes, const CrossoverStudy& study, const Contender& contender,
               double bottom) {
    const double y = bottom - lane_height + 5.0;
    canvas.open_group(fmt::format("unread-{}", contender.id));
    for (const CrossoverPoint& point : study.points) {
        if (reads(point.*contender.error)) continue;
        const Vector2 at(axes.x(point.distance), y);
        draw_marker(canvas, at, contender.marker, contender.pen.colour);
        const Vector2 diagonal(marker_radius + 2.0, -marker_radius - 2.0);
        canvas.line(at - diagonal, at + diagonal, {contender.pen.colour, 1.2});
    }
    draw_obstacles(canvas, failures_of(axes, study, contender), bottom - 0.5);
    canvas.text({chart_area.right + 14.0, bottom - 7.0}, "does not read here",
                {small_size, Anchor::start, false, false, 0.0, contender.pen.colour});
    canvas.close_group();
}

// Rows where they are wanted, the last of them next to the chart. @return Top of the rows. [page units]
double draw_lanes(Canvas& canvas, const LogAxes& axes, const CrossoverStudy& study) {
    double bottom = chart_area.top - 3.0;
    const std::array<Contender, 2> both = contenders(study);
    for (auto contender = both.rbegin(); contender != both.rend(); ++contender) {
        if (failures_of(axes, study, *contender).empty()) continue;
        draw_lane(canvas, axes, study, *contender, bottom);
        bottom -= lane_height;
    }
    return bottom;
}

void draw_tolerance(Canvas& canvas, const scenario::Scenario& s, const LogAxes& axes) {
    const double y = axes.y(s.requirement.tolerance);
    const std::array line{Vector2(chart_area.left, y), Vector2(chart_area.right, y)};
    canvas.polyline(line, {palette::grey, 1.4, dash::dotted}, "tolerance");
}

void draw_crossing(Canvas& canvas, const LogAxes& axes, const CrossoverStudy& study) {
    if (!study.crossover) return;
    const double x = axes.x(*study.crossover);
    const std::array line{Vector2(x, chart_area.top), Vector2(x, chart_area.bottom)};
    canvas.polyline(line, {palette::grey, 1.2, dash::chain}, "crossover");
    const std::string words = "crossover at " + in_metres(*study.crossover);
    const bool left_half = x < 0.5 * (chart_area.left + chart_area.right);
    canvas.text({x + (left_half ? 8.0 : -8.0), chart_area.bottom - 12.0}, words,
                {body_size, left_half ? Anchor::start : Anchor::end, true, true});
}

// What a line is, with the value where it ends.
struct LineName {
    Vector2 from;
    std::vector<std::string> lines;
    const char* colour;
};

std::vector<LineName> line_names(const scenario::Scenario& s, const LogAxes& axes, const CrossoverStudy& study,
                                 double width) {
    std::vector<LineName> names;
    for (const Contender& contender : contenders(study)) {
        const auto last = std::find_if(study.points.rbegin(), study.points.rend(),
                                       [&](const CrossoverPoint& point) { return reads(point.*contender.error); });
        if (last == study.points.rend()) continue;
        const double error = *((*last).*contender.error).uncertainty;
        const std::string words =
            fmt::format("{}: {} at {}", contender.name, size_words(axes, error), in_metres(last->distance));
        names.push_back({{axes.x(last->distance) + marker_radius + 2.0, axes.y(error)},
                         wrap(words, body_size, width),
                         contender.pen.colour});
    }
    names.push_back({{chart_area.right, axes.y(s.requirement.tolerance)},
                     wrap("tolerance ±" + size_words(axes, s.requirement.tolerance), body_size, width),
                     palette::grey});
    std::sort(names.begin(), names.end(), [](const LineName& a, const LineName& b) { return a.from.y() < b.from.y(); });
    return names;
}

void draw_line_names(Canvas& canvas, const scenario::Scenario& s, const LogAxes& axes, const CrossoverStudy& study) {
    const double left = chart_area.right + 14.0;
    const std::vector<LineName> names = line_names(s, axes, study, page_width - page_margin - left);
    constexpr double spacing = 15.0;
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (const LineName& name : names) {
        wanted.push_back(name.from.y());
        sizes.push_back(spacing * static_cast<double>(name.lines.size()) + 4.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, chart_area.top, chart_area.bottom);
    for (std::size_t i = 0; i < names.size(); ++i) {
        const std::array leader{names[i].from, Vector2(left - 3.0, centres[i])};
        canvas.polyline(leader, {palette::grey, 0.6});
        double baseline = centres[i] - 0.5 * spacing * static_cast<double>(names[i].lines.size() - 1) + 4.0;
        for (const std::string& line : names[i].lines) {
            canvas.text({left, baseline}, line, {body_size, Anchor::start, false, false, 0.0, names[i].colour});
            baseline += spacing;
        }
    }
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
    draw_caption(canvas, crossover_caption(s, study), draw_title(canvas, title));
    const LogAxes axes = log_axes(s, study);
    draw_raster(canvas, axes);
    draw_tolerance(canvas, s, axes);
    draw_crossing(canvas, axes, study);
    for (const Contender& contender : contenders(study)) draw_error_line(canvas, axes, study, contender);
    const double lanes_top = draw_lanes(canvas, axes, study);
    canvas.text({page_margin, lanes_top - 10.0}, fmt::format("expanded uncertainty (k = 2), {}", axes.unit_name()),
                {small_size});
    draw_line_names(canvas, s, axes, study);
    draw_sentences(canvas, crossover_sentences(study),
                   {page_margin, chart_area.bottom + 46.0, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
