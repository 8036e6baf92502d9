#include "sim/sensor/glare.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <Eigen/Geometry>

#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::sensor {

namespace {

using Eigen::Vector3d;

double angle_between(const Vector3d& a, const Vector3d& b) {
    return std::atan2(a.cross(b).norm(), a.dot(b));
}

// A lit point, and what goes to the lens from there.
struct Lit {
    Vector3d place;
    Vector3d normal;
    Vector3d to_lens;
};

std::optional<Lit> lit_on(const receiver::Receiver& receiver, const emitter::Beam& beam, const target::Part& part) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    const Vector3d place = beam.face + hit->distance * beam.direction;
    return Lit{place, hit->normal, (receiver::aperture_point(receiver, 0.0, 0.0) - place).normalized()};
}

// Angle from the lens's centre to its rim, seen from the lit point, on the side of a direction.
double half_angle_towards(const receiver::Receiver& receiver, const Lit& lit, const Vector3d& direction) {
    const Vector3d centre = receiver::aperture_point(receiver, 0.0, 0.0);
    const Vector3d in_plane = receiver::aperture_point(receiver, 1.0, 0.0) - centre;
    const Vector3d out_of_plane = receiver::aperture_point(receiver, 0.0, 1.0) - centre;
    const Vector3d aside = direction - direction.dot(lit.to_lens) * lit.to_lens;
    Eigen::Vector2d way(aside.dot(in_plane), aside.dot(out_of_plane));
    way = way.norm() > 0.0 ? way.normalized() : Eigen::Vector2d(1.0, 0.0);
    const receiver::Aperture& a = receiver.aperture;
    double radius = a.half_in_plane;
    if (a.shape == receiver::ApertureShape::rectangular) {
        const double in =
            way.x() != 0.0 ? a.half_in_plane / std::abs(way.x()) : std::numeric_limits<double>::infinity();
        const double out =
            way.y() != 0.0 ? a.half_out_of_plane / std::abs(way.y()) : std::numeric_limits<double>::infinity();
        radius = std::min(in, out);
    }
    const Vector3d rim = receiver::aperture_point(receiver, radius * way.x(), radius * way.y()) - lit.place;
    return angle_between(lit.to_lens, rim);
}

// Angle of the facets' normals, rms, from the face's towards another normal.
double lobe_towards(const target::Surface& surface, const Vector3d& normal, const Vector3d& other) {
    const target::LayAxes axes = target::lay_axes(surface.lay, normal);
    const double along = other.dot(axes.along) / surface.gloss->slope_along;
    const double across = other.dot(axes.across) / surface.gloss->slope_across;
    const double aside = std::hypot(other.dot(axes.along), other.dot(axes.across));
    constexpr double none = 1e-12;
    if (aside < none) return std::atan(std::max(surface.gloss->slope_along, surface.gloss->slope_across));
    return std::atan(aside / std::hypot(along, across));
}

// The tilt of a part whose flat face has this normal; none where the face is not parallel to its reference surface.
std::optional<scenario::Pair> tilt_of(const Vector3d& wanted, const Vector3d& face, const target::Part& part,
                                      const scenario::Mount& mount) {
    constexpr double parallel = 1e-6;
    if (angle_between(face, part.normal()) > parallel) return std::nullopt;
    // Columns: the directions of the mounting's own axes, seen from the sensor. R_y(a) R_x(b) z = (cos b sin a, -sin b,
    // cos b cos a).
    const Vector3d normal = target::tilted_normal(mount, {0.0, 0.0});
    const Vector3d x = target::tilted_normal(mount, {std::asin(1.0), 0.0});
    const Vector3d y = normal.cross(x);
    return scenario::Pair{std::atan2(wanted.dot(x), wanted.dot(normal)),
                          -std::asin(std::clamp(wanted.dot(y), -1.0, 1.0))};
}

}  // namespace

double reach_of(const Glare& glare) {
    return 0.5 * glare.lens + 2.0 * glare.lobe;
}

// Equation (study.14).
std::optional<Glare> glare_of(const scenario::Scenario& s, const receiver::Receiver& receiver,
                              const emitter::Beam& beam, const target::Part& part) {
    const target::Surface surface = surface_of(s);
    const auto lit = surface.gloss ? lit_on(receiver, beam, part) : std::nullopt;
    if (!lit) return std::nullopt;
    const Vector3d& d = beam.direction;
    const Vector3d mirrored = d - 2.0 * d.dot(lit->normal) * lit->normal;
    const Vector3d normal = (lit->to_lens - d).normalized();

    Glare glare;
    glare.tilt = tilt_of(normal, lit->normal, part, s.mount);
    glare.away = angle_between(lit->normal, normal);
    glare.lens = half_angle_towards(receiver, *lit, mirrored);
    glare.off_lens = angle_between(mirrored, lit->to_lens) - glare.lens;
    constexpr double worth_the_name = 1e-3;
    const double cosine = std::abs(d.dot(lit->normal));
    const bool mirrors = target::mirror_share(*surface.gloss, cosine) > worth_the_name;
    const bool has_lobe = target::facet_light_share(*surface.gloss, cosine, cosine) > worth_the_name;
    if (has_lobe) glare.lobe = lobe_towards(surface, lit->normal, normal);
    const double from_square = angle_between(target::tilted_normal(s.mount, {0.0, 0.0}), normal);
    glare.narrow = mirrors || 2.0 * glare.lobe < from_square;
    glare.wanted = reads_mirrored_beam(s, receiver);
    return glare;
}

std::optional<double> gain_by_turned_lay(const scenario::Scenario& s, const receiver::Receiver& receiver,
                                         const emitter::Beam& beam, const target::Part& part) {
    target::Surface surface = surface_of(s);
    if (!surface.gloss || surface.gloss->slope_along == surface.gloss->slope_across) return std::nullopt;
    const auto lit = lit_on(receiver, beam, part);
    if (!lit) return std::nullopt;
    const double now = target::scatter(surface, -beam.direction, lit->to_lens, lit->normal, beam.polarisation);
    surface.lay = lit->normal.cross(target::lay_axes(surface.lay, lit->normal).along);
    const double turned = target::scatter(surface, -beam.direction, lit->to_lens, lit->normal, beam.polarisation);
    if (now > 0.0) return turned / now;
    return turned > 0.0 ? std::optional(std::numeric_limits<double>::infinity()) : std::nullopt;
}

}  // namespace spotwright::sensor
