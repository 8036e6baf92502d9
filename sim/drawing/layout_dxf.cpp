#include "sim/drawing/layout_dxf.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/drawing/dxf.hpp"
#include "sim/drawing/mounting.hpp"
#include "sim/drawing/part_section.hpp"
#include "sim/drawing/part_words.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/sensor/housing.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/part.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::degree;
using Eigen::Vector2d, Eigen::Vector3d;

std::vector<DxfLayer> layers_of_layout() {
    return {{"HOUSING", 7, LineType::solid},     {"BEAM", 1, LineType::solid}, {"RECEIVER_AXIS", 3, LineType::chain},
            {"CHIEF_RAYS", 3, LineType::dashed}, {"LENS", 4, LineType::solid}, {"ARRAY", 5, LineType::solid},
            {"RANGE", 8, LineType::dashed},      {"PART", 7, LineType::solid}, {"DIMENSIONS", 8, LineType::solid}};
}

// A drawing in the making: points in metres, sizes of texts after that of the whole.
struct Plan {
    DxfDrawing drawing{layers_of_layout()};
    double text = 0.0;  // height [m]

    void line(std::string_view layer, const Vector2d& from, const Vector2d& to) {
        drawing.line(layer, from / mm, to / mm);
    }
    void polyline(std::string_view layer, const std::vector<Vector2d>& points, bool closed = false) {
        std::vector<Vector2d> scaled;
        for (const Vector2d& point : points) scaled.emplace_back(point / mm);
        drawing.polyline(layer, scaled, closed);
    }
    void words(const Vector2d& at, std::string_view text_line) {
        drawing.text("DIMENSIONS", at / mm, text / mm, text_line);
    }
};

// Plain digits: CAD fonts lack the true minus sign.
std::string length_text(double length) {
    return fmt::format("{:.5g} mm", length / mm);
}

// A dimension line beside the measured one, with extension lines, oblique strokes at its ends and its text.
void dimension(Plan& plan, const Vector2d& from, const Vector2d& to, const Vector2d& offset, const std::string& text) {
    const Vector2d start = from + offset;
    const Vector2d end = to + offset;
    if ((end - start).norm() == 0.0) return;
    const Vector2d out = offset.normalized();
    const Vector2d along = (end - start).normalized();
    const Vector2d across(-along.y(), along.x());
    plan.line("DIMENSIONS", from + 0.4 * plan.text * out, start + 0.6 * plan.text * out);
    plan.line("DIMENSIONS", to + 0.4 * plan.text * out, end + 0.6 * plan.text * out);
    plan.line("DIMENSIONS", start, end);
    const Vector2d stroke = 0.4 * plan.text * (along + across);
    for (const Vector2d& tip : {start, end}) plan.line("DIMENSIONS", tip - stroke, tip + stroke);
    double turn = std::atan2(along.y(), along.x()) / degree;
    Vector2d above = across;
    if (turn > 90.0 || turn <= -90.0) {
        turn += turn > 0.0 ? -180.0 : 180.0;
        above = -across;
    }
    plan.drawing.text("DIMENSIONS", (0.5 * (start + end) + 0.5 * plan.text * above) / mm, plan.text / mm, text, turn,
                      true);
}

// What both principles have: the emitter's side of the plane.
struct Frame {
    Vector2d face;
    Vector2d up;                    // unit, against the beam
    std::array<Vector2d, 3> spots;  // of the range
    std::optional<double> part;     // on the beam, from the face, where it is drawn. [m]
};

Frame frame_of(const scenario::Scenario& s) {
    Frame frame;
    frame.up = {std::sin(s.emitter.angle), std::cos(s.emitter.angle)};
    frame.face = s.mount.reference_distance * frame.up;
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    for (std::size_t i = 0; i < displacements.size(); ++i) {
        frame.spots.at(i) = Vector2d(-displacements.at(i) * std::tan(s.emitter.angle), -displacements.at(i));
    }
    return frame;
}

double size_of(const scenario::Scenario& s, const Frame& frame) {
    const auto room = sensor::room_of(s);
    return room ? std::max(room->height, room->width) : frame.face.y() + s.mount.range[1];
}

void add_beam(Plan& plan, const scenario::Scenario& s, const Frame& frame) {
    const emitter::Beam beam = sensor::beam_of(s);
    const double end = std::max((frame.face - frame.spots[2]).norm(), frame.part.value_or(0.0));
    plan.line("BEAM", frame.face, frame.face - end * frame.up);
    const Vector2d across(frame.up.y(), -frame.up.x());
    constexpr int steps = 60;
    for (const double side : {-1.0, 1.0}) {
        std::vector<Vector2d> edge;
        for (int i = 0; i <= steps; ++i) {
            const double along = end * i / steps;
            edge.emplace_back(frame.face - along * frame.up + side * emitter::radius_at(beam, 0, along) * across);
        }
        plan.polyline("BEAM", edge);
    }
}

