#include "sim/drawing/mounting_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/drawing/mounting_dimensions.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::degree;
using Eigen::Vector2d;

// How far the drawn beam goes at a place beside its axis: to the part, or past it.
double landing(const Sheet& sheet, const emitter::Beam& beam, double offset) {
    const auto hit = target::meet(sheet.mounting.part->shape, {beam.face + offset * beam.axes[0], beam.direction});
    return hit ? hit->distance : std::numeric_limits<double>::max();
}

// One edge of the beam, from face to part, `side` -1 or +1.
std::vector<Vector2> beam_edge(const Sheet& sheet, const emitter::Beam& beam, double side) {
    constexpr int steps = 40;
    const Mounting& m = sheet.mounting;
    const Vector2d across(beam.axes[0].x(), beam.axes[0].z());
    const double end = beam_end(sheet);
    double last = end;
    if (m.part) {  // up to the part's surface, which may be tilted
        const double offset = side * sheet.beam_exaggeration * emitter::radius_at(beam, 0, end);
        const double longest = 40.0 / sheet.view.scale;
        double further = offset * m.part->normal.dot(across) / m.part->normal.dot(m.beam_axis);
        if (sheet.section) further = landing(sheet, beam, offset) - end;
        last += std::clamp(further, -longest, longest);
    }
    std::vector<Vector2> points;
    for (int i = 0; i <= steps; ++i) {
        const double along = last * i / steps;
        const double offset = side * sheet.beam_exaggeration * emitter::radius_at(beam, 0, along);
        points.push_back(sheet.view.at(m.face - along * m.beam_axis + offset * across));
    }
    return points;
}

void draw_beam(const Sheet& sheet) {
    const emitter::Beam beam = sensor::beam_of(sheet.scenario);
    const std::vector<Vector2> left = beam_edge(sheet, beam, -1.0);
    const std::vector<Vector2> right = beam_edge(sheet, beam, 1.0);
    std::vector<Vector2> outline = left;
    outline.insert(outline.end(), right.rbegin(), right.rend());
    sheet.canvas.polygon(outline, palette::beam, {palette::beam, 0.2});
    sheet.canvas.polyline(left, {palette::beam_edge, 0.7});
    sheet.canvas.polyline(right, {palette::beam_edge, 0.7});
    const Mounting& m = sheet.mounting;
    const Vector2d lowest = m.part && m.part->along > (m.face - m.spots[2]).norm() ? m.part->spot : m.spots[2];
    const std::array axis{sheet.view.at(m.face), sheet.view.at(lowest)};
    sheet.canvas.polyline(axis, {palette::beam_edge, 0.7, dash::chain}, "beam-axis");
}

void draw_emitter(const Sheet& sheet) {
    const Vector2 face = sheet.view.at(sheet.mounting.face);
    const Vector2 up = View::direction(sheet.mounting.beam_axis);
    const Vector2 left(up.y(), -up.x());
    const Vector2 side = emitter_half_width * left;
    const Vector2 depth = emitter_depth * up;
    const std::array corners{Vector2(face - side), Vector2(face + side), Vector2(face + side + depth),
                             Vector2(face - side + depth)};
    if (!sheet.housing) {
        sheet.canvas.polygon(corners, palette::housing, {palette::grey, 1.0});
        sheet.canvas.line(face - side, face + side, {palette::ink, 3.0});
    }
    const EmitterLabel label = emitter_label(sheet);
    for (std::size_t i = 0; i < label.lines.size(); ++i) {
        sheet.canvas.text(label.at + Vector2(0.0, label_line_spacing * static_cast<double>(i)), label.lines[i],
                          label_style(sheet, label.anchor));
    }
}

// The tilt of the part, at the place that it turns about.
void draw_tilt(const Sheet& sheet, const Vector2& apex, double tilt) {
    if (std::abs(tilt) <= 0.2 * degree) return;
    const double level = -0.5 * base::pi;
    const Pen thin{palette::grey, 0.9};
    sheet.canvas.line(apex, apex - Vector2(part_half_width, 0.0), thin);
    sheet.canvas.arc(apex, 0.8 * part_half_width, level, level + tilt, thin);
}

