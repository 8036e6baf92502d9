#include "sim/record/mounting_dimensions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"

namespace spotwright::record {

namespace {

using base::mm;
using Eigen::Vector2d;

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

// Away from the receiver.
Vector2 distance_offset_on_page(const Mounting& m) {
    return distance_offset * View::direction({-m.beam_axis.y(), m.beam_axis.x()});
}

void draw_reference_distance(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    const double distance = sheet.scenario.mount.reference_distance;
    const Vector2d left(-m.beam_axis.y(), m.beam_axis.x());
    Dimension d;
    d.from = sheet.view.at(m.face);
    d.to = sheet.view.at({0.0, 0.0});
    d.offset = distance_offset_on_page(m);
    d.from_gap = emitter_half_width + 5.0;
    d.to_gap = distance_offset - 6.0;
    d.value = distance_text(sheet, "reference", distance);
    std::vector<double> levels{m.spots[0].y(), m.spots[2].y()};
    if (m.part) levels.push_back(m.part->spot.y());
    for (const double z : levels) {
        const double along = (z - distance_offset / sheet.view.scale * left.y()) / m.beam_axis.y();
        d.crossed.push_back(1.0 - along / distance);
    }
    if (m.beam_axis.x() > 0.0) {  // the mounting normal
        d.crossed.push_back(1.0 + distance_offset / sheet.view.scale * left.x() / m.beam_axis.x() / distance);
    }
    draw_dimension(sheet.canvas, d);
}

Vector2 receiver_dimension_offset(const Sheet& sheet) {
    const double reach = receiver_reach(sheet.layout.receiver) * sheet.view.scale;
    return (reach + receiver_offset) * View::direction(sheet.mounting.outward);
}

// Returns how high on the page the value of the image distance reaches.
double draw_receiver_distances(const Sheet& sheet, const std::optional<AngleArc>& arc) {
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
    if (arc && arc->end > r.angle && arc->radius > offset.norm()) {
        const double along = std::sqrt(arc->radius * arc->radius - offset.squaredNorm());
        object.crossed.push_back(along / (r.object_distance * sheet.view.scale));
    }
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
    const Vector2 beside_beam = distance_offset_on_page(m);
    lines.push_back({view.at({0.0, 0.0}) + beside_beam, view.at(m.face) + beside_beam});
    if (m.part) {
        lines.push_back({view.at(m.part->spot), view.at(m.lens)});
        lines.push_back({view.at(m.part->spot), view.at(m.rims[0])});
        lines.push_back({view.at(m.part->spot), view.at(m.rims[1])});
        lines.push_back(part_line(sheet));
    }
    return lines;
}

// Returns the arc of the receiver's angle, if there is one.
std::optional<AngleArc> draw_angles(const Sheet& sheet) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Vector2 apex = sheet.view.at({0.0, 0.0});
    const double scale = sheet.view.scale;
    const double distance = sheet.scenario.mount.reference_distance * scale;
    std::vector<Segment> lines = lines_about_reference(sheet);
    if (r.emitter_angle != 0.0 && r.angle != 0.0) {
        const Vector2 top = apex - Vector2(0.0, std::min(0.8 * distance, std::max(0.62 * distance, 200.0)));
        sheet.canvas.line(apex, top, {palette::grey, 0.8, dash::chain});
        lines.push_back({apex, top});
    }
    AngleMark mark;
    mark.apex = apex;
    mark.greatest_radius = std::max(30.0, std::min(r.object_distance * scale - 26.0, distance - 24.0));
    mark.least_radius = std::min(70.0, 0.6 * mark.greatest_radius);
    std::optional<AngleArc> arc;
    if (r.angle != 0.0) {
        mark.to = r.angle;
        mark.value = angle_text(r.angle);
        arc = draw_angle(sheet.canvas, mark, lines);
    }
    if (r.emitter_angle != 0.0) {
        mark.to = r.emitter_angle;
        mark.value = angle_text(r.emitter_angle);
        draw_angle(sheet.canvas, mark, lines);
    }
    return arc;
}

}  // namespace

void draw_dimensions(const Sheet& sheet, const Box& area) {
    draw_reference_distance(sheet);
    const std::optional<AngleArc> arc = draw_angles(sheet);
    const double value_top = draw_receiver_distances(sheet, arc);
    draw_plane_labels(sheet, area);
    draw_receiver_labels(sheet, value_top);
}

}  // namespace spotwright::record
