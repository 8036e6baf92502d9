#include "sim/drawing/housing_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>

#include "sim/base/units.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/page_clip.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;
using Eigen::Vector2d;

// Sizes on the page. [page units]
constexpr double stub = 15.0;      // of a broken housing beyond the break
constexpr double break_gap = 9.0;  // between the two lines of a break
constexpr double above_optics = 16.0;
constexpr double beside = 62.0;  // right of all else, for the height of the room
constexpr double over = 44.0;    // for the width
constexpr double least_depth = 34.0;

}  // namespace

bool add_housing_extents(const HousingOutline& housing, const Box& area, std::vector<Extent>& extents) {
    for (Extent& extent : extents) extent.room.right += beside;
    const auto& corners = housing.corners;
    constexpr double broken_top = least_depth + above_optics + break_gap + stub + over;
    extents.push_back({corners[0], {-30.0, -broken_top, 0.0, 14.0}});
    extents.push_back({corners[1], {0.0, -broken_top, beside, 14.0}});
    if (housing.approach) {
        for (const Vector2d& end : {housing.approach->corner, housing.approach->foot}) {
            extents.push_back({end, {-44.0, -14.0, 44.0, 14.0}});
        }
    }
    std::vector<Extent> whole = extents;
    whole.push_back({corners[2], {0.0, -over, beside, 0.0}});
    whole.push_back({corners[3], {-30.0, -over, 0.0, 0.0}});
    constexpr double much_smaller = 0.75;
    if (fit(whole, area).scale < much_smaller * fit(extents, area).scale) {
        for (Extent& extent : extents) extent.room.top -= break_gap + stub;  // over the array and its label
        return true;
    }
    extents = std::move(whole);
    return false;
}

HousingView view_housing(const Sheet& sheet, bool is_broken) {
    const Mounting& m = sheet.mounting;
    const receiver::Receiver& r = sheet.layout.receiver;
    const Vector2 front_left = sheet.view.at(m.housing->corners[0]);
    const Vector2 back_right = sheet.view.at(m.housing->corners[2]);
    HousingView view{{front_left.x(), back_right.y(), back_right.x(), front_left.y()}, false, 0.0};
    double highest = front_left.y() - least_depth;
    for (const Vector2d& place : {m.rims[0], m.rims[1], on_array(r, half_array(r)), on_array(r, -half_array(r))}) {
        highest = std::min(highest, sheet.view.at(place).y());
    }
    const double break_at = highest - above_optics;
    const double back = break_at - break_gap - stub;
    if (!is_broken || view.box.top >= back) return view;
    view.box.top = back;
    view.break_at = break_at;
    view.is_broken = true;
    return view;
}

namespace {

// Points of a line with a zigzag in its middle.
std::vector<Vector2> zigzag(const Vector2& from, const Vector2& to) {
    constexpr double half_length = 5.0;
    constexpr double height = 6.0;
    const Vector2 along = (to - from).normalized();
    const Vector2 across(-along.y(), along.x());
    const Vector2 middle = 0.5 * (from + to);
    return {from,
            middle - half_length * along,
            middle - 0.5 * half_length * along + height * across,
            middle + 0.5 * half_length * along - height * across,
            middle + half_length * along,
            to};
}

}  // namespace

void draw_break_line(Canvas& canvas, const Vector2& from, const Vector2& to) {
    constexpr double past = 5.0;
    const Vector2 along = (to - from).normalized();
    canvas.polyline(zigzag(from - past * along, to + past * along), {palette::grey, 0.9});
}

void draw_housing(const Sheet& sheet) {
    const HousingView& housing = *sheet.housing;
    const Box& box = housing.box;
    const Vector2 front_left(box.left, box.bottom);
    const Vector2 front_right(box.right, box.bottom);
    const Vector2 back_left(box.left, box.top);
    const Vector2 back_right(box.right, box.top);
    const Pen edge{palette::grey, 1.2};
    if (housing.is_broken) {
        const Vector2 gap(0.0, break_gap);
        const Vector2 left(box.left, housing.break_at);
        const Vector2 right(box.right, housing.break_at);
        std::vector<Vector2> front = zigzag(left, right);
        front.insert(front.end(), {front_right, front_left});
        sheet.canvas.polygon(front, palette::housing, {palette::housing, 0.2}, "housing");
        std::vector<Vector2> back = zigzag(left - gap, right - gap);
        back.insert(back.end(), {back_right, back_left});
        sheet.canvas.polygon(back, palette::housing, {palette::housing, 0.2}, "housing-back");
        const std::array lower{left, front_left, front_right, right};
        sheet.canvas.polyline(lower, edge);
        const std::array upper{Vector2(left - gap), back_left, back_right, Vector2(right - gap)};
        sheet.canvas.polyline(upper, edge);
        draw_break_line(sheet.canvas, left, right);
        draw_break_line(sheet.canvas, left - gap, right - gap);
    } else {
        const std::array corners{front_left, front_right, back_right, back_left};
        sheet.canvas.polygon(corners, palette::housing, edge, "housing");
    }
    constexpr std::array names{"window-emitter", "window-receiver"};
    for (std::size_t i = 0; i < names.size(); ++i) {
        const auto& window = sheet.mounting.housing->windows[i];
        if ((window[1] - window[0]).norm() == 0.0) continue;
        const std::array ends{sheet.view.at(window[0]), sheet.view.at(window[1])};
        sheet.canvas.polyline(ends, {palette::near_end, 3.6}, names[i]);
    }
}

