#include "sim/drawing/flight_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/flight_plots.hpp"
#include "sim/drawing/flight_words.hpp"
#include "sim/drawing/phase_plot.hpp"
#include "sim/drawing/profile_axes.hpp"
#include "sim/drawing/profile_words.hpp"
#include "sim/drawing/pulse_plot.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::degree;

constexpr double flight_plot_left = page_margin + 56.0;
constexpr double flight_plot_right = page_width - page_margin - 126.0;
constexpr double flight_lower = 446.0;  // where light and words begin
constexpr double flight_words_left = 664.0;

std::string flight_reading_caption(const scenario::Scenario& s) {
    const char* method = std::visit(base::Cases{[](scenario::Pulsed) { return "pulses of light"; },
                                                [](scenario::PhaseShift) { return "phase shift"; },
                                                [](scenario::Triangulation) { return "position"; }},
                                    s.principle);
    std::string caption = fmt::format("One reading of {} by {}, at s = {} mm", s.target.material, method,
                                      signed_number(s.target.displacement / mm, 6));
    if (s.target.tilt[0] != 0.0 || s.target.tilt[1] != 0.0) {
        caption += fmt::format(", tilt {}° in plane, {}° out of plane", number(s.target.tilt[0] / degree),
                               number(s.target.tilt[1] / degree));
    }
    return caption;
}

// Light of the part over the distance that it comes from; what comes from inside the housing is left out.
std::vector<flight::Arrival> light_of_part(const sensor::FlightSetup& setup, const sensor::FlightPose& pose) {
    std::vector<flight::Arrival> light = pose.light.arrivals;
    const scenario::Scenario& s = setup.scenario;
    const bool first_is_inside = std::holds_alternative<sensor::PhasePlan>(pose.plan) && s.flight.crosstalk > 0.0;
    if (first_is_inside) light.erase(light.begin());
    for (flight::Arrival& arrival : light) {
        arrival.delay *= base::speed_of_light / (2.0 * setup.instrument.assumed_index);
    }
    std::erase_if(light, [](const flight::Arrival& arrival) { return !(arrival.rate > 0.0); });
    return light;
}

// Light of one column of the panel: its share of all light, and the mean of where it comes from.
struct LightColumn {
    double share = 0.0;
    double distance = 0.0;  // [m]
};

std::vector<LightColumn> columns_of(const std::vector<flight::Arrival>& light, const Panel& panel, double width) {
    double all = 0.0;
    for (const flight::Arrival& arrival : light) all += arrival.rate;
    std::vector<LightColumn> columns;
    double begin = 0.0;
    for (const flight::Arrival& arrival : light) {
        const double column = std::floor((panel.x(arrival.delay) - panel.box.left) / width);
        if (columns.empty() || column != begin) columns.emplace_back();
        begin = column;
        LightColumn& last = columns.back();
        const double share = arrival.rate / all;
        last.distance += (arrival.delay - last.distance) * share / (last.share + share);
        last.share += share;
    }
    return columns;
}

// Where the light comes from: over the range, or enlarged where there is depth within the spot.
void draw_arrivals(Canvas& canvas, const sensor::FlightSetup& setup, const sensor::FlightPose& pose, const Box& area) {
    const scenario::Scenario& s = setup.scenario;
    const double line = draw_heading(canvas, area, "Returned light over the distance it comes from");
    const std::vector<flight::Arrival> light = light_of_part(setup, pose);
    if (light.empty()) {
        draw_sentences(canvas, std::array{std::string("No light of the part reaches the detector.")},
                       {area.left, line + 15.0, area.right, area.bottom});
        return;
    }
    constexpr double column_width = 4.0;
    Panel panel;
    panel.name = "arrivals";
    panel.box = {area.left + 44.0, line + 24.0, area.right - 86.0, area.bottom - axis_height};
    const double depth = light.back().delay - light.front().delay;
    const double at_square = 1.0 / std::cos(s.emitter.angle);
    panel.left = s.mount.reference_distance + s.mount.range[0] * at_square;
    panel.right = s.mount.reference_distance + s.mount.range[1] * at_square;
    constexpr double flat = 1e-3;  // of the range: less is one column
    if (depth > flat * (panel.right - panel.left)) {
        panel.left = light.front().delay - 0.15 * depth;
        panel.right = light.back().delay + 0.15 * depth;
    } else {
        panel.left = std::min(panel.left, light.front().delay);
        panel.right = std::max(panel.right, light.back().delay);
    }
    std::vector<LightColumn> columns = columns_of(light, panel, column_width);
    double largest = 0.0;
    for (const LightColumn& column : columns) largest = std::max(largest, column.share);
    // A rare ray that meets the wall of a step makes a bar lower than a line is thick.
    std::erase_if(columns, [largest](const LightColumn& column) { return column.share < 2e-3 * largest; });
    std::vector<Box> bars;
    for (const LightColumn& column : columns) {
        panel.top = std::max(bars.empty() ? 0.0 : panel.top, 1.05 * column.share);
        const double x = panel.x(column.distance);
        bars.push_back({x - 0.5 * column_width, column.share, x + 0.5 * column_width, panel.box.bottom});
    }
    for (Box& bar : bars) bar.top = panel.y(bar.top);
    canvas.rectangles(bars, palette::beam_edge, "arrivals");
    draw_plot_frame(canvas, panel);
    const double truth = s.mount.reference_distance + pose.true_displacement * at_square;
    if (truth > panel.left && truth < panel.right) draw_true_place(canvas, {panel.x(truth), panel.box.top});
    draw_scale_beside(canvas, panel, {0.01, "light, %"}, {area.left, panel.box.top - 8.0});
    draw_scale_below(canvas, panel, {mm, "distance, mm"});
    const Vector2 key(panel.box.right + names_gap + 4.0, panel.box.top + 10.0);
    draw_true_place(canvas, key);
    canvas.text(key + Vector2(9.0, 3.8), "lit point", {small_size});
}

