#include "sim/drawing/part_detail.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/drawing/mounting_view.hpp"
#include "sim/drawing/page_clip.hpp"
#include "sim/drawing/part_section.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using base::mm, base::um;
using Eigen::Vector2d, Eigen::Vector3d;

constexpr double heading_height = 26.0;
constexpr double bar_height = 24.0;
constexpr double note_spacing = 13.5;
constexpr int most_notes = 3;

// Everything that the drawing of the detail asks for again and again.
struct Scene {
    Canvas& canvas;
    const scenario::Scenario& scenario;
    const Mounting& mounting;
    const receiver::Receiver& receiver;
    emitter::Beam beam;
    Section section;
    View view;
    Box frame;
    Vector3d lens;
    double reach;  ///< beyond the frame in any direction. [m]

    [[nodiscard]] const PartView& part() const { return *mounting.part; }
    [[nodiscard]] Vector3d in_space(const Vector2d& p) const { return {p.x(), part().y, p.y()}; }
};

Vector2d in_plane(const Vector3d& p) {
    return {p.x(), p.z()};
}

// Looks at the middle of the relief, but never so that the spot comes near the edge.
View view_of(const Section& section, const Vector2d& spot, double half_width, const Box& frame) {
    const double scale = 0.5 * (frame.right - frame.left) / half_width;
    const double half_height = 0.5 * (frame.bottom - frame.top) / scale;
    double low = spot.y();
    double high = spot.y();
    for (const Vector2d& p : places_of(section)) {
        if (std::abs(p.x() - spot.x()) > half_width) continue;
        low = std::min(low, p.y());
        high = std::max(high, p.y());
    }
    constexpr double room = 0.7;
    constexpr double upwards = 0.12;  // the light is above
    const double middle = std::clamp(0.5 * (low + high) + upwards * half_height, spot.y() - room * half_height,
                                     spot.y() + room * half_height);
    const Vector2 centre(0.5 * (frame.left + frame.right), 0.5 * (frame.top + frame.bottom));
    return {scale, centre - Vector2(scale * spot.x(), -scale * middle)};
}

Scene make_scene(Canvas& canvas, const scenario::Scenario& s, const Mounting& m, const receiver::Receiver& r,
                 double half_width, const Box& frame) {
    constexpr double to_any_corner = 2.5;
    const double reach = to_any_corner * half_width;
    Scene scene{canvas, s, m, r, sensor::beam_of(s), make_section(s, m, r, reach, reach, reach), {}, frame, {}, reach};
    scene.view = view_of(scene.section, m.part->spot, half_width, frame);
    scene.lens = receiver::aperture_point(r, 0.0, 0.0);
    return scene;
}

// A ray of the beam where it lands, or far behind where it passes the part.
struct Landing {
    Vector3d place;
    Vector3d before;  ///< on the ray, outside of the frame
    bool on_part = false;
};

Landing landing(const Scene& scene, double offset) {
    const emitter::BeamRay ray = emitter::ray_from_face(scene.beam, scene.part().along, {offset, 0.0});
    const auto hit = target::meet(scene.part().shape, ray);
    const double at_spot = (scene.in_space(scene.part().spot) - ray.origin).dot(ray.direction);
    const double distance = hit ? hit->distance : at_spot + 2.0 * scene.reach;
    const double before = std::min(distance, at_spot - 2.0 * scene.reach);
    return {ray.origin + distance * ray.direction, ray.origin + before * ray.direction, hit.has_value()};
}

void draw_clipped(const Scene& scene, const Vector2d& from, const Vector2d& to, const Pen& pen,
                  std::string_view id = {}) {
    const auto kept = clip_line(scene.view.at(from), scene.view.at(to), scene.frame);
    if (kept) scene.canvas.polyline(*kept, pen, id);
}

