#include "sim/record/mounting_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <span>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/record/page_view.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::nm, base::degree;
using Eigen::Vector2d;

// Sizes on the page that do not follow the scale.
constexpr double plane_left = 84.0;
constexpr double plane_right = 54.0;
constexpr double part_half_width = 50.0;
constexpr double column_gap = 24.0;
constexpr double column_width = 168.0;
constexpr double emitter_half_width = 17.0;
constexpr double emitter_depth = 46.0;
constexpr double distance_offset = 50.0;
constexpr double receiver_offset = 36.0;
constexpr double stop_blade = 13.0;
constexpr double line_spacing = 15.0;
constexpr double array_label_clearance = 32.0;  // from the middle of the emitter face

struct Sheet {
    Canvas& canvas;
    const scenario::Scenario& scenario;
    const study::Layout& layout;
    const Mounting& mounting;
    View view;
    double beam_exaggeration = 1.0;
};

double half_array(const receiver::Receiver& r) {
    return static_cast<double>(r.pixels) * r.pitch / 2.0;
}

// How far lens and array reach outward from the axis of the receiver. [m]
double receiver_reach(const receiver::Receiver& r) {
    return std::max(r.aperture_radius, half_array(r) * std::abs(std::cos(r.detector_tilt)));
}

std::string angle_text(double angle) {
    return number(angle / degree) + "°";
}

std::vector<std::string> part_lines(const scenario::Scenario& s) {
    std::vector<std::string> lines{fmt::format("part: s = {} mm", signed_number(s.target.displacement / mm))};
    const std::vector<std::string> material = wrap(s.target.material, body_size, column_width);
    lines.insert(lines.end(), material.begin(), material.end());
    if (s.target.tilt[0] != 0.0) lines.push_back("tilt " + angle_text(s.target.tilt[0]));
    return lines;
}

std::vector<std::string> array_lines(const study::Layout& layout, const scenario::Scenario& s) {
    return {
        fmt::format("array {} mm (detail A)", number(2.0 * half_array(layout.receiver) / mm)),
        fmt::format("tilt {}{}", angle_text(layout.detector_tilt), s.receiver.detector_tilt ? "" : " (Scheimpflug)")};
}

std::vector<std::string> lens_lines(const receiver::Receiver& r) {
    return {fmt::format("lens, f = {} mm", number(r.focal_length / mm)),
            fmt::format("aperture {} mm", number(2.0 * r.aperture_radius / mm))};
}

// One text for each of near end, reference, far end, and the part if it is drawn.
std::vector<std::vector<std::string>> plane_texts(const scenario::Scenario& s, const Mounting& m) {
    constexpr std::array names{"near end", "reference", "far end"};
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    std::vector<std::vector<std::string>> texts;
    for (std::size_t i = 0; i < names.size(); ++i) {
        texts.push_back({fmt::format("{}: s = {} mm", names[i], signed_number(displacements[i] / mm))});
    }
    if (m.part) texts.push_back(part_lines(s));
    return texts;
}

double widest(std::span<const std::string> lines) {
    double width = 0.0;
    for (const std::string& line : lines) width = std::max(width, text_width(line, body_size));
    return width;
}

// A box around a point that is itself shifted on the page.
Box shifted(const Vector2& shift, const Box& box) {
    return {box.left + shift.x(), box.top + shift.y(), box.right + shift.x(), box.bottom + shift.y()};
}

std::vector<Extent> extents_of(const scenario::Scenario& s, const study::Layout& layout, const Mounting& m) {
    const receiver::Receiver& r = layout.receiver;
    double column = 0.0;
    for (const auto& lines : plane_texts(s, m)) column = std::max(column, column_gap + widest(lines));
    std::vector<Extent> extents;
    for (const Vector2d& spot : m.spots) {
        extents.push_back({spot, {-plane_left - column, -46.0, plane_right, 46.0}});
        extents.push_back({{0.0, spot.y()}, {-plane_left - column, -46.0, plane_right, 46.0}});
    }
    if (m.part) {
        const double rise = part_half_width * std::abs(m.part->normal.x()) + 14.0;
        extents.push_back({m.part->spot, {-part_half_width - column, -rise, part_half_width + 14.0, rise}});
    }
    extents.push_back({m.face, {-150.0, -64.0, 60.0, 10.0}});

    const Vector2 page_outward = View::direction(m.outward);
    const Vector2 beside = receiver_offset * page_outward;
    const Vector2d reach = receiver_reach(r) * m.outward;
    extents.push_back({reach, shifted(beside, {-14.0, -14.0, 14.0, 14.0})});
    extents.push_back({m.lens + reach, shifted(beside, {-14.0, -24.0, 134.0, 40.0})});
    extents.push_back({on_array(r, 0.0) + reach, shifted(beside, {-14.0, -14.0, 14.0, 14.0})});
    const Vector2 past_dimension = beside + past_end_of_dimension * View::direction(m.axis);
    extents.push_back({on_array(r, 0.0) + reach, shifted(past_dimension, {0.0, -54.0, 70.0, 0.0})});
    const double label = widest(array_lines(layout, s));
    extents.push_back({m.face, {0.0, 0.0, array_label_clearance + label, 0.0}});
    for (const double u : {-half_array(r), half_array(r)}) {
        extents.push_back({on_array(r, u), {-14.0, -54.0, 14.0, 14.0}});
    }
    extents.push_back({on_array(r, 0.0), {-0.5 * label, 0.0, 0.5 * label, 0.0}});
    return extents;
}

