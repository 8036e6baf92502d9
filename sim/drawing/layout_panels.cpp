#include "sim/drawing/layout_panels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/base/units.hpp"
#include "sim/emitter/eye_safety.hpp"
#include "sim/drawing/housing_view.hpp"
#include "sim/drawing/page.hpp"
#include "sim/drawing/mounting_view.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::um, base::degree;

constexpr double detail_length = 172.0;
constexpr double ray_length = 66.0;
constexpr double bar_height = 7.0;

// The flat array on the page.
struct Detail {
    Vector2 left;   ///< pixel 0, on the side that the light meets
    double scale;   ///< page units per metre. [1/m]
    double length;  ///< of the array. [m]

    [[nodiscard]] Vector2 at(double u) const { return left + Vector2((u + 0.5 * length) * scale, 0.0); }
};

struct Mark {
    double u;
    std::string name;
    Pen pen;
};

std::vector<Mark> marks_of(const sensor::Layout& layout, const Mounting& mounting) {
    constexpr std::array names{"near end", "reference", "far end"};
    std::vector<Mark> marks;
    for (std::size_t i = 0; i < names.size(); ++i) marks.push_back({layout.image_position[i], names[i], end_pens[i]});
    const auto is_at_part = [&mounting](const Mark& mark) {
        constexpr double same = 1e-12;
        return std::abs(mark.u - *mounting.part->image) < same;
    };
    if (mounting.part && mounting.part->image && std::none_of(marks.begin(), marks.end(), is_at_part)) {
        marks.push_back({*mounting.part->image, "part", part_pen});
    }
    std::stable_sort(marks.begin(), marks.end(), [](const Mark& a, const Mark& b) { return a.u < b.u; });
    return marks;
}

// The chief ray at u, backwards, with the array turned to lie along x. Turned and not mirrored, as in the main drawing.
Vector2 towards_lens(const Mounting& mounting, const receiver::Receiver& r, double u) {
    const Eigen::Vector2d direction = mounting.lens - on_array(r, u);
    const Eigen::Vector2d along = (on_array(r, 1.0) - on_array(r, 0.0)).normalized();
    const Eigen::Vector2d left_of_it(-along.y(), along.x());
    return Vector2(along.dot(direction), -left_of_it.dot(direction)).normalized();
}

// Width of the image of the part's spot between its 1/e^2 edges, without diffraction. [m]
std::optional<double> spot_image_width(const Mounting& mounting) {
    if (!mounting.part || !mounting.part->image || !mounting.part->image_edges) return std::nullopt;
    return std::abs((*mounting.part->image_edges)[1] - (*mounting.part->image_edges)[0]);
}

void draw_spot_image(Canvas& canvas, const Detail& detail, double centre, double width) {
    constexpr double visible = 1.8;
    const Vector2 half(0.5 * std::max(visible, width * detail.scale), 0.0);
    const Vector2 back(0.0, -bar_height);
    const Vector2 middle = detail.at(centre);
    const std::array outline{Vector2(middle - half), Vector2(middle + half), Vector2(middle + half + back),
                             Vector2(middle - half + back)};
    canvas.polygon(outline, palette::beam_edge, {palette::beam_edge, 0.2});
}