void draw_beam(const Scene& scene) {
    constexpr int rays = 64;
    std::vector<Vector2> outline;
    for (int i = 0; i <= rays; ++i) {
        outline.push_back(scene.view.at(in_plane(landing(scene, 2.0 * i / rays - 1.0).place)));
    }
    outline.push_back(scene.view.at(in_plane(landing(scene, 1.0).before)));
    outline.push_back(scene.view.at(in_plane(landing(scene, -1.0).before)));
    scene.canvas.polygon(clip_polygon(outline, scene.frame), palette::beam, {palette::beam, 0.2});
    for (const double edge : {-1.0, 1.0}) {
        const Landing at_edge = landing(scene, edge);
        draw_clipped(scene, in_plane(at_edge.before), in_plane(at_edge.place), {palette::beam_edge, 0.7});
    }
    const Landing axis = landing(scene, 0.0);
    draw_clipped(scene, in_plane(axis.before), in_plane(axis.place), {palette::beam_edge, 0.7, dash::chain});
}

// Light of the lit spot that the lens takes in.
void draw_collected_light(const Scene& scene) {
    const Vector2 spot = scene.view.at(scene.part().spot);
    for (const auto& [from, to] : scene.part().sight.seen) {
        const std::array fan{spot, scene.view.at(in_aperture(scene.mounting, scene.receiver, to)),
                             scene.view.at(in_aperture(scene.mounting, scene.receiver, from))};
        const std::vector<Vector2> kept = clip_polygon(fan, scene.frame);
        if (kept.size() > 2) scene.canvas.polygon(kept, palette::light, {palette::light, 0.2});
    }
}

// Stretches of the surface that the centre of the lens does not see. Returns whether there are any.
bool draw_unseen(const Scene& scene) {
    constexpr Pen band{palette::faint, 9.0};
    constexpr double finest = 1.5;  // page units
    bool any = false;
    for (const Outline& outline : scene.section.surface) {
        // A texture finer than print would be a grey area.
        constexpr std::size_t too_fine = 1500;
        if (outline.points.size() > too_fine) continue;
        std::vector<Vector2d> points = outline.points;
        if (outline.closed) points.push_back(points.front());
        std::vector<Vector2> run;
        const auto finish = [&] {
            if (run.size() > 1) scene.canvas.polyline(run, band);
            any = any || run.size() > 1;
            run.clear();
        };
        for (std::size_t i = 0; i + 1 < points.size(); ++i) {
            const Vector2d direction = points[i + 1] - points[i];
            // A little off the surface, on its outer side, where light leaves it.
            const Vector2d off = 1e-6 * scene.reach * Vector2d(-direction.y(), direction.x()).normalized();
            const int segments = 1 + static_cast<int>(direction.norm() * scene.view.scale / finest);
            for (int k = 0; k < segments; ++k) {
                const Vector2d from = points[i] + (static_cast<double>(k) / segments) * direction;
                const Vector2d to = points[i] + (static_cast<double>(k + 1) / segments) * direction;
                const Vector2d middle = 0.5 * (from + to);
                const bool turned_away = off.dot(in_plane(scene.lens) - middle) < 0.0;
                const auto kept = clip_line(scene.view.at(from), scene.view.at(to), scene.frame);
                if (!kept ||
                    !(turned_away || target::hides(scene.part().shape, scene.in_space(middle + off), scene.lens))) {
                    finish();
                    continue;
                }
                if (run.empty()) run.push_back((*kept)[0]);
                run.push_back((*kept)[1]);
            }
        }
        finish();
    }
    return any;
}

// Returns whether a ray is stopped.
bool draw_rays(const Scene& scene) {
    struct Ray {
        double offset = 0.0;
        double width = 0.9;
        const char* id = "";
    };
    bool any_stopped = false;
    for (const Ray& ray : {Ray{-1.0, 0.9, "detail-ray-left"}, Ray{1.0, 0.9, "detail-ray-right"},
                           Ray{0.0, part_pen.width, "detail-ray-axis"}}) {
        const Landing lit = landing(scene, ray.offset);
        if (!lit.on_part) continue;
        const Vector2d from = in_plane(lit.place);
        const Sight sight = sight_of(scene.part().shape, scene.receiver, lit.place);
        if (!sight.hidden_at) {
            draw_clipped(scene, from, in_plane(scene.lens), {palette::beam_edge, ray.width}, ray.id);
            continue;
        }
        any_stopped = true;
        draw_clipped(scene, from, *sight.hidden_at, {palette::beam_edge, ray.width, dash::dotted},
                     fmt::format("{}-hidden", ray.id));
        const Vector2 stop = scene.view.at(*sight.hidden_at);
        if (is_within(
                std::array{Vector2(scene.frame.left, scene.frame.top), Vector2(scene.frame.right, scene.frame.top),
                           Vector2(scene.frame.right, scene.frame.bottom),
                           Vector2(scene.frame.left, scene.frame.bottom)},
                stop)) {
            draw_stop(scene.canvas, stop, ray.offset == 0.0 ? 4.0 : 2.5);
        }
    }
    if (scene.section.back_light) {
        const BackLight& light = *scene.section.back_light;
        draw_back_light(scene.canvas, light, scene.part().spot, scene.view, scene.frame);
        draw_clipped(scene, light.exit, in_plane(scene.lens), {palette::beam_edge, 0.9, dash::dashed});
    }
    scene.canvas.circle(scene.view.at(scene.part().spot), 2.6, palette::paper, {palette::beam_edge, 1.3});
    return any_stopped;
}