void add_range(Plan& plan, const scenario::Scenario& s, const Frame& frame, double left, double right) {
    constexpr std::array names{"near end", "reference", "far end"};
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    for (std::size_t i = 0; i < names.size(); ++i) {
        const double z = frame.spots.at(i).y();
        plan.line("RANGE", {left, z}, {right, z});
        plan.words({right + plan.text, z - 0.4 * plan.text},
                   fmt::format("{} s = {:+.5g} mm", names.at(i), displacements.at(i) / mm));
    }
}

// Body, windows, clearance and room.
void add_housing(Plan& plan, const scenario::Scenario& s, const Frame& frame, const Vector2d& receiver_axis,
                 double range_right) {
    const auto body = sensor::body_of(s);
    const auto room = sensor::room_of(s);
    if (!body || !room) return;
    plan.polyline("HOUSING", std::vector<Vector2d>(body->begin(), body->end()), true);
    const Vector2d at_front = (*body)[0].y() / receiver_axis.y() * receiver_axis;
    const std::array centres{frame.face, at_front};
    for (std::size_t i = 0; i < centres.size(); ++i) {
        const Vector2d half(0.5 * s.housing.window.at(i), 0.0);
        if (half.x() > 0.0) plan.line("HOUSING", centres.at(i) - half, centres.at(i) + half);
    }
    const double back = (*body)[2].y();
    const Vector2d up(0.0, 3.0 * plan.text);
    dimension(plan, (*body)[3], (*body)[2], up, length_text(room->width));
    const double right = std::max((*body)[2].x(), range_right) + 18.0 * plan.text;
    dimension(plan, {right - plan.text, frame.spots[2].y()}, {right - plan.text, back}, {plan.text, 0.0},
              "room " + length_text(room->height));
    if (!frame.part) return;
    const auto approach = sensor::approach_of(s, s.target.displacement);
    if (!approach || approach->clearance <= 0.0) return;
    const Vector2d along = (approach->foot - approach->corner).normalized();
    const double middle = 0.5 * ((*body)[0].x() + (*body)[1].x());
    const Vector2d outward = (approach->corner.x() < middle ? -1.0 : 1.0) * Vector2d(-along.y(), along.x());
    const double side = along.y() < 0.0 ? -1.0 : 1.0;
    dimension(plan, approach->corner, approach->foot, side * -3.0 * plan.text * outward,
              "clearance " + length_text(approach->clearance));
}

void add_plane_part(Plan& plan, const Vector2d& lit, const Vector2d& normal, double half_width) {
    const Vector2d along(normal.y(), -normal.x());
    plan.line("PART", lit - half_width * along, lit + half_width * along);
}

void add_title(Plan& plan, const scenario::Scenario& s, double left, double lowest) {
    const std::array lines{s.title.empty() ? std::string("Layout of the mounting") : s.title,
                           std::string("1:1 in mm; x to the right, z up, from the reference point")};
    for (std::size_t i = 0; i < lines.size(); ++i) {
        plan.words({left, lowest - (4.0 + 2.0 * static_cast<double>(i)) * plan.text}, lines.at(i));
    }
}

// Angle between the mounting normal and an axis, about the reference point.
void add_angle(Plan& plan, double angle, double radius) {
    if (angle == 0.0) return;
    constexpr double normal_deg = 90.0;
    const double axis_deg = normal_deg - angle / degree;
    plan.drawing.arc("DIMENSIONS", {0.0, 0.0}, radius / mm, std::min(axis_deg, normal_deg),
                     std::max(axis_deg, normal_deg));
    const double middle = 0.5 * angle;
    const Vector2d at = (radius + plan.text) * Vector2d(std::sin(middle), std::cos(middle));
    plan.drawing.text("DIMENSIONS", at / mm, plan.text / mm, fmt::format("{:.5g} deg", angle / degree), 0.0, true);
}

constexpr double text_share = 1.0 / 80.0;  // of the whole drawing
constexpr double part_share = 0.1;         // half the width of the drawn part

}  // namespace

