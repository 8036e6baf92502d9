#include "sim/sensor/housing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/units.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/part.hpp"

namespace spotwright::sensor {

namespace {

using base::mm;
using Eigen::Vector2d, Eigen::Vector3d;

// Height of the emitter face above the reference point, along the mounting normal. [m]
double face_height(const scenario::Scenario& s) {
    return s.mount.reference_distance * std::cos(s.emitter.angle);
}

}  // namespace

std::optional<std::array<Vector2d, 4>> body_of(const scenario::Scenario& s) {
    const scenario::Housing& body = s.housing;
    if (body.width <= 0.0 || body.depth <= 0.0) return std::nullopt;
    const double front = face_height(s);
    const double left = s.mount.reference_distance * std::sin(s.emitter.angle) - body.beam_position;
    const double right = left + body.width;
    return std::array{Vector2d(left, front), Vector2d(right, front), Vector2d(right, front + body.depth),
                      Vector2d(left, front + body.depth)};
}

std::optional<Approach> approach_of(const scenario::Scenario& s, double displacement) {
    const auto body = body_of(s);
    if (!body) return std::nullopt;
    const Vector3d across = target::tilted_normal(s.mount, {0.0, 0.0});
    const Vector3d normal = target::tilted_normal(s.mount, s.target.tilt);
    // The point that the beam's axis lights stays where it is when the part turns.
    const emitter::Beam beam = beam_of(s);
    const double towards = -across.dot(beam.direction);
    const Vector3d lit = towards > 0.0
                             ? Vector3d(beam.face + (across.dot(beam.face) + displacement) / towards * beam.direction)
                             : Vector3d(-displacement * across);
    const double half_thickness = 0.5 * s.housing.thickness * std::abs(normal.y());
    Approach nearest;
    nearest.clearance = std::numeric_limits<double>::infinity();
    for (const Vector2d& corner : *body) {
        const double height = normal.dot(Vector3d(corner.x(), 0.0, corner.y()) - lit) - half_thickness;
        if (height >= nearest.clearance) continue;
        nearest = {corner, corner - height * Vector2d(normal.x(), normal.z()), height};
    }
    return nearest;
}

std::optional<Room> room_of(const scenario::Scenario& s) {
    const auto at_reference = approach_of(s, 0.0);
    const auto at_near_end = approach_of(s, s.mount.range[0]);
    if (!at_reference || !at_near_end) return std::nullopt;
    Room room;
    room.clearance = at_reference->clearance;
    room.near_clearance = at_near_end->clearance;
    room.height = face_height(s) + s.housing.depth + s.mount.range[1];
    room.width = s.housing.width;
    room.thickness = s.housing.thickness;
    return room;
}

std::vector<std::string> misfits_of(const scenario::Scenario& s, const Layout& layout) {
    std::vector<std::string> misfits;
    const receiver::Receiver& r = layout.receiver;
    const Vector2d lens = r.object_distance * Vector2d(std::sin(r.angle), std::cos(r.angle));
    const double face = face_height(s);
    const double in_front = face - lens.y();  // of the plane of the emitter face
    if (const auto body = body_of(s)) {
        const bool inside = lens.x() >= (*body)[0].x() && lens.x() <= (*body)[1].x() && in_front <= 0.05 * face &&
                            -in_front <= s.housing.depth;
        if (!inside) {
            misfits.push_back(
                fmt::format("the lens stands outside the housing, at x {:.4g} mm and {:.4g} mm {} its front",
                            lens.x() / mm, std::abs(in_front) / mm, in_front > 0.0 ? "before" : "behind"));
        }
    } else if (constexpr double far_off = 0.25; std::abs(in_front) > far_off * face) {
        misfits.push_back(fmt::format(
            "the lens stands {:.4g} mm {} the plane of the emitter face; leave receiver.distance_mm out, and "
            "it stands in this plane",
            std::abs(in_front) / mm, in_front > 0.0 ? "before" : "behind"));
    }
    const double front = std::min(face, lens.y());
    if (-s.mount.range[0] >= front) {
        misfits.push_back(fmt::format("the near end of the range is {:.4g} mm behind the front of the sensor",
                                      (-s.mount.range[0] - front) / mm));
    }
    constexpr double least_share = 0.2;
    const double used =
        std::abs(layout.image_position[0] - layout.image_position[2]) / (static_cast<double>(r.pixels) * r.pitch);
    if (used < least_share) {
        misfits.push_back(
            fmt::format("the range takes {:.2g} % of the array; a longer focal length would spread it", 100.0 * used));
    }
    return misfits;
}

}  // namespace spotwright::sensor
