#include "sim/drawing/flight_layout_panels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::nW, base::MHz;

constexpr double disc_radius = 50.0;

std::vector<Vector2> ellipse(const Vector2& centre, double half_width, double half_height) {
    constexpr int corners = 60;
    std::vector<Vector2> points;
    for (int i = 0; i < corners; ++i) {
        const double angle = 2.0 * base::pi * i / corners;
        points.emplace_back(centre + Vector2(half_width * std::cos(angle), half_height * std::sin(angle)));
    }
    return points;
}

// Page units per metre at which all of one place fits.
double seen_scale(const sensor::FlightLayout& layout, std::size_t place, double other_radius) {
    return disc_radius / std::max({layout.field[place].radius, other_radius,
                                   std::abs(layout.field_offset[place]) + layout.beam_radius[place]});
}

// In the plane of the mounting to the right, out of it up.
void draw_seen_spot(Canvas& canvas, const sensor::FlightLayout& layout, std::size_t place, double other_radius,
                    const Vector2& centre, double scale) {
    const sensor::Field& field = layout.field[place];
    canvas.circle(centre, field.radius * scale, palette::light, {palette::grey, 0.8});
    const Vector2 spot = centre + Vector2(layout.field_offset[place] * scale, 0.0);
    canvas.polygon(ellipse(spot, layout.beam_radius[place] * scale, other_radius * scale), palette::beam,
                   {palette::beam_edge, 0.9}, fmt::format("spot-{}", place));
    if (field.full_radius > 0.0) {
        canvas.circle(centre, field.full_radius * scale, "none", {palette::grey, 1.0, dash::dashed});
    }
    constexpr double half = 3.0;
    canvas.line(centre - Vector2(half, 0.0), centre + Vector2(half, 0.0), {palette::ink, 0.8});
    canvas.line(centre - Vector2(0.0, half), centre + Vector2(0.0, half), {palette::ink, 0.8});
}

std::string of_collected(const sensor::FlightLayout& layout, std::size_t place) {
    if (!(layout.collected_power[place] > 0.0)) return "none";
    return number(100.0 * layout.received_power[place] / layout.collected_power[place], 3) + " %";
}

}  // namespace

void draw_seen_spots(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout, const Box& area) {
    const double top =
        draw_heading(canvas, area, "What the detector sees across the beam, each place to a scale of its own");
    const emitter::Beam beam = sensor::beam_of(s);
    std::array<double, 3> other_radius{};
    for (std::size_t i = 0; i < other_radius.size(); ++i) {
        other_radius[i] = emitter::radius_at(beam, 1, layout.distance[i]);
    }
    constexpr std::array names{"near end", "reference", "far end"};
    constexpr double names_width = 182.0;
    const double column = (area.right - area.left - names_width) / 3.0;
    const auto middle = [&](std::size_t i) {
        return area.left + names_width + column * (static_cast<double>(i) + 0.5);
    };
    for (std::size_t i = 0; i < names.size(); ++i) {
        const double scale = seen_scale(layout, i, other_radius[i]);
        canvas.open_group(fmt::format("seen-{}", i), fmt::format("data-units-per-mm=\"{:.6f}\"", scale * mm));
        draw_seen_spot(canvas, layout, i, other_radius[i], {middle(i), top + 10.0 + disc_radius}, scale);
        canvas.close_group();
    }
    double baseline = top + 24.0 + 2.0 * disc_radius;
    const auto row = [&](const std::string& name, const auto& value) {
        canvas.text({area.left, baseline}, name, {small_size});
        for (std::size_t i = 0; i < names.size(); ++i) {
            canvas.text({middle(i), baseline}, value(i), {body_size, Anchor::middle});
        }
        baseline += row_spacing;
    };
    const auto length = [](double size) { return number(size / mm, 3) + " mm"; };
    row("place", [&](std::size_t i) { return std::string(names[i]); });
    row("radius of the spot, 1/e²", [&](std::size_t i) { return length(layout.beam_radius[i]); });
    row("spot off the lens's axis", [&](std::size_t i) { return length(std::abs(layout.field_offset[i])); });
    row("seen by some of the lens to", [&](std::size_t i) { return length(layout.field[i].radius); });
    row("seen by all of it to", [&](std::size_t i) {
        return layout.field[i].full_radius > 0.0 ? length(layout.field[i].full_radius) : std::string("nowhere");
    });
    row("spot within the field",
        [&](std::size_t i) { return std::string(layout.spot_within_field[i] ? "wholly" : "not wholly"); });
    row("on the detector", [&](std::size_t i) { return number(layout.received_power[i] / nW, 3) + " nW"; });
    row("of what the lens collects", [&](std::size_t i) { return of_collected(layout, i); });
}

namespace {

std::vector<Row> flight_layout_rows(const scenario::Scenario& s, const sensor::FlightLayout& layout) {
    std::vector<Row> rows{{"measuring range", fmt::format("{} to {} mm", signed_number(s.mount.range[0] / mm, 6),
                                                          signed_number(s.mount.range[1] / mm, 6))},
                          {"unambiguous over", number(layout.unambiguous_distance / mm, 6) + " mm"},
                          {"focal length; lens width", fmt::format("{}; {} mm", number(s.receiver.focal_length / mm),
                                                                   number(s.receiver.aperture.in_plane / mm))},
                          {"diameter of the detector", number(s.flight.detector_diameter / mm) + " mm"},
                          {"calibrated on", wrap(s.reading.calibrated_on, body_size, 200.0).front()}};
    for (const sensor::FrequencyLayout& each : layout.frequencies) {
        rows.push_back({fmt::format("{} MHz: one radian", number(each.frequency / MHz, 6)),
                        number(each.distance_per_radian / mm, 5) + " mm"});
        if (!each.cyclic_error_period) continue;
        rows.back().name += "; cyclic error";
        rows.back().value = fmt::format("{}; every {} mm", number(each.distance_per_radian / mm, 5),
                                        number(*each.cyclic_error_period / mm, 5));
    }
    const auto of_pulses = [&](scenario::Pulsed) {
        rows.push_back({"pulse; as a distance", fmt::format("{} ns; {} mm", number(s.flight.pulse / base::ns),
                                                            number(0.5 * base::speed_of_light * s.flight.pulse / mm))});
        rows.push_back({"pulse rate", number(s.flight.pulse_rate / base::kHz, 6) + " kHz"});
    };
    std::visit(base::Cases{of_pulses, [](scenario::PhaseShift) {}, [](scenario::Triangulation) {}}, s.principle);
    for (Row& row : room_rows(s)) rows.push_back(std::move(row));
    if (sensor::body_of(s)) {
        rows.push_back({"depth of the housing, not to scale", number(s.housing.depth / mm) + " mm"});
    }
    rows.push_back({"mean power of the emitter", number(layout.mean_power / base::mW, 3) + " mW"});
    return rows;
}

}  // namespace

void draw_flight_numbers(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout,
                         const Box& area) {
    const double line = draw_heading(canvas, area, "In numbers");
    Box below = area;
    below.top = draw_rows(canvas, flight_layout_rows(s, layout), area, line) + 10.0;
    below.top = draw_heading(canvas, below, fmt::format("Laser class {} (estimated)", layout.laser_class)) + 15.0;
    draw_sentences(canvas, std::array{layout.laser_caution}, below);
}

}  // namespace spotwright::drawing
