#include "sim/drawing/flight_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/flight_housing.hpp"
#include "sim/drawing/flight_layout_panels.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/part_detail.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::nm, base::mW, base::degree;

constexpr double face_without_housing = 152.0;  // across the page
constexpr double face_with_housing = 186.0;
constexpr double panels_top = 474.0;
constexpr double beam_right = page_width - page_margin - 8.0;

// Edges of the field on one side (+1, -1) of the lens's axis, in z and x. [m]
std::vector<Vector2> field_edge(const scenario::Scenario& s, const sensor::FlightLayout& layout, double side,
                                double end, bool full) {
    const receiver::Receiver& r = layout.receiver;
    const Vector2 lens(0.0, s.flight.baseline);
    const Vector2 axis = Vector2(s.mount.reference_distance, -s.flight.baseline) / r.object_distance;
    const Vector2 beside(-axis.y(), axis.x());
    std::vector<Vector2> edge;
    const double last = end / axis.x();
    constexpr int segments = 40;
    for (int i = 0; i <= 2 * segments; ++i) {
        const double share = static_cast<double>(i % (segments + 1)) / segments;
        const double axial = i <= segments ? share * std::min(r.object_distance, last)
                                           : std::lerp(std::min(r.object_distance, last), last, share + 1.0 / segments);
        const sensor::Field field = sensor::field_at(r, 0.5 * s.flight.detector_diameter, axial);
        if (full && field.full_radius <= 0.0) continue;
        edge.emplace_back(lens + axial * axis + side * (full ? field.full_radius : field.radius) * beside);
    }
    return edge;
}

// To where along the beam the drawing goes: the far end, and what is not much farther.
double drawn_end(const scenario::Scenario& s, const sensor::FlightLayout& layout) {
    constexpr double not_much = 1.6;
    constexpr double margin = 1.03;
    double end = layout.distance[2];
    for (const double place : {layout.distance[0] + layout.unambiguous_distance, part_distance(s)}) {
        if (place < not_much * layout.distance[2]) end = std::max(end, place);
    }
    return margin * end;
}

BeamView make_beam_view(const scenario::Scenario& s, const sensor::FlightLayout& layout, const Box& area) {
    BeamView view{area, {}, 1.0, 1.0, drawn_end(s, layout)};
    const emitter::Beam beam = sensor::beam_of(s);
    const double rim = layout.receiver.aperture.half_in_plane;
    double low = std::min(-emitter::radius_at(beam, 0, 0.0), s.flight.baseline - rim);
    double high = std::max(emitter::radius_at(beam, 0, 0.0), s.flight.baseline + rim);
    for (const double side : {1.0, -1.0}) {
        for (const Vector2& place : field_edge(s, layout, side, view.end, false)) {
            low = std::min(low, place.y());
            high = std::max(high, place.y());
        }
    }
    for (const double radius : layout.beam_radius) {
        low = std::min(low, -radius);
        high = std::max(high, radius);
    }
    if (const auto body = sensor::body_of(s)) {
        for (const Eigen::Vector2d& corner : *body) {
            low = std::min(low, beside_beam(s, corner).y());
            high = std::max(high, beside_beam(s, corner).y());
        }
    }
    const double face = sensor::body_of(s) ? face_with_housing : face_without_housing;
    view.across = (area.bottom - area.top) / (1.08 * (high - low));
    view.along = std::min((area.right - face) / view.end, view.across);
    view.face = {face, 0.5 * (area.top + area.bottom) + 0.5 * (low + high) * view.across};
    return view;
}

void draw_field(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout, const BeamView& view) {
    const auto on_page = [&view](const std::vector<Vector2>& edge) {
        std::vector<Vector2> points;
        for (const Vector2& place : edge) points.push_back(view.at(place.x(), place.y()));
        return points;
    };
    std::vector<Vector2> outline = on_page(field_edge(s, layout, 1.0, view.end, false));
    const std::vector<Vector2> back = on_page(field_edge(s, layout, -1.0, view.end, false));
    outline.insert(outline.end(), back.rbegin(), back.rend());
    canvas.polygon(outline, palette::light, {palette::grey, 0.8}, "field");
    for (const double side : {1.0, -1.0}) {
        const std::vector<Vector2> edge = on_page(field_edge(s, layout, side, view.end, true));
        if (edge.size() > 1) canvas.polyline(edge, {palette::grey, 1.0, dash::dashed});
    }
}

