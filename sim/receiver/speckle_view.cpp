#include "sim/receiver/speckle_view.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/Geometry>

namespace spotwright::receiver {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

// Unit vectors of x and y in the surface. x lies in the mounting plane, whatever the tilt.
struct Tangents {
    Vector3d x;
    Vector3d y;
};

Tangents tangents_of(const Vector3d& normal) {
    const Vector3d x = Vector3d::UnitY().cross(normal).normalized();
    return {x, normal.cross(x)};
}

// Direction from the lit point to a place of the aperture.
Vector3d towards(const Receiver& receiver, const Vector3d& lit, double in_plane, double out_of_plane) {
    return (aperture_point(receiver, in_plane, out_of_plane) - lit).normalized();
}

// The point of the part that the beam's axis lights. Where the axis only grazes a wall, as that of an edge along the
// beam, the light beside it falls on faces: the nearest of them is taken. None: the axis misses, or all light grazes.
std::optional<target::Hit> lit_point(const emitter::Beam& beam, const target::Part& part) {
    constexpr double grazing = 1e-3;  // cosine: the footprint would be a thousand times as long as the beam is wide
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit || -hit->normal.dot(beam.direction) > grazing) return hit;
    for (const double share : {0.01, -0.01, 0.1, -0.1}) {
        for (std::size_t axis = 2; axis-- > 0;) {
            const double radius = emitter::radius_at(beam, static_cast<int>(axis), hit->distance);
            const auto beside = target::meet(part, {beam.face + share * radius * beam.axes[axis], beam.direction});
            if (beside && -beside->normal.dot(beam.direction) > grazing) return beside;
        }
    }
    return std::nullopt;
}

}  // namespace

Vector2d wavefront_curvature(const emitter::Beam& beam, double along) {
    const auto curvature = [&](int axis) {
        return emitter::radius_slope_at(beam, axis, along) / emitter::radius_at(beam, axis, along);
    };
    return {curvature(0), curvature(1)};
}

std::optional<SpeckleView> make_speckle_view(const emitter::Beam& beam, const target::Part& part,
                                             const Receiver& receiver, const Coherence& coherence) {
    const auto hit = lit_point(beam, part);
    if (!hit) return std::nullopt;
    const Vector3d lit = beam.face + hit->distance * beam.direction;
    const Tangents t = tangents_of(hit->normal);
    SpeckleView view;
    view.lit = lit;
    view.axes << t.x, t.y;
    view.wavelength = beam.wavelength;
    view.coherence = coherence;
    view.aperture = receiver.aperture;

    const Vector2d curvature = wavefront_curvature(beam, hit->distance);
    view.irradiance.setZero();
    for (int axis = 0; axis < 2; ++axis) {
        const Vector3d& across = beam.axes[static_cast<std::size_t>(axis)];
        const Vector2d along_surface(across.dot(t.x), across.dot(t.y));
        const double radius = emitter::radius_at(beam, axis, hit->distance);
        view.irradiance += along_surface * along_surface.transpose() / (radius * radius);
        view.wavefront += along_surface * along_surface.transpose() * curvature[axis];
    }

    const auto seen = [&](double in_plane, double out_of_plane) -> Vector2d {
        const Vector3d way = towards(receiver, lit, in_plane, out_of_plane);
        return {way.dot(t.x), way.dot(t.y)};
    };
    const double in_plane = view.aperture.half_in_plane;
    const double out_of_plane = view.aperture.half_out_of_plane;
    const Vector2d view_direction = seen(0.0, 0.0);
    const Vector2d beam_direction(beam.direction.dot(t.x), beam.direction.dot(t.y));
    view.direction = view_direction - beam_direction;
    view.direction_per_aperture_position.col(0) = (seen(in_plane, 0.0) - seen(-in_plane, 0.0)) / (2.0 * in_plane);
    view.direction_per_aperture_position.col(1) =
        (seen(0.0, out_of_plane) - seen(0.0, -out_of_plane)) / (2.0 * out_of_plane);
    const double distance = (aperture_point(receiver, 0.0, 0.0) - lit).norm();
    view.wavefront += (Eigen::Matrix2d::Identity() - view_direction * view_direction.transpose()) / distance;

    // Aberrations have their own place in the phase over the aperture.
    view.aberrations = receiver.wavefront;
    Receiver ideal = receiver;
    ideal.wavefront = {};
    const auto landing = [&](const Vector3d& from, double xi, double eta) {
        return trace(ideal, to_receiver(ideal, from), xi, eta);
    };
    constexpr double step = 1e-6;
    const auto centre = landing(lit, 0.0, 0.0);
    const auto right = landing(lit + step * t.x, 0.0, 0.0);
    const auto left = landing(lit - step * t.x, 0.0, 0.0);
    const auto upper = landing(lit + step * t.y, 0.0, 0.0);
    const auto lower = landing(lit - step * t.y, 0.0, 0.0);
    const auto rim = landing(lit, in_plane, 0.0);
    const auto other_rim = landing(lit, -in_plane, 0.0);
    const auto side = landing(lit, 0.0, out_of_plane);
    const auto other_side = landing(lit, 0.0, -out_of_plane);
    if (!centre || !right || !left || !upper || !lower || !rim || !other_rim || !side || !other_side) {
        return std::nullopt;
    }
    view.du_dx = (right->u - left->u) / (2.0 * step);
    view.du_dy = (upper->u - lower->u) / (2.0 * step);
    view.dv_dy = (upper->v - lower->v) / (2.0 * step);
    if (view.du_dx == 0.0 || view.dv_dy == 0.0) return std::nullopt;
    // A place xi of the aperture images the lit point beside itself by x(xi) = -defocus xi / (d direction / d xi).
    const double blur = (rim->u - other_rim->u) / (2.0 * in_plane * view.du_dx);
    const double blur_across = (side->v - other_side->v) / (2.0 * out_of_plane * view.dv_dy);
    view.defocus = {-blur * view.direction_per_aperture_position(0, 0),
                    -blur_across * view.direction_per_aperture_position(1, 1)};
    view.row = {receiver.pixels, receiver.pitch, receiver.height, centre->u, centre->v};
    return view;
}

Vector2d aperture_reach(const SpeckleView& view) {
    const Eigen::Matrix2d& turn = view.direction_per_aperture_position;
    const Vector2d half(view.aperture.half_in_plane, view.aperture.half_out_of_plane);
    if (view.aperture.shape == ApertureShape::rectangular) return turn.cwiseAbs() * half;
    return (turn * half.asDiagonal()).rowwise().norm();
}

// Copies of the irradiance's spectrum exp(-(pi w f)^2 / 2) stand 1 / pitch apart; none may reach the frequencies up to
// 2 reach / lambda by which places of the aperture differ. At 1.2 / w the spectrum is 8e-4.
double coarsest_pitch(double wavelength, double reach, double radius) {
    constexpr double bandwidth = 1.2;
    const double seen = 2.0 * reach / wavelength;
    return 1.0 / (seen + std::max(seen, bandwidth / radius));
}

double coarsest_pitch(const SpeckleView& view) {
    const Eigen::Matrix2d& q = view.irradiance;
    const double steepest = 0.5 * q.trace() + std::hypot(0.5 * (q(0, 0) - q(1, 1)), q(0, 1));
    return coarsest_pitch(view.wavelength, aperture_reach(view).maxCoeff(), 1.0 / std::sqrt(steepest));
}

}  // namespace spotwright::receiver