// The smallest round factor that shows the widest place of the beam as more than a line.
double exaggeration(const emitter::Beam& beam, double along_end, double scale) {
    constexpr double visible = 4.5;
    const double widest = std::max(emitter::radius_at(beam, 0, 0.0), emitter::radius_at(beam, 0, along_end)) * scale;
    double decade = 1.0;
    for (int i = 0; i < 9; ++i, decade *= 10.0) {
        for (const double step : {1.0, 2.0, 5.0}) {
            if (step * decade * widest >= visible) return step * decade;
        }
    }
    return decade;
}

double beam_end(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    return m.part ? m.part->along : (m.face - m.spots[2]).norm();
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
    const Vector2 beside = face + 0.6 * depth + (emitter_half_width + 8.0) * left;
    const TextStyle style{body_size, Anchor::end};
    sheet.canvas.text(beside, "emitter", style);
    sheet.canvas.text(beside + Vector2(0.0, line_spacing),
                      fmt::format("{} nm", number(sheet.scenario.emitter.wavelength / nm)), style);
}

// Left and right end of the thin line that marks a target plane.
Segment plane_line(const Sheet& sheet, std::size_t which) {
    const Vector2d& spot = sheet.mounting.spots[which];
    const Vector2 at_spot = sheet.view.at(spot);
    const Vector2 at_normal = sheet.view.at({0.0, spot.y()});
    return {Vector2(std::min(at_spot.x(), at_normal.x()) - plane_left, at_spot.y()),
            Vector2(std::max(at_spot.x(), at_normal.x()) + plane_right, at_spot.y())};
}

