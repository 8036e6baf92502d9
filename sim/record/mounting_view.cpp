#include "sim/record/mounting_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/record/mounting_dimensions.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::nm, base::degree;
using Eigen::Vector2d;

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
        last += std::clamp(offset * m.part->normal.dot(across) / m.part->normal.dot(m.beam_axis), -longest, longest);
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
    const emitter::Beam beam = emitter::make_beam(sheet.scenario);
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
    sheet.canvas.polygon(corners, palette::housing, {palette::grey, 1.0});
    sheet.canvas.line(face - side, face + side, {palette::ink, 3.0});
    // On the outer side; a beam that leans far to the left has its room inside.
    const double inside = -sheet.mounting.face.x() * sheet.view.scale;
    constexpr double enough = 110.0;
    const double outer = inside > enough ? -1.0 : 1.0;
    const Vector2 beside = face + 0.6 * depth + outer * (emitter_half_width + 8.0) * left -
                           Vector2(0.0, outer > 0.0 ? 0.0 : 0.8 * line_spacing);
    const TextStyle style{body_size, outer > 0.0 ? Anchor::end : Anchor::start};
    sheet.canvas.text(beside, "emitter", style);
    sheet.canvas.text(beside + Vector2(0.0, line_spacing),
                      fmt::format("{} nm", number(sheet.scenario.emitter.wavelength / nm)), style);
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
    const double tilt = drawn_tilt(*sheet.mounting.part);
    if (std::abs(tilt) > 0.2 * degree) {
        const Vector2 spot = sheet.view.at(sheet.mounting.part->spot);
        const double level = -0.5 * base::pi;
        const Pen thin{palette::grey, 0.9};
        sheet.canvas.line(spot, spot - Vector2(part_half_width, 0.0), thin);
        sheet.canvas.arc(spot, 0.8 * part_half_width, level, level + tilt, thin);
    }
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
    const std::array before{view.at(m.part->spot), view.at(m.rims[0]), view.at(m.rims[1])};
    sheet.canvas.polygon(before, palette::light, {palette::light, 0.2});
    if (!m.part->rim_images) return;
    const std::array after{view.at(m.rims[0]), view.at(on_array(r, (*m.part->rim_images)[0])),
                           view.at(on_array(r, (*m.part->rim_images)[1])), view.at(m.rims[1])};
    sheet.canvas.polygon(after, palette::light, {palette::light, 0.2});
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

MountingNotes draw_mounting(Canvas& canvas, const scenario::Scenario& scenario, const study::Layout& layout,
                            const Mounting& mounting, const Box& area) {
    const Sheet sheet = make_sheet(canvas, scenario, layout, mounting, area);
    canvas.open_group("mounting", fmt::format("data-units-per-mm=\"{:.6f}\"", sheet.view.scale * mm));
    draw_collected_light(sheet);
    draw_beam(sheet);
    draw_planes(sheet);
    if (mounting.part) draw_part(sheet);
    draw_emitter(sheet);
    draw_chief_rays(sheet);
    draw_lens(sheet);
    draw_array(sheet);
    draw_dimensions(sheet, area);
    canvas.close_group();
    return {sheet.view.scale, remarks_of(sheet)};
}

}  // namespace spotwright::record