// Rows in two columns, filled one after the other.
void draw_row_columns(Canvas& canvas, const std::vector<Row>& rows, const Box& area) {
    const double line = draw_heading(canvas, area, "Light and distance");
    const std::size_t half = (rows.size() + 1) / 2;
    constexpr double gap = 26.0;
    const double width = 0.5 * (area.right - area.left - gap);
    const std::span<const Row> all(rows);
    draw_rows(canvas, all.first(half), {area.left, area.top, area.left + width, area.bottom}, line);
    draw_rows(canvas, all.subspan(half), {area.right - width, area.top, area.right, area.bottom}, line);
}

void draw_flight_words(Canvas& canvas, const sensor::FlightSetup& setup, const measure::ReadResult& result,
                       const sensor::RawReading& reading, const Box& place) {
    Box area = place;
    const double width = area.right - area.left;
    const std::vector<Row> rows = flight_reading_rows(setup.scenario, result);
    const std::vector<std::string> about{explanation(setup, measure::timed_light(result.details)->pose, reading)};
    std::vector<std::string> reasons;
    for (const measure::Reason& reason : result.verdict.reasons) reasons.push_back(in_print(in_words(reason)));
    constexpr double headings = 2.0 * (20.0 + 18.0) + 20.0;
    const double room = area.bottom - area.top - headings - row_spacing * static_cast<double>(rows.size()) -
                        sentences_height(about, width);
    reasons = sentences_with_room(reasons, width, room);
    draw_level_mark(canvas, {area.right - 8.0, area.top + 9.0}, result.verdict.level);
    area.top = draw_section(canvas, area, fmt::format("Verdict: {}", measure::name_of(result.verdict.level)), reasons);
    area.top =
        draw_section(canvas, area,
                     fmt::format("Reading 0 of {}: {}", result.statistics.readings, words_of(reading.validity)), about);
    draw_rows(canvas, rows, area, draw_heading(canvas, area, "All readings"));
}

void draw_measurement(Canvas& canvas, const sensor::FlightSetup& setup, const sensor::FlightPose& pose, double top) {
    const Box area{page_margin, top, page_width - page_margin, flight_lower - 16.0};
    const auto plot = [&canvas, &area](const char* heading) {
        const double line = draw_heading(canvas, area, heading);
        return Box{flight_plot_left, line + 6.0, flight_plot_right, area.bottom};
    };
    const auto of_phases = [&](const sensor::PhasePlan&) {
        draw_phases(canvas, setup, pose, 0, plot("Charges of the buckets, and the waves through them"));
        draw_plot_key(canvas,
                      {{"wave", {palette::beam_edge, 1.8}},
                       {"its phase", {palette::beam_edge, 1.2, dash::dotted}},
                       {"background", {palette::near_end, 1.2, dash::dashed}},
                       {"charge, one standard deviation", {palette::ink, 1.2}}},
                      area.right, area.top + heading_size);
    };
    const auto of_comparator = [&](const flight::PulsePlan& pulse) {
        draw_pulse(canvas, setup, pulse, pose.light, plot("Signal of one pulse at the comparator"));
    };
    const auto of_photons = [&](const flight::CountingPlan& photons) {
        draw_photons(canvas, setup, photons, pose.light, 0, plot("First photons after the pulses"));
    };
    std::visit(base::Cases{of_phases, of_comparator, of_photons}, pose.plan);
}

}  // namespace

std::string draw_flight_reading(const sensor::FlightSetup& setup, const measure::ReadResult& result) {
    if (measure::timed_light(result.details) == nullptr)
        throw base::InternalError("a picture by time of flight of another reading");
    const sensor::FlightPose& pose = measure::timed_light(result.details)->pose;
    const scenario::Scenario& s = setup.scenario;
    Canvas canvas;
    const std::string title = s.title.empty() ? "One reading" : s.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, flight_reading_caption(s), caption);
    draw_measurement(canvas, setup, pose, caption + 16.0);
    constexpr double rows_top = 672.0;
    const double right = flight_words_left - 28.0;
    draw_arrivals(canvas, setup, pose, {page_margin, flight_lower, right, rows_top - 16.0});
    draw_row_columns(canvas, flight_light_rows(setup, result), {page_margin, rows_top, right, page_lowest});
    draw_flight_words(canvas, setup, result, sensor::take_reading(setup, pose, 0),
                      {flight_words_left, flight_lower, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
