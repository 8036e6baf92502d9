#include "bindings/web/engine/scene.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <span>
#include <vector>

#include "bindings/web/engine/flight_scene.hpp"
#include "bindings/web/engine/points.hpp"
#include "sim/base/units.hpp"
#include "sim/drawing/mounting.hpp"
#include "sim/drawing/part_section.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/record/json.hpp"
#include "sim/record/json_number.hpp"
#include "sim/scenario/schema.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::web {

namespace {

using base::mm, base::um, base::degree;
using Eigen::Vector2d, Eigen::Vector3d;
using scenario::Scenario;

constexpr std::array shares{-1.0, -0.5, 0.0, 0.5, 1.0};

double pixel(const receiver::Receiver& r, double u) {
    return receiver::pixel_of(r, u);
}

double scheimpflug(const receiver::Receiver& r) {
    const double line = receiver::focused_line_angle(r.emitter_angle, r.angle);
    return receiver::scheimpflug_tilt(r.image_distance / r.object_distance, r.angle - line);
}

Json ray(const drawing::Mounting& m, const receiver::Receiver& r, const Vector3d& place, double share,
         const std::optional<Vector2d>& hidden_at) {
    const auto u = hidden_at ? std::nullopt : drawing::image_on_array(r, place, share);
    return {{"share", share},
            {"lens", point_mm(drawing::in_aperture(m, r, share))},
            {"array", u ? point_mm(drawing::on_array(r, *u)) : Json()},
            {"on_array", u.has_value()},
            {"hidden_at", hidden_at ? point_mm(*hidden_at) : Json()}};
}

Json rays_of_plane(const drawing::Mounting& m, const receiver::Receiver& r, std::size_t i) {
    Json list = Json::array();
    for (const double share : shares) {
        list.push_back(ray(m, r, {m.spots[i].x(), 0.0, m.spots[i].y()}, share, std::nullopt));
    }
    return list;
}

// Rays of the lit point, and where the part stops those that it hides.
Json rays_of_part(const drawing::Mounting& m, const receiver::Receiver& r) {
    Json list = Json::array();
    if (!m.part) return list;
    const Vector3d place(m.part->spot.x(), m.part->y, m.part->spot.y());
    for (const double share : shares) {
        const auto seen = std::any_of(m.part->sight.seen.begin(), m.part->sight.seen.end(), [share](const auto& each) {
            return share >= each[0] - 1e-9 && share <= each[1] + 1e-9;
        });
        std::optional<Vector2d> stop;
        if (!seen) stop = m.part->sight.hidden_at.value_or(m.part->spot);
        list.push_back(ray(m, r, place, share, stop));
    }
    return list;
}

Json array_geometry(const drawing::Mounting& m, const receiver::Receiver& r, const sensor::Layout& layout) {
    const double half = 0.5 * static_cast<double>(r.pixels) * r.pitch;
    Json images_px = Json::array();
    for (const double u : layout.image_position) images_px.push_back(pixel(r, u));
    Json array{{"ends", Json::array({point_mm(drawing::on_array(r, -half)), point_mm(drawing::on_array(r, half))})},
               {"pixels", r.pixels},
               {"images", points_mm(m.images)},
               {"images_px", images_px},
               {"image", nullptr},
               {"image_px", nullptr},
               {"image_edges_px", nullptr},
               {"tilt_deg", layout.detector_tilt / degree},
               {"scheimpflug_deg", scheimpflug(r) / degree}};
    if (!m.part) return array;
    if (m.part->image) {
        array["image"] = point_mm(drawing::on_array(r, *m.part->image));
        array["image_px"] = pixel(r, *m.part->image);
    }
    if (m.part->image_edges) {
        const auto [one, other] = *m.part->image_edges;
        array["image_edges_px"] = {pixel(r, one), pixel(r, other)};
    }
    return array;
}

Json back_light(const drawing::BackLight& light, const receiver::Receiver& r) {
    return {{"back", point_mm(light.back)},
            {"exit", point_mm(light.exit)},
            {"image", light.image ? point_mm(drawing::on_array(r, *light.image)) : Json()},
            {"image_px", light.image ? Json(pixel(r, *light.image)) : Json()}};
}

Json part(const Scenario& s, const drawing::Mounting& m, const receiver::Receiver& r, double half_width) {
    const drawing::Section section = drawing::make_section(s, m, r, half_width, half_width, half_width);
    return {{"surface", outlines_mm(section.surface)},
            {"half_width_mm", half_width / mm},
            {"up", direction(section.up)},
            {"tilt_deg", drawing::drawn_tilt(*m.part) / degree},
            {"spot", point_mm(m.part->spot)},
            {"spot_normal", direction(m.part->normal)},
            {"spot_edges", spot_edges(s)},
            {"hidden", m.part->sight.seen.empty()},
            {"back_depth_mm", record::json_number(section.back_depth, mm)},
            {"backing_depth_mm", record::json_number(section.backing_depth, mm)},
            {"back_light", section.back_light ? back_light(*section.back_light, r) : Json()}};
}

// The mirrored axis in the plane of the mounting, and by how much it passes the lens where both are equally far.
Json reflection(const drawing::Mounting& m, const receiver::Receiver& r) {
    const Vector2d down = -m.beam_axis;
    const Vector2d on = down - 2.0 * down.dot(m.part->normal) * m.part->normal;
    const double forward = on.dot(m.axis);
    Json misses;
    if (forward > 0.0) {
        const double way = (m.lens - m.part->spot).dot(m.axis) / forward;
        const double aside = (m.part->spot + way * on - m.lens).dot(m.outward);
        misses = (std::abs(aside) - r.aperture.half_in_plane) / mm;
    }
    return {{"direction", direction(on)}, {"misses_lens_mm", misses}};
}

Json housing(const drawing::HousingOutline& outline) {
    Json windows = Json::array();
    for (const auto& window : outline.windows) windows.push_back(points_mm(window));
    return {{"corners", points_mm(outline.corners)}, {"windows", windows}};
}

Json measurable(const receiver::MeasurableRange& range) {
    return {record::json_number(range.near, mm), record::json_number(range.far, mm)};
}

Json array_scene(const Scenario& s, const sensor::Layout& layout) {
    const receiver::Receiver& r = layout.receiver;
    const drawing::Mounting m = drawing::make_mounting(s, layout);
    Json scene = common_scene(s, layout.beam_radius);
    scene["spots"] = points_mm(m.spots);
    scene["lens"] = point_mm(m.lens);
    scene["rims"] = points_mm(m.rims);
    scene["receiver_axis"] = direction(m.axis);
    scene["angle_between_axes_deg"] = (r.angle - r.emitter_angle) / degree;
    scene["measurable_mm"] = measurable(layout.measurable);
    scene["array"] = array_geometry(m, r, layout);
    scene["rays"] = {rays_of_plane(m, r, 0), rays_of_plane(m, r, 1), rays_of_plane(m, r, 2)};
    scene["part_rays"] = rays_of_part(m, r);
    scene["part"] = m.part ? part(s, m, r, layout.span) : Json();
    scene["reflection"] = m.part ? reflection(m, r) : Json();
    scene["housing"] = m.housing ? housing(*m.housing) : Json();
    scene["flight"] = nullptr;
    scene["layout"] = record::to_json(layout, s);
    return scene;
}

}  // namespace

Json scene_of(const Scenario& s) {
    const sensor::AnyLayout layout = sensor::layout_of(s);
    if (const auto* array = std::get_if<sensor::Layout>(&layout)) return array_scene(s, *array);
    return flight_scene(s, std::get<sensor::FlightLayout>(layout));
}

}  // namespace spotwright::web