// At the end of the array away from the light: the plane of the lens, laid through that end.
void draw_tilt(Canvas& canvas, const Detail& detail, double tilt) {
    if (tilt == 0.0) return;
    const double side = tilt > 0.0 ? 1.0 : -1.0;
    const Vector2 apex = detail.at(side * 0.5 * detail.length);
    constexpr double reach = 50.0;
    constexpr double radius = 38.0;
    const double angle = std::abs(tilt);
    const Pen thin{palette::grey, 0.9};
    canvas.line(apex + Vector2(side * 8.0, 0.0), apex + Vector2(side * reach, 0.0), thin);
    const Vector2 lens_plane(side * std::cos(angle), std::sin(angle));
    canvas.line(apex, apex + 1.3 * reach * lens_plane, {palette::grey, 0.9, dash::dashed});
    canvas.arc(apex, radius, side * 0.5 * base::pi, side * (0.5 * base::pi + angle), thin);
    const Vector2 middle(side * std::cos(0.5 * angle), std::sin(0.5 * angle));
    const std::string value = number(tilt / degree) + "°";
    const Vector2 end = apex + 1.3 * reach * lens_plane;
    constexpr double room_for_value = 0.32;
    constexpr double steep = 0.95;
    const Anchor outwards = side > 0.0 ? Anchor::start : Anchor::end;
    if (angle < room_for_value) {
        canvas.text({apex.x() + side * 106.0, end.y() + 14.0}, "lens plane " + value,
                    {small_size, side > 0.0 ? Anchor::end : Anchor::start});
        return;
    }
    canvas.text(apex + (radius + 9.0) * middle + Vector2(0.0, 7.0), value, {body_size, outwards});
    if (angle < steep) {
        canvas.text(end + Vector2(0.0, 13.0), "lens plane", {small_size, Anchor::middle});
    } else {
        canvas.text(end + Vector2(side * 6.0, 0.0), "lens plane", {small_size, outwards});
    }
}

void draw_marks(Canvas& canvas, const Detail& detail, const receiver::Receiver& r, const Mounting& mounting,
                const std::vector<Mark>& marks, const Box& area) {
    constexpr double label_width = 84.0;
    std::vector<double> wanted;
    for (const Mark& mark : marks) wanted.push_back(detail.at(mark.u).x());
    const std::vector<double> sizes(marks.size(), label_width);
    const std::vector<double> places = spread(wanted, sizes, area.left, area.right);
    for (std::size_t i = 0; i < marks.size(); ++i) {
        const Vector2 lit = detail.at(marks[i].u);
        const Vector2 behind = lit - Vector2(0.0, bar_height);
        canvas.line(lit, lit + ray_length * towards_lens(mounting, r, marks[i].u), marks[i].pen);
        const std::array leader{Vector2(places[i], area.top + 32.0), Vector2(places[i], area.top + 36.0),
                                Vector2(behind - Vector2(0.0, 6.0)), behind};
        canvas.polyline(leader, {palette::grey, 0.8});
        canvas.circle(lit, 2.6, palette::paper, {marks[i].pen.colour, 1.3});
        canvas.text({places[i], area.top + 12.0}, marks[i].name, {small_size, Anchor::middle});
        canvas.text({places[i], area.top + 27.0}, signed_number(std::round(marks[i].u / um) * um / mm) + " mm",
                    {body_size, Anchor::middle});
    }
}

}  // namespace

double draw_array_detail(Canvas& canvas, const sensor::Layout& layout, const Mounting& mounting, double mounting_scale,
                         const Box& area) {
    const receiver::Receiver& r = layout.receiver;
    const double top = draw_heading(canvas, area, "Detail A: the array");
    const double length = static_cast<double>(r.pixels) * r.pitch;
    const double scale = detail_length / length;
    canvas.text({area.left, top + 17.0},
                fmt::format("{} × {} µm = {} mm, drawn {} times larger", r.pixels, number(r.pitch / um),
                            number(length / mm), number(scale / mounting_scale, 2)),
                {small_size});
    const double room_beside = r.detector_tilt < 0.0 ? 104.0 : 56.0;
    const Detail detail{{area.left + room_beside, top + 92.0}, scale, length};

    canvas.open_group("detail", fmt::format("data-units-per-mm=\"{:.6f}\"", scale * mm));
    const Vector2 end = detail.at(0.5 * length);
    const std::array bar{detail.left, end, Vector2(end - Vector2(0.0, bar_height)),
                         Vector2(detail.left - Vector2(0.0, bar_height))};
    canvas.polygon(bar, palette::glass, {palette::ink, 1.2}, "detail-array");
    const std::optional<double> spot_width = spot_image_width(mounting);
    if (spot_width) draw_spot_image(canvas, detail, *mounting.part->image, *spot_width);
    draw_tilt(canvas, detail, r.detector_tilt);
    canvas.text(detail.left + Vector2(-5.0, -4.0), "pixel 0", {small_size, Anchor::end});
    canvas.text(end + Vector2(5.0, -4.0), fmt::format("pixel {}", r.pixels - 1), {small_size});
    draw_marks(canvas, detail, r, mounting, marks_of(layout, mounting),
               {area.left, top + 24.0, area.right, area.bottom});
    canvas.close_group();
    double bottom = detail.left.y() + ray_length + 24.0;
    if (spot_width) {
        canvas.text(
            {area.left, bottom},
            fmt::format("image of the part's spot: {} µm wide (1/e², no diffraction)", number(*spot_width / um, 3)),
            {small_size});
        bottom += 6.0;
    }
    return bottom;
}

