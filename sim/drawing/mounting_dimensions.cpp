#include "sim/drawing/mounting_dimensions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <utility>

#include "sim/base/units.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;
using Eigen::Vector2d;

// Away from the receiver.
Vector2 distance_offset_on_page(const Mounting& m) {
    return distance_offset * View::direction({-m.beam_axis.y(), m.beam_axis.x()});
}

Vector2 receiver_dimension_offset(const Sheet& sheet) {
    const double reach = receiver_reach(sheet.layout.receiver) * sheet.view.scale;
    return (reach + receiver_offset) * View::direction(sheet.mounting.outward);
}

// How far down the page the line of the reference distance comes at a place left of it; 0 where it does not.
double distance_line_height(const Sheet& sheet, double x) {
    constexpr double half_text = 9.0;  // of the value in the line
    constexpr double most = 40.0;
    const double lean = std::abs(sheet.mounting.beam_axis.x());
    const double margin = std::min(most, 4.0 + half_text / std::max(lean, half_text / most));
    const Vector2 offset = distance_offset_on_page(sheet.mounting);
    const Vector2 end = sheet.view.at({0.0, 0.0}) + offset;
    const Vector2 start = sheet.view.at(sheet.mounting.face) + offset;
    if (x <= start.x() || x >= end.x()) return 0.0;
    return std::lerp(start.y(), end.y(), (x - start.x()) / (end.x() - start.x())) + margin;
}

// How far down the page the front of the housing comes at a place right of its left side; 0 elsewhere.
double height_under_housing(const Sheet& sheet, double x) {
    constexpr double margin = 10.0;
    return sheet.housing && x > sheet.housing->box.left ? sheet.housing->box.bottom + margin : 0.0;
}

// How far down the page the label of the emitter comes where it stands above labels that end at a place; 0 elsewhere.
double emitter_label_height(const Sheet& sheet, double right) {
    const EmitterLabel label = emitter_label(sheet);
    const double start = label.at.x() - (label.anchor == Anchor::end ? widest(label.lines) : 0.0);
    constexpr double margin = 8.0;
    return start < right ? label.at.y() + label_line_spacing * static_cast<double>(label.lines.size() - 1) + margin
                         : 0.0;
}

void draw_plane_labels(const Sheet& sheet, const Box& area) {
    struct Label {
        Vector2 anchor;
        std::vector<std::string> lines;
    };
    std::vector<Label> labels;
    for (std::vector<std::string>& lines : plane_texts(sheet.scenario, sheet.mounting, sheet.detail.has_value())) {
        const std::size_t which = labels.size();
        const bool is_plane = which < sheet.mounting.spots.size();
        labels.push_back({is_plane ? plane_line(sheet, which)[0] : part_anchor(sheet), std::move(lines)});
    }
    std::stable_sort(labels.begin(), labels.end(),
                     [](const Label& a, const Label& b) { return a.anchor.y() < b.anchor.y(); });
    double edge = area.right;
    std::vector<double> wanted;
    std::vector<double> sizes;
    for (const Label& label : labels) {
        edge = std::min(edge, label.anchor.x() - column_gap);
        wanted.push_back(label.anchor.y());
        sizes.push_back(label_line_spacing * static_cast<double>(label.lines.size()) + 5.0);
    }
    const double top = std::max({area.top, distance_line_height(sheet, edge), emitter_label_height(sheet, edge),
                                 height_under_housing(sheet, edge)});
    const std::vector<double> centres = spread(wanted, sizes, top, area.bottom);
    for (std::size_t i = 0; i < labels.size(); ++i) {
        const Pen thin{palette::grey, 0.7};
        const std::array leader{Vector2(edge + 4.0, centres[i]), Vector2(edge + 10.0, centres[i]), labels[i].anchor};
        sheet.canvas.polyline(leader, thin);
        sheet.canvas.circle(labels[i].anchor, 1.7, palette::grey, thin);
        double baseline = centres[i] - 0.5 * label_line_spacing * static_cast<double>(labels[i].lines.size() - 1) + 4.0;
        for (const std::string& line : labels[i].lines) {
            sheet.canvas.text({edge, baseline}, line, {body_size, Anchor::end});
            baseline += label_line_spacing;
        }
    }
}

