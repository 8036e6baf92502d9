#include "sim/sensor/housing.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/base/units.hpp"

namespace spotwright::sensor {

namespace {

using base::mm;
using Eigen::Vector2d;

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

std::optional<Room> room_of(const scenario::Scenario& s) {
    const auto body = body_of(s);
    if (!body) return std::nullopt;
    const double tilt = s.target.tilt[0] - s.mount.tilt[0];  // as `target::tilted_normal`
    const Vector2d normal(std::sin(tilt), std::cos(tilt));
    // Of the body from the plane of a part at a displacement s, which goes through (0, -s).
    const auto clearance_at = [&](double displacement) {
        double least = std::numeric_limits<double>::infinity();
        for (const Vector2d& corner : *body) {
            least = std::min(least, (corner + Vector2d(0.0, displacement)).dot(normal));
        }
        return least;
    };
    Room room;
    room.clearance = clearance_at(0.0);
    room.near_clearance = clearance_at(s.mount.range[0]);
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