void draw_flight_beam(Canvas& canvas, const scenario::Scenario& s, const BeamView& view) {
    const emitter::Beam beam = sensor::beam_of(s);
    constexpr int segments = 60;
    std::vector<Vector2> outline;
    std::vector<Vector2> back;
    for (int i = 0; i <= segments; ++i) {
        const double z = view.end * i / segments;
        const double radius = emitter::radius_at(beam, 0, z);
        outline.push_back(view.at(z, radius));
        back.push_back(view.at(z, -radius));
    }
    outline.insert(outline.end(), back.rbegin(), back.rend());
    canvas.polygon(outline, palette::beam, {palette::beam_edge, 0.9}, "beam");
    canvas.line(view.at(0.0, 0.0), view.at(view.end, 0.0), {palette::beam_edge, 0.8, dash::chain});
}

// What stands in the sensor, with names at the left side of the page. Its depth is not to scale.
void draw_flight_sensor(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout,
                        const BeamView& view) {
    const double rim = layout.receiver.aperture.half_in_plane;
    const Vector2 upper = view.at(0.0, s.flight.baseline + rim);
    const Vector2 lower = view.at(0.0, s.flight.baseline - rim);
    const double top = std::min(upper.y(), view.face.y() - 8.0) - 8.0;
    const double bottom = std::max(lower.y(), view.face.y() + 8.0) + 8.0;
    const double left = view.face.x() - housing_depth;
    const std::array<Vector2, 4> housing = housing_corners(s, view, top, bottom);
    canvas.polygon(housing, palette::housing, {palette::ink, 1.2}, "housing");
    const Vector2 lens_centre = 0.5 * (upper + lower);
    const Vector2 detector = lens_centre - Vector2(34.0, 0.0);
    const std::array inside{upper, detector, lower};
    canvas.polyline(inside, {palette::grey, 0.8});
    canvas.line(detector - Vector2(0.0, 5.0), detector + Vector2(0.0, 5.0), {palette::ink, 3.0});
    canvas.lens(upper, lower, {5.0, 0.0});
    const Vector2 emitter_corner = view.face - Vector2(14.0, 4.0);
    const std::array emitter{emitter_corner, Vector2(emitter_corner + Vector2(14.0, 0.0)),
                             Vector2(emitter_corner + Vector2(14.0, 8.0)), Vector2(emitter_corner + Vector2(0.0, 8.0))};
    canvas.polygon(emitter, palette::beam_edge, {palette::ink, 0.8});

    struct Named {
        Vector2 place;
        std::string name;
    };
    std::vector<Named> parts{
        {upper + 0.25 * (lower - upper), "lens"}, {detector, "detector"}, {view.face - Vector2(14.0, 0.0), "emitter"}};
    std::stable_sort(parts.begin(), parts.end(),
                     [](const Named& a, const Named& b) { return a.place.y() < b.place.y(); });
    std::vector<double> wanted;
    for (const Named& part : parts) wanted.push_back(part.place.y());
    const std::vector<double> heights(parts.size(), 17.0);
    const std::vector<double> places = spread(wanted, heights, view.area.top, view.area.bottom);
    draw_housing_width(canvas, s, housing, places);
    for (std::size_t i = 0; i < parts.size(); ++i) {
        canvas.text({page_margin, places[i] + 3.8}, parts[i].name, {small_size});
        const std::array leader{Vector2(page_margin + text_width(parts[i].name, small_size) + 3.0, places[i]),
                                Vector2(left - 6.0, places[i]), parts[i].place};
        canvas.polyline(leader, {palette::grey, 0.6});
    }
}

