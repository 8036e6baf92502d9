#include "sim/drawing/mounting_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/drawing/part_words.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::nm, base::degree;
using Eigen::Vector2d;

}  // namespace

double half_array(const receiver::Receiver& r) {
    return static_cast<double>(r.pixels) * r.pitch / 2.0;
}

double receiver_reach(const receiver::Receiver& r) {
    return std::max(r.aperture.half_in_plane, half_array(r) * std::abs(std::cos(r.detector_tilt)));
}

std::string angle_text(double angle) {
    return number(angle / degree) + "°";
}

std::vector<std::string> array_lines(const sensor::Layout& layout, const scenario::Scenario& s) {
    return {
        fmt::format("array {} mm (detail A)", number(2.0 * half_array(layout.receiver) / mm)),
        fmt::format("tilt {}{}", angle_text(layout.detector_tilt), s.receiver.detector_tilt ? "" : " (Scheimpflug)")};
}

std::vector<std::string> lens_lines(const receiver::Receiver& r) {
    const auto [shape, half_in_plane, half_out_of_plane] = r.aperture;
    std::string width = number(2.0 * half_in_plane / mm);
    if (shape == receiver::ApertureShape::rectangular) width += " × " + number(2.0 * half_out_of_plane / mm);
    return {fmt::format("lens, f = {} mm", number(r.focal_length / mm)), fmt::format("aperture {} mm", width)};
}

std::vector<std::vector<std::string>> plane_texts(const scenario::Scenario& s, const Mounting& m, bool with_detail) {
    constexpr std::array names{"near end", "reference", "far end"};
    const std::array<double, 3> displacements{s.mount.range[0], 0.0, s.mount.range[1]};
    std::vector<std::vector<std::string>> texts;
    for (std::size_t i = 0; i < names.size(); ++i) {
        texts.push_back({fmt::format("{}: s = {} mm", names[i], signed_number(displacements[i] / mm))});
    }
    if (m.part) texts.push_back(part_lines(s, with_detail));
    return texts;
}

double widest(std::span<const std::string> lines) {
    double width = 0.0;
    for (const std::string& line : lines) width = std::max(width, text_width(line, body_size));
    return width;
}