void draw_bar(const Scene& scene, double larger) {
    const double limit = 0.25 * (scene.frame.right - scene.frame.left);
    const double length = round_length(limit / scene.view.scale / mm) * mm;
    const Vector2 left(scene.frame.left, scene.frame.bottom + 14.0);
    const Vector2 right = left + Vector2(length * scene.view.scale, 0.0);
    const Vector2 tick(0.0, 4.0);
    scene.canvas.open_group("detail-scale-bar", fmt::format("data-units-per-mm=\"{:.6f}\"", scene.view.scale * mm));
    scene.canvas.line(left, right, {palette::ink, 2.0});
    scene.canvas.line(left - tick, left + tick, {palette::ink, 1.2});
    scene.canvas.line(right - tick, right + tick, {palette::ink, 1.2});
    scene.canvas.close_group();
    scene.canvas.text(right + Vector2(8.0, 4.0),
                      fmt::format("{} mm, {} times larger", number(length / mm), number(larger, 2)), {small_size});
}

}  // namespace

std::vector<Vector2> part_detail_sizes() {
    constexpr double words = heading_height + bar_height + most_notes * note_spacing;
    return {{250.0, 170.0 + words}, {225.0, 145.0 + words}, {205.0, 120.0 + words}};
}

void draw_part_detail(Canvas& canvas, const scenario::Scenario& s, const Mounting& m, const receiver::Receiver& r,
                      const PartDetail& detail, const Box& place) {
    canvas.text({place.left, place.top + heading_size}, "Detail B: the part", {heading_size, Anchor::start, true});
    const Box frame{place.left, place.top + heading_height, place.right,
                    place.bottom - bar_height - most_notes * note_spacing};
    const Scene scene = make_scene(canvas, s, m, r, detail.half_width, frame);
    canvas.open_group("part-detail");
    draw_collected_light(scene);
    const bool any_unseen = draw_unseen(scene);
    draw_beam(scene);
    draw_section(canvas, scene.section, scene.view, frame, "detail-part");
    const bool any_stopped = draw_rays(scene);
    const std::array corners{Vector2(frame.left, frame.top), Vector2(frame.right, frame.top),
                             Vector2(frame.right, frame.bottom), Vector2(frame.left, frame.bottom),
                             Vector2(frame.left, frame.top)};
    canvas.polyline(corners, {palette::grey, 0.9});
    canvas.close_group();
    draw_bar(scene, scene.view.scale / detail.scale);

    const double width = 2.0 * emitter::radius_at(scene.beam, 0, m.part->along);
    std::vector<std::string> notes{fmt::format("beam {} µm wide (1/e²), to scale", number(width / um, 3))};
    if (any_stopped) notes.emplace_back("×: ray stopped by the part");
    if (any_unseen) notes.emplace_back("grey: not seen from the lens centre");
    if (scene.section.back_light) notes.emplace_back("dashed: light of the back face");
    double baseline = frame.bottom + bar_height + 10.0;
    for (const std::string& note : notes) {
        canvas.text({place.left, baseline}, note, {small_size});
        baseline += note_spacing;
    }
}

double round_length(double limit) {
    const double decade = std::pow(10.0, std::floor(std::log10(limit)));
    for (const double step : {5.0, 2.0}) {
        if (step * decade <= limit) return step * decade;
    }
    return decade;
}

}  // namespace spotwright::drawing