// What the part's displacement counts to, where the surface itself stands elsewhere.
void draw_reference_surface(const Sheet& sheet) {
    const Section& section = *sheet.section;
    if (!section.shows_reference) return;
    constexpr double as_good_as_one = 1.5;
    const auto is_off = [&](const Vector2d& p) {
        return std::abs((p - section.reference).dot(section.up)) * sheet.view.scale > as_good_as_one;
    };
    const auto is_away = [&](const Outline& o) { return std::any_of(o.points.begin(), o.points.end(), is_off); };
    if (std::any_of(section.surface.begin(), section.surface.end(), is_away)) {
        const Segment line = part_line(sheet);
        sheet.canvas.line(line[0], line[1], {palette::grey, 0.8, dash::dashed});
    }
    draw_tilt(sheet, sheet.view.at(section.reference), std::atan2(section.up.x(), section.up.y()));
}

void draw_shaped_part(const Sheet& sheet, const Box& page) {
    const Mounting& m = sheet.mounting;
    draw_reference_surface(sheet);
    draw_section(sheet.canvas, *sheet.section, sheet.view, page, "part");
    if (const auto& light = sheet.section->back_light) {
        draw_back_light(sheet.canvas, *light, m.part->spot, sheet.view, page);
        std::vector<Vector2> ray{sheet.view.at(light->exit), sheet.view.at(m.lens)};
        if (light->image) ray.push_back(sheet.view.at(on_array(sheet.layout.receiver, *light->image)));
        sheet.canvas.polyline(ray, {palette::beam_edge, 0.9, dash::dashed}, "chief-ray-back");
    }
    if (sheet.detail) {
        constexpr double smallest = 8.0;
        sheet.canvas.circle(sheet.view.at(m.part->spot),
                            std::max(smallest, sheet.detail->half_width * sheet.view.scale), "none",
                            {palette::grey, 0.9});
    }
}

void draw_part(const Sheet& sheet) {
    const Segment edge = part_line(sheet);
    const Vector2 along = (edge[1] - edge[0]).normalized();
    const Vector2 behind(-along.y(), along.x());
    const Vector2 slant = 8.0 * behind - 8.0 * along;
    constexpr double spacing = 7.25;
    for (double at = 10.0; at < 2.0 * part_half_width; at += spacing) {
        const Vector2 start = edge[0] + at * along;
        sheet.canvas.line(start, start + slant, {palette::ink, 0.8});
    }
    sheet.canvas.polyline(edge, {palette::ink, 3.0}, "part");
    draw_tilt(sheet, sheet.view.at(sheet.mounting.part->spot), drawn_tilt(*sheet.mounting.part));
}

void draw_planes(const Sheet& sheet) {
    for (std::size_t i = 0; i < end_pens.size(); ++i) {
        const Segment line = plane_line(sheet, i);
        sheet.canvas.line(line[0], line[1], {end_pens[i].colour, 0.9, end_pens[i].dash});
    }
}

// The light that the lens collects from the part's spot.
void draw_collected_light(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    if (!m.part) return;
    const receiver::Receiver& r = sheet.layout.receiver;
    const View& view = sheet.view;
    const Vector2d& spot = m.part->spot;
    for (const auto& [inner, outer] : m.part->sight.seen) {
        const Vector2 outer_place = view.at(in_aperture(m, r, outer));
        const Vector2 inner_place = view.at(in_aperture(m, r, inner));
        const std::array before{view.at(spot), outer_place, inner_place};
        sheet.canvas.polygon(before, palette::light, {palette::light, 0.2});
        const Eigen::Vector3d lit(spot.x(), m.part->y, spot.y());
        const auto outer_image = image_on_array(r, lit, outer);
        const auto inner_image = image_on_array(r, lit, inner);
        if (!outer_image || !inner_image) continue;
        const std::array after{outer_place, view.at(on_array(r, *outer_image)), view.at(on_array(r, *inner_image)),
                               inner_place};
        sheet.canvas.polygon(after, palette::light, {palette::light, 0.2});
    }
}