namespace {

// Whether a dimension with its value may stand here: it crosses lines only steeply and touches no area.
bool has_room(std::span<const Covered> covered, const Vector2& from, const Vector2& to) {
    constexpr double half_width = 9.0;
    constexpr double ends = 10.0;
    const double length = (to - from).norm();
    const Vector2 along = (to - from) / length;
    const Vector2 across(-along.y(), along.x());
    const Box strip{ends, -half_width, std::max(length - ends, ends + 1.0), half_width};
    const auto in_strip = [&](const Vector2& p) { return Vector2(along.dot(p - from), across.dot(p - from)); };
    constexpr double steep = 0.5;
    for (const Covered& one : covered) {
        std::vector<Vector2> line;
        for (const Vector2& p : one.line) line.push_back(in_strip(p));
        for (std::size_t i = 0; i < line.size(); ++i) {
            if (!one.area && i + 1 == line.size()) break;
            const Vector2& start = line[i];
            const Vector2& end = line[(i + 1) % line.size()];
            const Vector2 way = end - start;
            if (!one.area && std::abs(way.y()) >= steep * way.norm()) continue;
            if (clip_line(start, end, strip)) return false;
        }
        if (one.area && is_within(line, {0.5 * length, 0.0})) return false;
    }
    return true;
}

// Left out where it has no room: the numbers beside the drawing state it too.
void draw_clearance(const Sheet& sheet, const Box& area) {
    const auto& approach = sheet.mounting.housing->approach;
    constexpr double drawable = 14.0;
    if (!approach || approach->clearance * sheet.view.scale < drawable) return;
    Dimension d;
    d.from = sheet.view.at(approach->corner);
    d.to = sheet.view.at(approach->foot);
    const Vector2 along = (d.to - d.from).normalized();
    const bool at_left =
        approach->corner.x() < 0.5 * (sheet.mounting.housing->corners[0].x() + sheet.mounting.housing->corners[1].x());
    const Vector2 outward = (at_left ? 1.0 : -1.0) * Vector2(-along.y(), along.x());
    const auto is_in_area = [&area](const Vector2& p) {
        return p.x() >= area.left && p.x() <= area.right && p.y() >= area.top && p.y() <= area.bottom;
    };
    bool has_place = false;
    constexpr std::array aside{-20.0, 24.0, 36.0, 48.0, -34.0, 60.0, 76.0, -50.0, 92.0, 108.0, 130.0, 152.0, 180.0};
    for (const double each : aside) {
        const Vector2 offset = each * outward;
        if (!is_in_area(d.from + offset) || !is_in_area(d.to + offset)) continue;
        if (!has_room(sheet.canvas.covered(), d.from + offset, d.to + offset)) continue;
        d.offset = offset;
        has_place = true;
        break;
    }
    if (!has_place) return;
    d.values = {fmt::format("clearance {} mm", number(approach->clearance / mm)),
                fmt::format("{} mm", number(approach->clearance / mm))};
    std::vector<Segment> planes;
    for (std::size_t i = 0; i < sheet.mounting.spots.size(); ++i) planes.push_back(plane_line(sheet, i));
    d.crossed = shares_crossed({d.from + d.offset, d.to + d.offset}, planes);
    // The plane of the part, from its drawn end to below the corner.
    const Segment part = part_line(sheet);
    const Vector2& end = (part[0] - d.to).norm() < (part[1] - d.to).norm() ? part[0] : part[1];
    sheet.canvas.line(end, d.to, {palette::grey, 0.8});
    sheet.canvas.open_group("clearance");
    draw_dimension(sheet.canvas, d);
    sheet.canvas.close_group();
}

// The least box around all that is drawn within a stretch of the page.
Box bounds_within(std::span<const Covered> covered, const Box& stretch) {
    Box bounds{1e9, 1e9, -1e9, -1e9};
    for (const Covered& one : covered) {
        for (std::size_t i = 0; i < one.line.size(); ++i) {
            if (!one.area && i + 1 == one.line.size()) break;
            const auto inside = clip_line(one.line[i], one.line[(i + 1) % one.line.size()], stretch);
            if (!inside) continue;
            for (const Vector2& p : *inside) {
                bounds = {std::min(bounds.left, p.x()), std::min(bounds.top, p.y()), std::max(bounds.right, p.x()),
                          std::max(bounds.bottom, p.y())};
            }
        }
    }
    return bounds;
}

void draw_width(const Sheet& sheet, const Box& area) {
    const Box& box = sheet.housing->box;
    constexpr double margin = 12.0;
    const Box above =
        bounds_within(sheet.canvas.covered(), {box.left - margin, area.top, box.right + margin, box.bottom});
    const double row = std::max(std::min(above.top - 12.0, box.top - 18.0), area.top + 8.0);
    Dimension d;
    d.from = {box.left, box.top};
    d.to = {box.right, box.top};
    d.offset = {0.0, row - box.top};
    const std::string value = number(sheet.scenario.housing.width / mm) + " mm";
    d.values = {"housing " + value + " wide", value};
    draw_dimension(sheet.canvas, d);
}

void draw_height(const Sheet& sheet, const Box& area) {
    const Box& box = sheet.housing->box;
    const Segment far = plane_line(sheet, 2);
    const Box right = bounds_within(sheet.canvas.covered(), {0.0, box.top - 4.0, area.right, far[1].y() + 4.0});
    constexpr double gap = 18.0;
    const double line = std::min(std::max(right.right, box.right) + gap, area.right - 10.0);
    const Pen thin{palette::grey, 0.8};
    const Vector2 back(line - gap, box.top);
    const Vector2 low(line - gap, far[1].y());
    if (back.x() > box.right + 6.0) sheet.canvas.line({box.right + 6.0, box.top}, back, thin);
    if (low.x() > far[1].x() + 6.0) sheet.canvas.line(far[1] + Vector2(6.0, 0.0), low, thin);
    Dimension d;
    d.from = low;
    d.to = back;
    d.offset = {gap, 0.0};
    d.from_gap = d.to_gap = 0.0;
    const auto room = sensor::room_of(sheet.scenario);
    const std::string value = number(room->height / mm) + " mm";
    d.values = {"room needed " + value, "room " + value, value};
    draw_dimension(sheet.canvas, d);
}

}  // namespace

