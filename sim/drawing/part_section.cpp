#include "sim/drawing/part_section.hpp"

#include <boost/math/tools/roots.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>

#include "sim/drawing/hatching.hpp"
#include "sim/drawing/mounting_view.hpp"

namespace spotwright::drawing {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

bool is_plate(const scenario::Scenario& s) {
    return s.target.shape == scenario::ShapeKind::plate;
}

double backing_depth(const scenario::Plate& plate) {
    return plate.thickness + plate.gap;
}

// Snell's law in the plane of the mounting, the part's front face square to `up`.
std::optional<BackLight> back_light(const scenario::Scenario& s, const Mounting& m, const receiver::Receiver& r,
                                    const Vector2d& up) {
    const double index = scenario::index_at(s.target.made_of, s.emitter.wavelength).real();
    const Vector2d along(up.y(), -up.x());
    const Vector2d& spot = m.part->spot;
    const double thickness = s.target.plate.thickness;
    const double sine = -m.beam_axis.dot(along) / index;
    const double back = thickness * sine / std::sqrt(1.0 - sine * sine);
    const Vector2d lens((m.lens - spot).dot(along), (m.lens - spot).dot(up));
    const auto excess = [&](double x) {
        return index * (x - back) / std::hypot(x - back, thickness) -
               (lens.x() - x) / std::hypot(lens.x() - x, lens.y());
    };
    const auto [low, high] = std::minmax({back, lens.x()});
    if (lens.y() <= 0.0 || excess(low) >= 0.0 || excess(high) <= 0.0) return std::nullopt;
    std::uintmax_t iterations = 100;
    const auto root =
        boost::math::tools::toms748_solve(excess, low, high, boost::math::tools::eps_tolerance<double>(40), iterations);
    BackLight light{spot + back * along - thickness * up, spot + root.first * along, std::nullopt};
    light.image = image_on_array(r, Vector3d(light.exit.x(), 0.0, light.exit.y()), 0.0);
    return light;
}

std::vector<Vector2> on_page(std::span<const Vector2d> points, const View& view, const Vector2d& shift) {
    std::vector<Vector2> list;
    for (const Vector2d& p : points) list.push_back(view.at(p + shift));
    return list;
}

std::vector<ClippedLine> lines_on_page(const Section& section, const View& view, const Box& box, double depth) {
    std::vector<ClippedLine> lines;
    for (const Outline& outline : section.surface) {
        for (ClippedLine& line :
             clip_polyline(on_page(outline.points, view, -depth * section.up), outline.closed, box)) {
            lines.push_back(std::move(line));
        }
    }
    return lines;
}

// The box, no larger than the lines and their rim.
Box around(const std::vector<ClippedLine>& lines, const Box& box) {
    Vector2 low(box.right, box.bottom);
    Vector2 high(box.left, box.top);
    for (const ClippedLine& line : lines) {
        for (const Vector2& p : line.points) {
            low = low.cwiseMin(p);
            high = high.cwiseMax(p);
        }
    }
    return {std::max(box.left, low.x() - hatch_depth), std::max(box.top, low.y() - hatch_depth),
            std::min(box.right, high.x() + hatch_depth), std::min(box.bottom, high.y() + hatch_depth)};
}

void draw_hatching(Canvas& canvas, const std::vector<ClippedLine>& lines, const Section& section, const Box& box) {
    const Vector2 along = View::direction({section.up.y(), -section.up.x()});
    for (const Segment& stroke : hatching(lines, along, hatch_depth, around(lines, box))) {
        canvas.line(stroke[0], stroke[1], {palette::ink, 0.8});
    }
}

void draw_lines(Canvas& canvas, const std::vector<ClippedLine>& lines, const Pen& pen, std::string_view id = {}) {
    for (std::size_t i = 0; i < lines.size(); ++i) {
        std::vector<Vector2> points = lines[i].points;
        if (lines[i].closed) points.push_back(points.front());
        canvas.polyline(points, pen, id.empty() || i == 0 ? std::string(id) : fmt::format("{}-{}", id, i + 1));
    }
}

void draw_glass(Canvas& canvas, const Section& section, const View& view, const Box& box) {
    for (const Outline& outline : section.surface) {
        std::vector<Vector2> corners = on_page(outline.points, view, Vector2d::Zero());
        const std::vector<Vector2> back = on_page(outline.points, view, -*section.back_depth * section.up);
        corners.insert(corners.end(), back.rbegin(), back.rend());
        canvas.polygon(clip_polygon(corners, box), palette::glass, {palette::glass, 0.2});
    }
}

}  // namespace