Segment part_line(const Sheet& sheet) {
    const PartView& part = *sheet.mounting.part;
    const Vector2 normal = View::direction(part.normal);
    const Vector2 along(-normal.y(), normal.x());  // to the right where the normal points up
    const Vector2 spot = sheet.view.at(part.spot);
    return {Vector2(spot - part_half_width * along), Vector2(spot + part_half_width * along)};
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

void draw_plane_labels(const Sheet& sheet, const Box& area) {
    struct Label {
        Vector2 anchor;
        std::vector<std::string> lines;
    };
    std::vector<Label> labels;
    for (std::vector<std::string>& lines : plane_texts(sheet.scenario, sheet.mounting)) {
        const std::size_t which = labels.size();
        const bool is_plane = which < sheet.mounting.spots.size();
        labels.push_back({is_plane ? plane_line(sheet, which)[0] : part_line(sheet)[0], std::move(lines)});
    }
    std::stable_sort(labels.begin(), labels.end(),
                     [](const Label& a, const Label& b) { return a.anchor.y() < b.anchor.y(); });
    double edge = area.right;
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (const Label& label : labels) {
        edge = std::min(edge, label.anchor.x() - column_gap);
        wanted.push_back(label.anchor.y());
        sizes.push_back(line_spacing * static_cast<double>(label.lines.size()) + 5.0);
    }
    const std::vector<double> centres = spread(wanted, sizes, area.top, area.bottom);
    for (std::size_t i = 0; i < labels.size(); ++i) {
        const Pen thin{palette::grey, 0.7};
        const std::array leader{Vector2(edge + 4.0, centres[i]), Vector2(edge + 10.0, centres[i]), labels[i].anchor};
        sheet.canvas.polyline(leader, thin);
        sheet.canvas.circle(labels[i].anchor, 1.7, palette::grey, thin);
        double baseline = centres[i] - 0.5 * line_spacing * static_cast<double>(labels[i].lines.size() - 1) + 4.0;
        for (const std::string& line : labels[i].lines) {
            sheet.canvas.text({edge, baseline}, line, {body_size, Anchor::end});
            baseline += line_spacing;
        }
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

void draw_lines(const Sheet& sheet, const Vector2& centre, Anchor anchor, const std::vector<std::string>& lines) {
    double baseline = centre.y() + 4.0 - 0.5 * line_spacing * static_cast<double>(lines.size() - 1);
    for (const std::string& line : lines) {
        sheet.canvas.text({centre.x(), baseline}, line, {body_size, anchor});
        baseline += line_spacing;
    }
}

// `value_top`: what the label of the array must stay above.
void draw_receiver_labels(const Sheet& sheet, double value_top) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Mounting& m = sheet.mounting;
    const Vector2 outward = View::direction(m.outward);
    const Vector2 lens = sheet.view.at(m.lens + receiver_reach(r) * m.outward) + (receiver_offset + 14.0) * outward;
    draw_lines(sheet, lens + Vector2(0.0, 15.0 * std::max(outward.y(), 0.0)), Anchor::start, lens_lines(r));

    // Above the upper end of the array, clear of the emitter.
    const std::vector<std::string> lines = array_lines(sheet.layout, sheet.scenario);
    const Vector2 centre = sheet.view.at(on_array(r, 0.0));
    const double top =
        std::min(sheet.view.at(on_array(r, half_array(r))).y(), sheet.view.at(on_array(r, -half_array(r))).y());
    const double left = std::max(centre.x() - 0.5 * widest(lines), sheet.view.at(m.face).x() + array_label_clearance);
    const double lowest = std::min(top - 14.0, value_top - 4.0);
    draw_lines(sheet, {left, lowest - 4.0 - 0.5 * line_spacing}, Anchor::start, lines);
}

// With as much of its name as the line is long enough for.
std::string distance_text(const Sheet& sheet, const char* name, double distance) {
    const std::string value = fmt::format("{} mm", number(distance / mm));
    const double room = 0.85 * distance * sheet.view.scale - 50.0;
    for (const std::string& named : {fmt::format("{} distance {}", name, value), fmt::format("{} {}", name, value)}) {
        if (text_width(named, body_size) < room) return named;
    }
    return value;
}

void draw_reference_distance(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    const double distance = sheet.scenario.mount.reference_distance;
    const Vector2d left(-m.beam_axis.y(), m.beam_axis.x());
    Dimension d;
    d.from = sheet.view.at(m.face);
    d.to = sheet.view.at({0.0, 0.0});
    d.offset = distance_offset * View::direction(left);
    d.from_gap = emitter_half_width + 5.0;
    d.to_gap = distance_offset - 6.0;
    d.value = distance_text(sheet, "reference", distance);
    std::vector<double> levels{m.spots[0].y(), m.spots[2].y()};
    if (m.part) levels.push_back(m.part->spot.y());
    for (const double z : levels) {
        const double along = (z - distance_offset / sheet.view.scale * left.y()) / m.beam_axis.y();
        d.crossed.push_back(1.0 - along / distance);
    }
    draw_dimension(sheet.canvas, d);
}

Vector2 receiver_dimension_offset(const Sheet& sheet) {
    const double reach = receiver_reach(sheet.layout.receiver) * sheet.view.scale;
    return (reach + receiver_offset) * View::direction(sheet.mounting.outward);
}

// Returns how high on the page the value of the image distance reaches.
double draw_receiver_distances(const Sheet& sheet) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Mounting& m = sheet.mounting;
    const Vector2 offset = receiver_dimension_offset(sheet);
    const double past_lens = r.aperture_radius * sheet.view.scale + stop_blade + 4.0;
    Dimension object;
    object.from = sheet.view.at({0.0, 0.0});
    object.to = sheet.view.at(m.lens);
    object.offset = offset;
    object.from_gap = 24.0;
    object.to_gap = past_lens;
    object.value = distance_text(sheet, "object", r.object_distance);
    draw_dimension(sheet.canvas, object);
    Dimension image;
    image.from = sheet.view.at(m.lens);
    image.to = sheet.view.at(on_array(r, 0.0));
    image.offset = offset;
    image.from_gap = past_lens;
    image.to_gap = 9.0;
    image.value = distance_text(sheet, "image", r.image_distance);
    return draw_dimension(sheet.canvas, image);
}

// Everything that a value of an angle must not cover.
std::vector<Segment> lines_about_reference(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    const View& view = sheet.view;
    const emitter::Beam beam = emitter::make_beam(sheet.scenario);
    const double widest = sheet.beam_exaggeration * std::max(emitter::radius_at(beam, 0, 0.0),
                                                             emitter::radius_at(beam, 0, (m.face - m.spots[2]).norm()));
    const Vector2d across = widest * Vector2d(m.beam_axis.y(), -m.beam_axis.x());
    std::vector<Segment> lines{{view.at(m.face + across), view.at(m.spots[2] + across)},
                               {view.at(m.face - across), view.at(m.spots[2] - across)}};
    for (std::size_t i = 0; i < m.spots.size(); ++i) {
        lines.push_back({view.at(m.spots[i]), view.at(m.lens)});
        lines.push_back(plane_line(sheet, i));
    }
    const Vector2 offset = receiver_dimension_offset(sheet);
    lines.push_back({view.at({0.0, 0.0}) + offset, view.at(m.lens) + offset});
    if (m.part) {
        lines.push_back({view.at(m.part->spot), view.at(m.lens)});
        lines.push_back({view.at(m.part->spot), view.at(m.rims[0])});
        lines.push_back({view.at(m.part->spot), view.at(m.rims[1])});
        lines.push_back(part_line(sheet));
    }
    return lines;
}

void draw_angles(const Sheet& sheet) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Vector2 apex = sheet.view.at({0.0, 0.0});
    const double scale = sheet.view.scale;
    const double distance = sheet.scenario.mount.reference_distance * scale;
    std::vector<Segment> lines = lines_about_reference(sheet);
    if (r.emitter_angle != 0.0) {
        const double height = std::min(0.8 * distance, std::max(0.62 * distance, 200.0));
        const Vector2 top = apex - Vector2(0.0, height);
        sheet.canvas.line(apex, top, {palette::grey, 0.8, dash::chain});
        sheet.canvas.text(top - Vector2(0.0, 6.0), "mounting normal", {small_size, Anchor::middle});
        lines.push_back({apex, top});
    }
    const double greatest = std::min(r.object_distance * scale - 26.0, distance - 24.0);
    constexpr double least = 70.0;
    if (r.angle != 0.0) draw_angle(sheet.canvas, {apex, 0.0, r.angle, least, greatest, angle_text(r.angle)}, lines);
    if (r.emitter_angle != 0.0) {
        draw_angle(sheet.canvas, {apex, 0.0, r.emitter_angle, least, greatest, angle_text(r.emitter_angle)}, lines);
    }
}