void draw_lines(const Sheet& sheet, const Vector2& centre, Anchor anchor, const std::vector<std::string>& lines) {
    double baseline = centre.y() + 4.0 - 0.5 * label_line_spacing * static_cast<double>(lines.size() - 1);
    for (const std::string& line : lines) {
        sheet.canvas.text({centre.x(), baseline}, line, label_style(sheet, anchor));
        baseline += label_line_spacing;
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
    draw_lines(sheet, {left, lowest - 4.0 - 0.5 * label_line_spacing}, Anchor::start, lines);
}

std::vector<std::string> distance_texts(const char* name, double distance) {
    const std::string value = fmt::format("{} mm", number(distance / mm));
    return {fmt::format("{} distance {}", name, value), fmt::format("{} {}", name, value), value};
}

void draw_reference_distance(const Sheet& sheet, std::span<const Segment> lines) {
    Dimension d;
    d.from = sheet.view.at(sheet.mounting.face);
    d.to = sheet.view.at({0.0, 0.0});
    d.offset = distance_offset_on_page(sheet.mounting);
    d.from_gap = emitter_half_width + 5.0;
    d.to_gap = distance_offset - 6.0;
    d.values = distance_texts("reference", sheet.scenario.mount.reference_distance);
    d.crossed = shares_crossed({d.from + d.offset, d.to + d.offset}, lines);
    draw_dimension(sheet.canvas, d);
}

// `lines` and the arc of the receiver's angle: what the values keep clear of. Returns how high on the page the value of
// the image distance reaches.
double draw_receiver_distances(const Sheet& sheet, std::span<const Segment> lines, const std::optional<AngleArc>& arc) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Mounting& m = sheet.mounting;
    const double past_lens = r.aperture.half_in_plane * sheet.view.scale + stop_blade + 4.0;
    Dimension object;  // from the lens down, so that a value without room stands on the side of the target
    object.from = sheet.view.at(m.lens);
    object.to = sheet.view.at({0.0, 0.0});
    object.offset = receiver_dimension_offset(sheet);
    object.from_gap = past_lens;
    object.to_gap = 24.0;
    object.values = distance_texts("object", r.object_distance);
    std::vector<Segment> in_the_way(lines.begin(), lines.end());
    if (arc) in_the_way.insert(in_the_way.end(), arc->value.begin(), arc->value.end());
    object.crossed = shares_crossed({object.from + object.offset, object.to + object.offset}, in_the_way);
    if (arc && arc->end > r.angle && arc->radius > object.offset.norm()) {
        const double along = std::sqrt(arc->radius * arc->radius - object.offset.squaredNorm());
        object.crossed.push_back(1.0 - along / (r.object_distance * sheet.view.scale));
    }
    draw_dimension(sheet.canvas, object);
    Dimension image;
    image.from = sheet.view.at(m.lens);
    image.to = sheet.view.at(on_array(r, 0.0));
    image.offset = object.offset;
    image.from_gap = past_lens;
    image.to_gap = 9.0;
    image.values = distance_texts("image", r.image_distance);
    return draw_dimension(sheet.canvas, image);
}

// The mounting normal is drawn where it is not an axis of the sensor itself.
bool has_normal(const Sheet& sheet) {
    return sheet.layout.receiver.emitter_angle != 0.0 && sheet.layout.receiver.angle != 0.0;
}

Segment normal_line(const Sheet& sheet) {
    const double distance = sheet.scenario.mount.reference_distance * sheet.view.scale;
    const double height = std::min(0.8 * distance, std::max(0.62 * distance, 200.0));
    const Vector2 apex = sheet.view.at({0.0, 0.0});
    return {apex, Vector2(apex - Vector2(0.0, height))};
}