namespace {

std::string measurable_text(const receiver::MeasurableRange& range) {
    if (!std::isfinite(range.far)) return fmt::format("from {} mm on, no far limit", signed_number(range.near / mm));
    return fmt::format("{} to {} mm", signed_number(range.near / mm), signed_number(range.far / mm));
}

std::vector<Row> layout_rows(const scenario::Scenario& s, const sensor::Layout& layout) {
    const auto radii = [&layout] {
        std::string list;
        for (const double radius : layout.beam_radius) {
            list += fmt::format("{}{}", list.empty() ? "" : " / ", number(radius / um, 3));
        }
        return list + " µm";
    };
    std::vector<Row> rows{{"measuring range", fmt::format("{} to {} mm", signed_number(s.mount.range[0] / mm),
                                                          signed_number(s.mount.range[1] / mm))},
                          {"measurable range", measurable_text(layout.measurable)},
                          {"magnification", number(layout.magnification)},
                          {"sensitivity at reference", number(layout.sensitivity) + " µm/µm"},
                          {"one pixel there", number(layout.pixel_displacement / um) + " µm"},
                          {"NA, object side", number(layout.object_side_na)},
                          {"speckle limit, one view", number(layout.speckle_limit / um, 3) + " µm"},
                          {"beam radius near/ref./far", radii()}};
    for (Row& row : room_rows(s)) rows.push_back(std::move(row));
    return rows;
}

}  // namespace

double draw_numbers(Canvas& canvas, const scenario::Scenario& scenario, const sensor::Layout& layout, const Box& area) {
    return draw_rows(canvas, layout_rows(scenario, layout), area, draw_heading(canvas, area, "In numbers"));
}

double draw_legend(Canvas& canvas, const Box& area) {
    struct Entry {
        Pen pen;
        const char* name = "";
    };
    const std::array entries{Entry{end_pens[0], "near end"}, Entry{end_pens[1], "reference, axis"},
                             Entry{end_pens[2], "far end"}, Entry{part_pen, "light of the part"}};
    const double top = draw_heading(canvas, area, "Chief rays");
    const double column = 0.5 * (area.right - area.left);
    for (std::size_t i = 0; i < entries.size(); ++i) {
        const std::size_t row = i / 2;
        const Vector2 at(area.left + column * static_cast<double>(i % 2),
                         top + row_spacing * (1.0 + static_cast<double>(row)));
        canvas.line(at + Vector2(0.0, -4.0), at + Vector2(46.0, -4.0), entries[i].pen);
        canvas.text(at + Vector2(54.0, 0.0), entries[i].name, {small_size});
    }
    return top + 2.0 * row_spacing + 4.0;
}

double draw_laser_class(Canvas& canvas, const sensor::Layout& layout, const Box& area) {
    const double baseline =
        draw_heading(canvas, area, fmt::format("Laser class {} (estimated)", layout.laser_class)) + 15.0;
    const std::array caution{emitter::safety_caution()};
    return draw_sentences(canvas, caution, {area.left, baseline, area.right, area.bottom});
}

}  // namespace spotwright::drawing