namespace {

// A box around a point that is itself shifted on the page.
Box shifted(const Vector2& shift, const Box& box) {
    return {box.left + shift.x(), box.top + shift.y(), box.right + shift.x(), box.bottom + shift.y()};
}

// How much room the labels take left of what they point to.
double column_of(const scenario::Scenario& s, const Mounting& m) {
    double column = 0.0;
    for (const auto& lines : plane_texts(s, m, !is_plain(s))) column = std::max(column, column_gap + widest(lines));
    return column;
}

std::vector<Extent> extents_of(const scenario::Scenario& s, const sensor::Layout& layout, const Mounting& m) {
    const receiver::Receiver& r = layout.receiver;
    const double column = column_of(s, m);
    std::vector<Extent> extents;
    // A beam that leans far to the left leaves the labels room only below it.
    constexpr double steep = -0.6;
    double below = m.beam_axis.x() < steep ? 120.0 : 46.0;
    constexpr double leaning = -0.3;
    constexpr std::size_t short_label = 2;
    if (m.part && m.beam_axis.x() < leaning) {
        const std::size_t lines = part_lines(s, true).size();
        below += label_line_spacing * static_cast<double>(std::max(lines, short_label) - short_label);
    }
    for (const Vector2d& spot : m.spots) {
        extents.push_back({spot, {-plane_left - column, -46.0, plane_right, below}});
        extents.push_back({{0.0, spot.y()}, {-plane_left - column, -46.0, plane_right, below}});
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

// Page sizes bound the section, so it follows the scale of a first fit; its points then share in the second.
void add_section(Sheet& sheet, std::vector<Extent> extents, const Box& area) {
    const scenario::Scenario& s = sheet.scenario;
    const Mounting& m = sheet.mounting;
    const double half_width = shaped_half_width / sheet.view.scale;
    sheet.section = make_section(s, m, sheet.layout.receiver, half_width, shaped_above / sheet.view.scale,
                                 shaped_below / sheet.view.scale);
    const double column = column_of(s, m);
    constexpr double rim = 14.0;
    std::vector<Vector2d> places = places_of(*sheet.section);
    if (sheet.section->shows_reference) {
        const Vector2d along(sheet.section->up.y(), -sheet.section->up.x());
        for (const double side : {-1.0, 1.0}) places.emplace_back(sheet.section->reference + side * half_width * along);
    }
    for (const Vector2d& place : places) extents.push_back({place, {-column, -rim, rim, rim}});
    sheet.view = fit(extents, area);
    const double beam_radius = emitter::radius_at(sensor::beam_of(s), 0, m.part->along);
    constexpr double plain_enough = 30.0;  // page units
    const double rise = rise_within(m.part->shape, {m.part->spot, m.part->y, half_width, 0.0, 0.0});
    const double depth = sheet.section->backing_depth.value_or(sheet.section->back_depth.value_or(0.0));
    if ((rise + depth) * sheet.view.scale > plain_enough) return;
    if (const auto detail = detail_half_width(s, m, half_width, beam_radius)) {
        sheet.detail = PartDetail{*detail, sheet.view.scale};
    }
}

}  // namespace

Sheet make_sheet(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout,
                 const Mounting& mounting, const Box& area) {
    std::vector<Extent> extents = extents_of(scenario, layout, mounting);
    const bool is_broken = mounting.housing && add_housing_extents(*mounting.housing, area, extents);
    Sheet sheet{canvas, scenario, layout, mounting, fit(extents, area)};
    const bool has_scale = std::isfinite(1.0 / sheet.view.scale);
    if (mounting.part && !is_plain(scenario) && has_scale) add_section(sheet, std::move(extents), area);
    if (mounting.housing) sheet.housing = view_housing(sheet, is_broken);
    sheet.beam_exaggeration = exaggeration(sensor::beam_of(scenario), beam_end(sheet), sheet.view.scale);
    return sheet;
}

double beam_end(const Sheet& sheet) {
    const Mounting& m = sheet.mounting;
    return m.part ? m.part->along : (m.face - m.spots[2]).norm();
}

Segment plane_line(const Sheet& sheet, std::size_t which) {
    const Vector2d& spot = sheet.mounting.spots[which];
    const Vector2 at_spot = sheet.view.at(spot);
    const Vector2 at_normal = sheet.view.at({0.0, spot.y()});
    return {Vector2(std::min(at_spot.x(), at_normal.x()) - plane_left, at_spot.y()),
            Vector2(std::max(at_spot.x(), at_normal.x()) + plane_right, at_spot.y())};
}

EmitterLabel emitter_label(const Sheet& sheet) {
    const Vector2 face = sheet.view.at(sheet.mounting.face);
    const Vector2 up = View::direction(sheet.mounting.beam_axis);
    const Vector2 left(up.y(), -up.x());
    const double inside = -sheet.mounting.face.x() * sheet.view.scale;
    if (sheet.housing) return label_in_housing(sheet);
    constexpr double enough = 110.0;
    const double outer = inside > enough ? -1.0 : 1.0;
    const Vector2 beside = face + 0.6 * emitter_depth * up + outer * (emitter_half_width + 8.0) * left -
                           Vector2(0.0, outer > 0.0 ? 0.0 : 0.8 * label_line_spacing);
    return {beside,
            outer > 0.0 ? Anchor::end : Anchor::start,
            {"emitter", fmt::format("{} nm", number(sheet.scenario.emitter.wavelength / nm))}};
}

Segment part_line(const Sheet& sheet) {
    const PartView& part = *sheet.mounting.part;
    const bool shaped = sheet.section.has_value();
    const Vector2 normal = View::direction(shaped ? sheet.section->up : part.normal);
    const Vector2 along(-normal.y(), normal.x());  // to the right where the normal points up
    const Vector2 middle = sheet.view.at(shaped ? sheet.section->reference : part.spot);
    const double half_width = shaped ? sheet.section->half_width * sheet.view.scale : part_half_width;
    return {Vector2(middle - half_width * along), Vector2(middle + half_width * along)};
}

Vector2 part_anchor(const Sheet& sheet) {
    if (!sheet.section || sheet.section->shows_reference) return part_line(sheet)[0];
    Vector2 left = sheet.view.at(sheet.mounting.part->spot);
    for (const Vector2d& place : places_of(*sheet.section)) {
        const Vector2 at = sheet.view.at(place);
        if (at.x() < left.x()) left = at;
    }
    return left;
}

std::vector<std::string> remarks_of(const Sheet& sheet) {
    const scenario::Scenario& s = sheet.scenario;
    std::vector<std::string> remarks = housing_remarks(sheet);
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
    for (const std::string& remark : part_remarks(s, sheet.mounting)) remarks.push_back(remark);
    if (sheet.section && sheet.section->back_light) {
        remarks.push_back("Dashed from the part: light of the plate's back face, to the centre of the lens.");
    }
    return remarks;
}

}  // namespace spotwright::drawing