void draw_chief_rays(const Sheet& sheet) {
    constexpr std::array ids{"chief-ray-near", "chief-ray-reference", "chief-ray-far"};
    const Mounting& m = sheet.mounting;
    const View& view = sheet.view;
    for (std::size_t i = 0; i < ids.size(); ++i) {
        const std::array ray{view.at(m.spots[i]), view.at(m.lens), view.at(m.images[i])};
        sheet.canvas.polyline(ray, end_pens[i], ids[i]);
    }
    if (!m.part) return;
    if (m.part->sight.hidden_at) {
        const std::array ray{view.at(m.part->spot), view.at(*m.part->sight.hidden_at)};
        sheet.canvas.polyline(ray, {part_pen.colour, part_pen.width, dash::dotted}, "chief-ray-part-hidden");
        draw_stop(sheet.canvas, ray[1]);
        return;
    }
    std::vector<Vector2> ray{view.at(m.part->spot), view.at(m.lens)};
    if (m.part->image) ray.push_back(view.at(on_array(sheet.layout.receiver, *m.part->image)));
    sheet.canvas.polyline(ray, part_pen, "chief-ray-part");
}

void draw_lens(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    const std::array rims{sheet.view.at(m.rims[0]), sheet.view.at(m.rims[1])};
    const double bulge = std::clamp(0.11 * (rims[1] - rims[0]).norm(), 2.0, 7.0);
    sheet.canvas.lens(rims[0], rims[1], bulge * View::direction(m.axis));
    const Vector2 blade = stop_blade * View::direction(m.outward);
    sheet.canvas.line(rims[0], rims[0] + blade, {palette::ink, 3.0});
    sheet.canvas.line(rims[1], rims[1] - blade, {palette::ink, 3.0});
}

void draw_array(const Sheet& sheet) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const std::array ends{sheet.view.at(on_array(r, -half_array(r))), sheet.view.at(on_array(r, half_array(r)))};
    const Vector2 along = (ends[1] - ends[0]).normalized();
    const Vector2 across(-along.y(), along.x());
    sheet.canvas.polyline(ends, {palette::ink, 3.6}, "array");
    for (const Vector2& end : ends) sheet.canvas.line(end - 5.0 * across, end + 5.0 * across, {palette::ink, 1.4});
    for (std::size_t i = 0; i < end_pens.size(); ++i) {
        sheet.canvas.circle(sheet.view.at(sheet.mounting.images[i]), 2.4, palette::paper, {end_pens[i].colour, 1.2});
    }
    const auto& part = sheet.mounting.part;
    if (part && part->image) {
        sheet.canvas.circle(sheet.view.at(on_array(r, *part->image)), 3.2, palette::beam_edge, {palette::paper, 0.8});
    }
}

}  // namespace

MountingNotes draw_mounting(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                            const Mounting& mounting, const Box& area, bool may_enlarge) {
    Sheet sheet = make_sheet(canvas, scenario, layout, mounting, area);
    if (!may_enlarge) sheet.detail.reset();
    canvas.open_group("mounting", fmt::format("data-units-per-mm=\"{:.6f}\"", sheet.view.scale * mm));
    if (sheet.housing) draw_housing(sheet);
    draw_collected_light(sheet);
    draw_beam(sheet);
    draw_planes(sheet);
    if (sheet.section) {
        draw_shaped_part(sheet, area);
    } else if (mounting.part) {
        draw_part(sheet);
    }
    draw_emitter(sheet);
    draw_chief_rays(sheet);
    draw_lens(sheet);
    draw_array(sheet);
    draw_dimensions(sheet, area);
    if (sheet.housing) draw_housing_dimensions(sheet, area);
    canvas.close_group();
    const Vector2 spot = sheet.view.at(mounting.part ? mounting.part->spot : mounting.spots[1]);
    return {sheet.view.scale, remarks_of(sheet), spot, sheet.detail};
}

double mounting_scale(const scenario::Scenario& scenario, const sensor::Layout& layout, const Mounting& mounting,
                      const Box& area) {
    Canvas unused;
    return make_sheet(unused, scenario, layout, mounting, area).view.scale;
}

}  // namespace spotwright::drawing