// Planes of the range and of the part, named over the drawing.
void draw_flight_planes(Canvas& canvas, const scenario::Scenario& s, const sensor::FlightLayout& layout,
                        const BeamView& view, double top) {
    struct Plane {
        double distance;
        double displacement;
        const char* name;
        Pen pen;
    };
    std::vector<Plane> planes{{layout.distance[0], s.mount.range[0], "near end", end_pens[0]},
                              {layout.distance[1], 0.0, "reference", end_pens[1]},
                              {layout.distance[2], s.mount.range[1], "far end", end_pens[2]}};
    const double part = part_distance(s);
    if (part > 0.0 && part < view.end) planes.push_back({part, s.target.displacement, "part", {palette::ink, 3.0}});
    std::stable_sort(planes.begin(), planes.end(),
                     [](const Plane& a, const Plane& b) { return a.distance < b.distance; });
    std::vector<double> wanted;
    for (const Plane& plane : planes) wanted.push_back(view.at(plane.distance, 0.0).x());
    constexpr double label_width = 88.0;
    const std::vector<double> widths(planes.size(), label_width);
    const std::vector<double> places = spread(wanted, widths, view.face.x() - 20.0, page_width - page_margin);
    for (std::size_t i = 0; i < planes.size(); ++i) {
        const std::string name(planes[i].name);
        const std::array line{Vector2(wanted[i], view.area.top), Vector2(wanted[i], view.area.bottom)};
        const std::string id = "plane-" + name.substr(0, name.find(' '));
        if (name == "part") {
            const std::array<Vector2, 2> face{view.at(part, 0.0) - Vector2(0.0, 26.0),
                                              view.at(part, 0.0) + Vector2(0.0, 26.0)};
            canvas.polyline(face, planes[i].pen, id);
        } else {
            canvas.polyline(line, planes[i].pen, id);
        }
        const std::array leader{Vector2(places[i], top + 32.0), Vector2(places[i], top + 36.0), line[0]};
        canvas.polyline(leader, {palette::grey, 0.7});
        canvas.text({places[i], top + 12.0}, name, {small_size, Anchor::middle});
        canvas.text({places[i], top + 27.0}, signed_number(planes[i].displacement / mm, 6) + " mm",
                    {body_size, Anchor::middle});
    }
}

// From the last drawn place to the first, so that a short one has its value on the left.
void draw_span(Canvas& canvas, const BeamView& view, double from, double to, double row, const std::string& value,
               const std::string& longer) {
    const Vector2 base(0.0, view.area.bottom - view.face.y());
    draw_dimension(
        canvas, {view.at(from, 0.0) + base, view.at(to, 0.0) + base, Vector2(0.0, row), 4.0, 4.0, {}, {longer, value}});
}

void draw_unambiguous(Canvas& canvas, const sensor::FlightLayout& layout, const BeamView& view, double row) {
    const double near = layout.distance[0];
    const std::string value = number(layout.unambiguous_distance / mm, 6) + " mm";
    if (near + layout.unambiguous_distance <= view.end) {
        draw_span(canvas, view, near + layout.unambiguous_distance, near, row, value,
                  value + ": readings repeat themselves");
        return;
    }
    const double y = view.area.bottom + row;
    const Vector2 from(view.at(near, 0.0).x(), y);
    const Vector2 to(view.area.right, y);
    const Pen thin{palette::grey, 0.8};
    canvas.line({from.x(), view.area.bottom + 4.0}, {from.x(), y + 5.0}, thin);
    const std::string words = value + " unambiguous, to beyond the drawing";
    const double half = 0.5 * text_width(words, body_size);
    const double lowest = from.x() + half + 22.0;
    const double highest = to.x() - 40.0 - half;
    const bool fits = lowest <= highest;
    const double middle = fits ? std::clamp(0.5 * (from.x() + to.x()), lowest, highest) : from.x() - half - 8.0;
    if (fits) {
        canvas.line(from, {middle - half, y}, thin);
        canvas.line({middle + half, y}, to - Vector2(30.0, 0.0), thin);
    }
    canvas.line(to - Vector2(28.0, 0.0), to, {palette::grey, 0.8, dash::dotted});
    canvas.arrow_head(from, {-1.0, 0.0});
    canvas.arrow_head(to, {1.0, 0.0});
    canvas.text({middle, y + 4.0}, words, {body_size, Anchor::middle});
}

void draw_flight_dimensions(Canvas& canvas, const sensor::FlightLayout& layout, const BeamView& view) {
    constexpr double row = 19.0;
    for (std::size_t i = 0; i < layout.distance.size(); ++i) {
        const Vector2 base(0.0, view.area.bottom - view.face.y());
        Dimension dimension;
        dimension.from = view.at(0.0, 0.0) + base;
        dimension.to = view.at(layout.distance[i], 0.0) + base;
        dimension.offset = {0.0, row * static_cast<double>(i + 1)};
        dimension.from_gap = dimension.to_gap = 4.0;
        // The extension line of the near end goes down past all of them.
        if (i > 0) dimension.crossed = {layout.distance[0] / layout.distance[i]};
        dimension.values = {number(layout.distance[i] / mm, 6) + " mm"};
        draw_dimension(canvas, dimension);
    }
    const std::string span = number((layout.distance[2] - layout.distance[0]) / mm, 6) + " mm";
    draw_span(canvas, view, layout.distance[2], layout.distance[0], 4.0 * row, span, span + " measuring range");
    draw_unambiguous(canvas, layout, view, 5.0 * row);
}