std::string layout_dxf(const scenario::Scenario& s, const sensor::Layout& layout) {
    const Mounting m = make_mounting(s, layout);
    const receiver::Receiver& r = layout.receiver;
    Frame frame = frame_of(s);
    if (m.part) frame.part = m.part->along;
    const double size = std::max({size_of(s, frame), m.lens.y(), (m.images[1] - m.spots[2]).norm()});
    Plan plan;
    plan.text = text_share * size;
    const double left = std::min(m.housing ? m.housing->corners[0].x() : 0.0, -2.0 * part_share * size);
    const double right = std::max(m.housing ? m.housing->corners[1].x() : 0.0, 2.0 * part_share * size);
    add_housing(plan, s, frame, m.axis, right);
    add_beam(plan, s, frame);
    plan.polyline("RECEIVER_AXIS", {Vector2d(0.0, 0.0), m.lens, on_array(r, 0.0)});
    for (std::size_t i = 0; i < m.spots.size(); ++i) plan.polyline("CHIEF_RAYS", {m.spots[i], m.lens, m.images[i]});
    plan.line("LENS", m.rims[0], m.rims[1]);
    const double half_length = 0.5 * static_cast<double>(r.pixels) * r.pitch;
    plan.line("ARRAY", on_array(r, -half_length), on_array(r, half_length));
    add_range(plan, s, frame, left, right);
    if (m.part && is_plain(s)) add_plane_part(plan, m.part->spot, m.part->normal, part_share * size);
    if (m.part && !is_plain(s)) {
        const Section section = make_section(s, m, r, part_share * size, part_share * size, 2.0 * part_share * size);
        for (const Outline& outline : section.surface) plan.polyline("PART", outline.points, outline.closed);
    }
    dimension(plan, m.face, {0.0, 0.0}, 6.0 * plan.text * Vector2d(-m.beam_axis.y(), m.beam_axis.x()),
              length_text(s.mount.reference_distance));
    const Vector2d beside = (r.aperture.half_in_plane + 4.0 * plan.text) * m.outward;
    dimension(plan, {0.0, 0.0}, m.lens, beside, length_text(r.object_distance));
    dimension(plan, m.lens, on_array(r, 0.0), beside, length_text(r.image_distance));
    add_angle(plan, r.angle, 0.5 * r.object_distance);
    add_angle(plan, r.emitter_angle, 0.4 * s.mount.reference_distance);
    add_title(plan, s, left, m.spots[2].y());
    return plan.drawing.document();
}

std::string layout_dxf(const scenario::Scenario& s, const sensor::FlightLayout& layout) {
    const receiver::Receiver& r = layout.receiver;
    Frame frame = frame_of(s);
    const emitter::Beam beam = sensor::beam_of(s);
    const target::Part shape = sensor::part_of(s, s.target.displacement);
    const auto hit = target::meet(shape, {beam.face, beam.direction});
    const double farthest = s.mount.reference_distance + 2.0 * layout.span;
    if (hit && hit->distance < farthest) frame.part = hit->distance;
    const double size = size_of(s, frame);
    Plan plan;
    plan.text = text_share * size;
    // The lens stands in the plane of the emitter face, as `sensor::make_flight_layout` has it.
    const Vector2d across(frame.up.y(), -frame.up.x());
    const Vector2d lens = frame.face + s.flight.baseline * across;
    const Vector2d axis = lens.normalized();
    const Vector2d beside_axis(axis.y(), -axis.x());
    const double reach = 2.0 * part_share * size;
    const auto body = sensor::body_of(s);
    const double left = std::min(body ? (*body)[0].x() : 0.0, -reach);
    const double right = std::max(body ? (*body)[1].x() : 0.0, reach);
    add_housing(plan, s, frame, axis, right);
    add_beam(plan, s, frame);
    const Vector2d detector = lens + r.image_distance * axis;
    plan.polyline("RECEIVER_AXIS", {Vector2d(0.0, 0.0), lens, detector});
    plan.line("LENS", lens - r.aperture.half_in_plane * beside_axis, lens + r.aperture.half_in_plane * beside_axis);
    const Vector2d half = 0.5 * s.flight.detector_diameter * beside_axis;
    plan.line("ARRAY", detector - half, detector + half);
    add_range(plan, s, frame, left, right);
    if (frame.part) {
        const Vector3d normal = target::tilted_normal(s.mount, s.target.tilt);
        const Vector2d in_plane = Vector2d(normal.x(), normal.z()).normalized();
        add_plane_part(plan, frame.face - *frame.part * frame.up, in_plane, part_share * size);
    }
    dimension(plan, frame.face, {0.0, 0.0}, 6.0 * plan.text * -across, length_text(s.mount.reference_distance));
    add_title(plan, s, left, frame.spots[2].y());
    return plan.drawing.document();
}

}  // namespace spotwright::drawing