void draw_housing_dimensions(const Sheet& sheet, const Box& area) {
    draw_clearance(sheet, area);
    draw_width(sheet, area);
    draw_height(sheet, area);
}

EmitterLabel label_in_housing(const Sheet& sheet) {
    const Vector2 face = sheet.view.at(sheet.mounting.face);
    EmitterLabel label{
        {}, Anchor::end, {"emitter", fmt::format("{} nm", number(sheet.scenario.emitter.wavelength / base::nm))}};
    constexpr double beside_beam = 12.0;
    constexpr double margin = 6.0;
    const double width = widest(label.lines);
    const bool fits = face.x() - beside_beam - width - margin > sheet.housing->box.left;
    label.at = {fits ? face.x() - beside_beam : sheet.housing->box.left - margin, face.y() - 24.0};
    return label;
}

TextStyle label_style(const Sheet& sheet, Anchor anchor) {
    TextStyle style{body_size, anchor};
    style.halo = sheet.housing.has_value();
    return style;
}

std::vector<std::string> housing_remarks(const Sheet& sheet) {
    std::vector<std::string> remarks;
    if (!sheet.housing) return remarks;
    for (const std::string& misfit : sensor::misfits_of(sheet.scenario, sheet.layout)) {
        remarks.push_back("Warning: " + misfit + ".");
    }
    if (sheet.housing->is_broken) {
        remarks.push_back(
            fmt::format("The housing is broken: it is {} mm deep.", number(sheet.scenario.housing.depth / mm)));
    }
    if (sheet.section) remarks.emplace_back("Clearance: from the housing to the plane of the reference surface.");
    return remarks;
}

std::vector<Row> room_rows(const scenario::Scenario& s) {
    const auto room = sensor::room_of(s);
    if (!room) return {};
    const auto value = [](double length) { return number(length / mm); };
    return {{"clearance; at near end", fmt::format("{}; {} mm", value(room->clearance), value(room->near_clearance))},
            {"room, height × width", fmt::format("{} × {} mm", value(room->height), value(room->width))}};
}

}  // namespace spotwright::drawing
