#include "sim/drawing/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/units.hpp"
#include "sim/drawing/svg_canvas.hpp"

namespace spotwright::drawing {

namespace {

using base::mm;
using scenario::Scenario;

// A sensor over its part: x along the part, y above it. [m]
struct SensorOutline {
    std::vector<Vector2> housing;
    Vector2 face = Vector2::Zero();
    Vector2 lens = Vector2::Zero();
    Vector2 spot = Vector2::Zero();
    double left = 0.0;
    double right = 0.0;
    double top = 0.0;
};

SensorOutline outline_of(const Scenario& s) {
    const double tilt = s.mount.tilt[0];
    const double displacement = s.target.displacement;
    const auto over_part = [&](double x, double z) {
        return Vector2(x * std::cos(tilt) + z * std::sin(tilt), z * std::cos(tilt) - x * std::sin(tilt) + displacement);
    };
    SensorOutline o;
    const double face_x = s.mount.reference_distance * std::sin(s.emitter.angle);
    const double face_z = s.mount.reference_distance * std::cos(s.emitter.angle);
    const bool beside = scenario::abilities_of(s.principle).array;
    const double lens_x = beside ? s.receiver.distance * std::sin(s.receiver.angle) : face_x + s.flight.baseline;
    const double lens_z = beside ? s.receiver.distance * std::cos(s.receiver.angle) : face_z;
    o.face = over_part(face_x, face_z);
    o.lens = over_part(lens_x, lens_z);
    // The beam goes on from the reference point to the part, or stops short of it.
    const Vector2 reference = over_part(0.0, 0.0);
    const Vector2 down = reference - o.face;
    o.spot = std::abs(down.y()) > 0.0 ? Vector2(o.face - o.face.y() / down.y() * down) : reference;
    const double start = face_x - s.housing.beam_position;
    const double width =
        s.housing.width > 0.0 ? s.housing.width : std::abs(lens_x - face_x) + s.receiver.aperture.in_plane;
    const double depth = s.housing.depth > 0.0 ? s.housing.depth : 0.5 * width;
    for (const auto& [x, z] : {std::array{start, face_z}, std::array{start + width, face_z},
                               std::array{start + width, face_z + depth}, std::array{start, face_z + depth}}) {
        o.housing.push_back(over_part(x, z));
    }
    o.left = o.right = o.spot.x();
    for (const Vector2& corner : o.housing) {
        o.left = std::min(o.left, corner.x());
        o.right = std::max(o.right, corner.x());
        o.top = std::max(o.top, corner.y());
    }
    o.left = std::min(o.left, o.lens.x());
    o.right = std::max(o.right, o.lens.x());
    return o;
}

constexpr double sheet_width = 1000.0;
constexpr double sheet_height = 560.0;
constexpr double margin = 24.0;
constexpr double caption_height = 58.0;
constexpr double gap = 22.0;

void draw_one(Canvas& canvas, const SensorOutline& o, const DrawnSensor& sensor, double scale, double left,
              double ground) {
    const auto at = [&](const Vector2& p) { return Vector2(left + (p.x() - o.left) * scale, ground - p.y() * scale); };
    std::vector<Vector2> corners;
    for (const Vector2& corner : o.housing) corners.push_back(at(corner));
    canvas.open_group("");
    canvas.title(sensor.name + ": " + sensor.verdict);
    canvas.polygon(corners, palette::housing, {palette::ink, 1.0, dash::solid});
    canvas.line(at(o.face), at(o.spot), {palette::beam_edge, 1.6, dash::solid});
    canvas.line(at(o.spot), at(o.lens), {palette::near_end, 1.0, dash::dashed});
    canvas.circle(at(o.lens), 3.0, palette::glass, {palette::ink, 0.8, dash::solid});
    canvas.close_group();
}

}  // namespace

std::string draw_comparison(std::span<const DrawnSensor> sensors, const scenario::Job& job) {
    std::vector<SensorOutline> outlines;
    double across = 0.0;
    double top = job.clearance[1];
    for (const DrawnSensor& sensor : sensors) {
        outlines.push_back(outline_of(sensor.scenario));
        across += outlines.back().right - outlines.back().left;
        top = std::max(top, outlines.back().top);
    }
    const auto count = static_cast<double>(std::max<std::size_t>(sensors.size(), 1));
    const double room = sheet_width - 2.0 * margin - gap * (count - 1.0);
    const double ground = sheet_height - margin - caption_height;
    const double scale = std::min(room / std::max(across, 1e-6), (ground - margin) / top);

    Canvas canvas;
    const auto height = [&](double above) { return ground - above * scale; };
    const double half = 0.5 * job.span;
    // Where the front may be while the part stands in the middle.
    const std::array<Box, 1> window{
        Box{margin, height(job.clearance[1] - half), sheet_width - margin, height(job.clearance[0] + half)}};
    canvas.rectangles(window, palette::light);
    canvas.text({sheet_width - margin - 4.0, window[0].top + 12.0}, "fronts may be here",
                {small_size, Anchor::end, false, true, 0.0, palette::grey});
    double left = margin;
    for (std::size_t i = 0; i < outlines.size(); ++i) {
        const double width = (outlines[i].right - outlines[i].left) * scale;
        draw_one(canvas, outlines[i], sensors[i], scale, left, ground);
        // Names one under the other where sensors are small.
        const double line = ground + 16.0 + 13.0 * static_cast<double>(i % 3);
        canvas.text({left, line}, fmt::format("{}: {}", sensors[i].name, sensors[i].verdict),
                    {small_size, Anchor::start, false, true, 0.0, palette::ink});
        left += width + gap;
    }
    canvas.line({margin, ground}, {sheet_width - margin, ground}, {palette::ink, 1.6, dash::solid});
    for (const double end : {half, -half}) {
        canvas.line({margin, height(end)}, {sheet_width - margin, height(end)}, {palette::grey, 0.8, dash::dotted});
    }
    const double bar = round_step(0.08 * sheet_width / scale / mm) * mm;
    const double foot = sheet_height - 14.0;
    canvas.line({margin, foot}, {margin + bar * scale, foot}, {palette::ink, 2.0, dash::solid});
    canvas.text({margin + bar * scale + 6.0, foot + 4.0}, fmt::format("{:g} mm", bar / mm), {small_size});
    constexpr double per_mm = 1000.0 / 264.0;
    return canvas.document({sheet_width, sheet_height}, {sheet_width / per_mm, sheet_height / per_mm},
                           "Sensors to one scale");
}

}  // namespace spotwright::drawing
