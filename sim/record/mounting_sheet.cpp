#include "sim/record/mounting_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"

namespace spotwright::record {

namespace {

using base::mm, base::degree;
using Eigen::Vector2d;

std::vector<std::string> part_lines(const scenario::Scenario& s) {
    std::vector<std::string> lines{fmt::format("part: s = {} mm", signed_number(s.target.displacement / mm))};
    const std::vector<std::string> material = wrap(s.target.material, body_size, column_width);
    lines.insert(lines.end(), material.begin(), material.end());
    if (s.target.tilt[0] != 0.0) lines.push_back("tilt " + angle_text(s.target.tilt[0]));
    return lines;
}

}  // namespace

double half_array(const receiver::Receiver& r) {
    return static_cast<double>(r.pixels) * r.pitch / 2.0;
}

double receiver_reach(const receiver::Receiver& r) {
    return std::max(r.aperture_radius, half_array(r) * std::abs(std::cos(r.detector_tilt)));
}

std::string angle_text(double angle) {
    return number(angle / degree) + "°";
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

namespace {

// A box around a point that is itself shifted on the page.
Box shifted(const Vector2& shift, const Box& box) {
    return {box.left + shift.x(), box.top + shift.y(), box.right + shift.x(), box.bottom + shift.y()};
}

std::vector<Extent> extents_of(const scenario::Scenario& s, const study::Layout& layout, const Mounting& m) {
    const receiver::Receiver& r = layout.receiver;
    double column = 0.0;
    for (const auto& lines : plane_texts(s, m)) column = std::max(column, column_gap + widest(lines));
    std::vector<Extent> extents;
    // A beam that leans far to the left leaves the labels room only below it.
    constexpr double steep = -0.6;
    const double below = m.beam_axis.x() < steep ? 120.0 : 46.0;
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

}  // namespace

Sheet make_sheet(Canvas& canvas, const scenario::Scenario& scenario, const study::Layout& layout,
                 const Mounting& mounting, const Box& area) {
    Sheet sheet{canvas, scenario, layout, mounting, fit(extents_of(scenario, layout, mounting), area)};
    sheet.beam_exaggeration = exaggeration(emitter::make_beam(scenario), beam_end(sheet), sheet.view.scale);
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

Segment part_line(const Sheet& sheet) {
    const PartView& part = *sheet.mounting.part;
    const Vector2 normal = View::direction(part.normal);
    const Vector2 along(-normal.y(), normal.x());  // to the right where the normal points up
    const Vector2 spot = sheet.view.at(part.spot);
    return {Vector2(spot - part_half_width * along), Vector2(spot + part_half_width * along)};
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
        remarks.push_back(
            fmt::format("The part at s = {} mm is not drawn: it stands far outside the range or shows its back.",
                        signed_number(s.target.displacement / mm)));
    } else if (!sheet.mounting.part->image) {
        remarks.push_back("The image of the part's spot misses the array.");
    }
    return remarks;
}

}  // namespace spotwright::record