Section make_section(const scenario::Scenario& s, const Mounting& m, const receiver::Receiver& r, double half_width,
                     double above, double below) {
    Section section;
    const PartView& part = *m.part;
    section.half_width = half_width;
    section.up = upward(part.shape);
    const double reference = reference_above(part.shape, part.spot, part.y);
    section.reference = part.spot + reference / m.beam_axis.dot(section.up) * m.beam_axis;
    section.shows_reference = reference <= above && reference >= -below;
    section.surface = cut(part.shape, {part.spot, part.y, half_width, above, below});
    if (!is_plate(s)) return section;
    const scenario::Plate& plate = s.target.plate;
    if (plate.thickness <= below) {
        section.back_depth = plate.thickness;
        section.back_light = back_light(s, m, r, section.up);
    }
    if (plate.backing != "none" && backing_depth(plate) <= below) section.backing_depth = backing_depth(plate);
    return section;
}

std::optional<double> detail_half_width(const scenario::Scenario& s, const Mounting& m, double half_width,
                                        double beam_radius) {
    constexpr double min_gain = 2.5;
    constexpr double min_beam_radii = 3.0;
    constexpr double min_share = 0.02;  // of the width: less would look flat even enlarged
    constexpr double step = 1.12;
    const scenario::Plate& plate = s.target.plate;
    const double behind = !is_plate(s) ? 0.0 : plate.backing == "none" ? plate.thickness : backing_depth(plate);
    // Relief over width: how well it shows.
    const auto share_in = [&](double width) {
        return (behind + rise_within(m.part->shape, {m.part->spot, m.part->y, width, 0.0, 0.0})) / width;
    };
    const double least = std::max(min_share, 1.5 * share_in(half_width));
    double best_share = 0.0;
    std::vector<std::array<double, 2>> candidates;
    for (double width = min_beam_radii * beam_radius; width < half_width / min_gain; width *= step) {
        const double share = share_in(width);
        if (share > 1.0 || share < least) continue;
        candidates.push_back({width, share});
        best_share = std::max(best_share, share);
    }
    // The widest that still shows it nearly as well as the best: a whole groove, not its bottom.
    constexpr double nearly = 0.6;
    const auto found = std::find_if(candidates.rbegin(), candidates.rend(),
                                    [&](const auto& candidate) { return candidate[1] >= nearly * best_share; });
    if (found == candidates.rend()) return std::nullopt;
    return (*found)[0];
}

std::vector<Vector2d> places_of(const Section& section) {
    std::vector<Vector2d> places;
    for (const auto& depth : {std::optional<double>(0.0), section.back_depth, section.backing_depth}) {
        if (!depth) continue;
        for (const Outline& outline : section.surface) {
            for (const Vector2d& p : outline.points) places.emplace_back(p - *depth * section.up);
        }
    }
    return places;
}

std::vector<Segment> segments_of(const Section& section, const View& view) {
    std::vector<Segment> segments;
    for (const auto& depth : {std::optional<double>(0.0), section.back_depth, section.backing_depth}) {
        if (!depth) continue;
        for (const Outline& outline : section.surface) {
            const std::vector<Vector2> points = on_page(outline.points, view, -*depth * section.up);
            for (std::size_t i = 0; i + 1 < points.size(); ++i) segments.push_back({points[i], points[i + 1]});
            if (outline.closed) segments.push_back({points.back(), points.front()});
        }
    }
    return segments;
}

void draw_section(Canvas& canvas, const Section& section, const View& view, const Box& box, std::string_view id) {
    const Pen face{palette::ink, 2.2};
    const std::vector<ClippedLine> front = lines_on_page(section, view, box, 0.0);
    if (!section.back_depth) {
        draw_hatching(canvas, front, section, box);
    } else {
        draw_glass(canvas, section, view, box);
        const std::vector<ClippedLine> back = lines_on_page(section, view, box, *section.back_depth);
        draw_lines(canvas, back, {palette::ink, 1.4}, id.empty() ? std::string() : fmt::format("{}-back", id));
        if (section.backing_depth) {
            const std::vector<ClippedLine> backing = lines_on_page(section, view, box, *section.backing_depth);
            draw_hatching(canvas, backing, section, box);
            draw_lines(canvas, backing, {palette::ink, 1.4});
        }
    }
    draw_lines(canvas, front, face, id);
}

void draw_back_light(Canvas& canvas, const BackLight& light, const Vector2d& spot, const View& view, const Box& box) {
    const std::array path{view.at(spot), view.at(light.back), view.at(light.exit)};
    const std::array pens{Pen{palette::beam_edge, 0.9, dash::chain}, Pen{palette::beam_edge, 0.9, dash::dashed}};
    for (std::size_t i = 0; i < pens.size(); ++i) {
        if (const auto kept = clip_line(path[i], path[i + 1], box)) canvas.line((*kept)[0], (*kept)[1], pens[i]);
    }
}

void draw_stop(Canvas& canvas, const Vector2& at, double arm) {
    const Pen pen{palette::beam_edge, 1.4};
    canvas.line(at - Vector2(arm, arm), at + Vector2(arm, arm), pen);
    canvas.line(at - Vector2(arm, -arm), at + Vector2(arm, -arm), pen);
}

}  // namespace spotwright::drawing