// Lines of the drawn mounting that no value must cover.
std::vector<Segment> lines_of(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    const View& view = sheet.view;
    const emitter::Beam beam = sensor::beam_of(sheet.scenario);
    const double widest = sheet.beam_exaggeration * std::max(emitter::radius_at(beam, 0, 0.0),
                                                             emitter::radius_at(beam, 0, (m.face - m.spots[2]).norm()));
    const Vector2d across = widest * Vector2d(m.beam_axis.y(), -m.beam_axis.x());
    std::vector<Segment> lines{{view.at(m.face + across), view.at(m.spots[2] + across)},
                               {view.at(m.face - across), view.at(m.spots[2] - across)}};
    for (std::size_t i = 0; i < m.spots.size(); ++i) {
        lines.push_back({view.at(m.spots[i]), view.at(m.lens)});
        lines.push_back(plane_line(sheet, i));
    }
    if (m.part) lines.push_back({view.at(m.part->spot), view.at(m.lens)});
    if (sheet.section) {
        for (const Segment& segment : segments_of(*sheet.section, view)) lines.push_back(segment);
    } else if (m.part) {
        const Segment part = part_line(sheet);
        const Vector2 along = (part[1] - part[0]).normalized();
        const Vector2 hatching = 9.0 * Vector2(-along.y(), along.x());
        lines.push_back(part);
        lines.push_back({part[0] + hatching, part[1] + hatching});
    }
    if (has_normal(sheet)) lines.push_back(normal_line(sheet));
    return lines;
}

void set_radii(AngleMark& mark, double greatest) {
    mark.max_radius = std::max(30.0, greatest);
    mark.min_radius = std::min(70.0, 0.6 * mark.max_radius);
}

// Returns the arc of the receiver's angle, if there is one.
std::optional<AngleArc> draw_angles(const Sheet& sheet, std::vector<Segment> lines) {
    const receiver::Receiver& r = sheet.layout.receiver;
    const Mounting& m = sheet.mounting;
    const Vector2 apex = sheet.view.at({0.0, 0.0});
    const double distance = sheet.scenario.mount.reference_distance * sheet.view.scale;
    const double object = r.object_distance * sheet.view.scale;
    const Vector2 beside_receiver = receiver_dimension_offset(sheet);
    const Vector2 beside_beam = distance_offset_on_page(m);
    lines.push_back({apex + beside_receiver, sheet.view.at(m.lens) + beside_receiver});
    lines.push_back({apex + beside_beam, sheet.view.at(m.face) + beside_beam});
    AngleMark mark;
    mark.apex = apex;
    std::optional<AngleArc> arc;
    if (r.angle != 0.0) {
        mark.to = r.angle;
        mark.value = angle_text(r.angle);
        set_radii(mark, r.emitter_angle >= 0.0 ? std::min(object - 18.0, distance - 24.0) : object - 18.0);
        arc = draw_angle_within(sheet.canvas, mark, lines);
        if (!arc) arc = draw_angle_beyond(sheet.canvas, mark, lines);
    }
    if (r.emitter_angle != 0.0) {  // where it has no room, the caption must do
        mark.to = r.emitter_angle;
        mark.value = angle_text(r.emitter_angle);
        set_radii(mark, distance - 24.0);
        constexpr double apart = 22.0;
        if (arc && r.angle * r.emitter_angle > 0.0) mark.min_radius = arc->radius + apart;
        draw_angle_within(sheet.canvas, mark, lines);
    }
    return arc;
}

}  // namespace

void draw_dimensions(const Sheet& sheet, const Box& area) {
    const std::vector<Segment> lines = lines_of(sheet);
    if (has_normal(sheet)) {
        const Segment normal = normal_line(sheet);
        sheet.canvas.line(normal[0], normal[1], {palette::grey, 0.8, dash::chain});
    }
    draw_reference_distance(sheet, lines);
    const std::optional<AngleArc> arc = draw_angles(sheet, lines);
    const double value_top = draw_receiver_distances(sheet, lines, arc);
    draw_plane_labels(sheet, area);
    draw_receiver_labels(sheet, value_top);
}

}  // namespace spotwright::drawing