// Scales in words, a bar for what is along the beam, and what the colours are.
void draw_flight_foot(Canvas& canvas, const BeamView& view, double baseline) {
    const double length = round_length(120.0 / view.along / mm) * mm;
    const Vector2 left(page_margin, baseline - 4.0);
    canvas.open_group("scale-bar", fmt::format("data-units-per-mm=\"{:.6f}\" data-across-units-per-mm=\"{:.6f}\"",
                                               view.along * mm, view.across * mm));
    canvas.line(left, left + Vector2(length * view.along, 0.0), {palette::ink, 2.0});
    for (const double end : {0.0, length * view.along}) {
        canvas.line(left + Vector2(end, -4.0), left + Vector2(end, 4.0), {palette::ink, 1.2});
    }
    canvas.close_group();
    canvas.text({page_margin + length * view.along + 8.0, baseline},
                fmt::format("{} mm along the beam; across it {} times larger; inside of the sensor not to scale",
                            number(length / mm), number(view.across / view.along, 3)),
                {small_size});
    double right = page_width - page_margin;
    const auto entry = [&canvas, &right, baseline](const char* name, const char* fill, const Pen& pen) {
        right -= text_width(name, small_size);
        canvas.text({right, baseline}, name, {small_size});
        const std::array box{Vector2(right - 24.0, baseline - 9.0), Vector2(right - 8.0, baseline - 9.0),
                             Vector2(right - 8.0, baseline + 1.0), Vector2(right - 24.0, baseline + 1.0)};
        canvas.polygon(box, fill, pen);
        right -= 24.0 + 16.0;
    };
    entry("by all of it", palette::light, {palette::grey, 1.0, dash::dashed});
    entry("seen by some of the lens", palette::light, {palette::grey, 0.8});
    entry("beam, 1/e²", palette::beam, {palette::beam_edge, 0.9});
}

std::string flight_caption(const scenario::Scenario& s) {
    const auto [method, power] =
        std::visit(base::Cases{[](scenario::Pulsed) { return std::pair("pulses", "mW peak"); },
                               [](scenario::PhaseShift) { return std::pair("phase shift", "mW"); },
                               [](scenario::Triangulation) { return std::pair("none", "mW"); }},
                   s.principle);
    std::string caption = fmt::format("Time of flight by {}, {} nm, {} {}", method, number(s.emitter.wavelength / nm),
                                      number(s.emitter.power / mW), power);
    caption += s.flight.baseline == 0.0 ? "; the lens surrounds the beam"
                                        : fmt::format("; lens {} mm beside the beam", number(s.flight.baseline / mm));
    if (s.emitter.angle != 0.0) {
        caption += fmt::format("; drawn along the beam, {}° from the mounting normal",
                               signed_number(s.emitter.angle / degree));
    }
    return caption;
}

}  // namespace

std::string draw_layout(const scenario::Scenario& scenario, const sensor::FlightLayout& layout) {
    Canvas canvas;
    const std::string title = scenario.title.empty() ? "Layout of the mounting" : scenario.title;
    const double caption = draw_title(canvas, title);
    draw_caption(canvas, flight_caption(scenario), caption);
    const double top = caption + 10.0;
    const double rows = sensor::body_of(scenario) ? 127.0 : 108.0;
    const BeamView view =
        make_beam_view(scenario, layout, {page_margin, top + 46.0, beam_right, panels_top - 24.0 - rows});
    draw_field(canvas, scenario, layout, view);
    draw_flight_beam(canvas, scenario, view);
    draw_flight_sensor(canvas, scenario, layout, view);
    draw_flight_planes(canvas, scenario, layout, view, top);
    draw_flight_dimensions(canvas, layout, view);
    draw_flight_room(canvas, scenario, layout, view);
    draw_flight_foot(canvas, view, panels_top - 14.0);
    constexpr double numbers_left = 706.0;
    draw_seen_spots(canvas, scenario, layout, {page_margin, panels_top, numbers_left - 28.0, page_lowest});
    draw_flight_numbers(canvas, scenario, layout, {numbers_left, panels_top, page_width - page_margin, page_lowest});
    return page_of(canvas, title);
}

}  // namespace spotwright::drawing