std::vector<std::string> remarks_of(const Sheet& sheet) {
    const scenario::Scenario& s = sheet.scenario;
    std::vector<std::string> remarks;
    remarks.push_back("x, z: the sensor's frame. s: displacement, + away from the sensor.");
    remarks.push_back(sheet.beam_exaggeration > 1.0
                          ? fmt::format("Beam: 1/e² width of the Gaussian beam, drawn {} times too wide.",
                                        number(sheet.beam_exaggeration))
                          : std::string("Beam: 1/e² width of the Gaussian beam, to scale."));
    if (s.mount.tilt[0] != 0.0) {
        remarks.push_back(
            fmt::format("The sensor is tilted by {}° in plane. Its frame is drawn upright and the part turned the "
                        "opposite way.",
                        number(s.mount.tilt[0] / degree)));
    }
    if (s.mount.tilt[1] != 0.0 || s.target.tilt[1] != 0.0) {
        remarks.push_back(fmt::format("Not seen in this plane: out-of-plane tilt, sensor {}°, part {}°.",
                                      number(s.mount.tilt[1] / degree), number(s.target.tilt[1] / degree)));
    }
    if (!sheet.mounting.part) {
        remarks.push_back(fmt::format("The part at s = {} mm is not drawn: the beam does not meet its front there.",
                                      signed_number(s.target.displacement / mm)));
    } else if (!sheet.mounting.part->image) {
        remarks.push_back("The image of the part's spot misses the array.");
    }
    return remarks;
}

}  // namespace

MountingNotes draw_mounting(Canvas& canvas, const scenario::Scenario& scenario, const study::Layout& layout,
                            const Mounting& mounting, const Box& area) {
    Sheet sheet{canvas, scenario, layout, mounting, fit(extents_of(scenario, layout, mounting), area)};
    sheet.beam_exaggeration = exaggeration(emitter::make_beam(scenario), beam_end(sheet), sheet.view.scale);
    canvas.open_group("mounting", fmt::format("data-units-per-mm=\"{:.6f}\"", sheet.view.scale * mm));
    draw_collected_light(sheet);
    draw_beam(sheet);
    draw_planes(sheet);
    if (mounting.part) draw_part(sheet);
    draw_emitter(sheet);
    draw_chief_rays(sheet);
    draw_lens(sheet);
    draw_array(sheet);
    draw_reference_distance(sheet);
    const double value_top = draw_receiver_distances(sheet);
    draw_angles(sheet);
    draw_plane_labels(sheet, area);
    draw_receiver_labels(sheet, value_top);
    canvas.close_group();
    return {sheet.view.scale, remarks_of(sheet)};
}

}  // namespace spotwright::record
