#include "sim/target/part.hpp"

#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"

namespace spotwright::target {

namespace {

using Eigen::Matrix3d, Eigen::Vector2d, Eigen::Vector3d;

// In-plane about y, then out-of-plane about x. A positive in-plane angle turns +z towards +x.
Matrix3d turn(const scenario::Pair& tilt) {
    return (Eigen::AngleAxisd(tilt[0], Vector3d::UnitY()) * Eigen::AngleAxisd(tilt[1], Vector3d::UnitX()))
        .toRotationMatrix();
}

// A shape's own axes and where its origin stands on the reference surface of the part.
struct Placed {
    Shape shape = Flat{};
    scenario::Direction axis = scenario::Direction::across;
    scenario::Pair position{0.0, 0.0};
};

Placed along(Shape shape, scenario::Direction axis, double position) {
    const bool across = axis == scenario::Direction::across;
    return {std::move(shape), axis, {across ? position : 0.0, across ? 0.0 : position}};
}

Placed placed_relief(const scenario::Relief& relief) {
    const scenario::HeightTable& table = relief.heights;
    if (!table.y.empty()) return {make_height_map(table), scenario::Direction::across, relief.position};
    std::vector<Vector2d> points;
    for (std::size_t i = 0; i < table.x.size(); ++i) points.emplace_back(table.x[i], table.height[i]);
    const bool across = relief.axis == scenario::Direction::across;
    return along(make_extrusion(std::move(points)), relief.axis, relief.position[across ? 0 : 1]);
}

Placed placed_shape(const scenario::Target& t) {
    using scenario::ShapeKind, scenario::Curvature;
    switch (t.shape) {
        case ShapeKind::plane:
        case ShapeKind::plate:
            break;
        case ShapeKind::step:
            return along(make_extrusion({{0.0, 0.0}, {0.0, t.step.height}}), t.step.edge, t.step.position);
        case ShapeKind::cylinder:
            return along(Roll{t.cylinder.radius, t.cylinder.curvature == Curvature::concave}, t.cylinder.axis,
                         t.cylinder.position);
        case ShapeKind::sphere:
            return {Ball{t.sphere.radius, t.sphere.curvature == Curvature::concave}, scenario::Direction::across,
                    t.sphere.position};
        case ShapeKind::groove: {
            const double half_width = t.groove.depth * std::tan(0.5 * t.groove.opening);
            return along(make_extrusion({{-half_width, 0.0}, {0.0, -t.groove.depth}, {half_width, 0.0}}), t.groove.axis,
                         t.groove.position);
        }
        case ShapeKind::wave:
            return along(Ripple{t.wave.amplitude, t.wave.period}, t.wave.axis, t.wave.position);
        case ShapeKind::relief:
            return placed_relief(t.relief);
        case ShapeKind::post:
            return {Block{{0.5 * t.post.width[0], 0.5 * t.post.width[1]}, t.post.height}, scenario::Direction::across,
                    t.post.position};
    }
    return {};
}

// Turns the shape's x to the part's y, its y to the part's -x.
Matrix3d axes_for(scenario::Direction axis) {
    if (axis == scenario::Direction::across) return Matrix3d::Identity();
    return Eigen::AngleAxisd(0.5 * base::pi, Vector3d::UnitZ()).toRotationMatrix();
}

BeamRay into(const Part& part, const BeamRay& ray) {
    return {part.axes.transpose() * (ray.origin - part.origin), part.axes.transpose() * ray.direction};
}

}  // namespace

// Equations (target.1) and (target.2).
Part make_part(const scenario::Target& target, const scenario::Mount& mount, const emitter::Beam& beam,
               double displacement, std::uint64_t seed) {
    const Matrix3d into_sensor = turn(mount.tilt).transpose();
    const Matrix3d turned = into_sensor * turn(target.tilt);
    const Vector3d normal = into_sensor.col(2);
    Vector3d lit = -displacement * normal;
    // The beam's axis lights the same point however the part is turned there.
    const double approach = -normal.dot(beam.direction);
    if (approach > 0.0) lit = beam.face + normal.dot(beam.face - lit) / approach * beam.direction;

    const Placed placed = placed_shape(target);
    const Vector3d position(placed.position[0], placed.position[1], 0.0);
    Part part{placed.shape, turned * axes_for(placed.axis), lit + turned * position};
    if (target.shape == scenario::ShapeKind::plate) {
        part.slab = Slab{target.plate.thickness, target.plate.gap};
        if (target.plate.backing_made_of) {
            part.slab->backing = make_opaque_surface(*target.plate.backing_made_of, beam.wavelength);
        }
    }
    part.markings = make_markings(target, turned, lit, lay_direction(target, mount), beam.wavelength, seed);
    return part;
}

Vector3d tilted_normal(const scenario::Mount& mount, const scenario::Pair& tilt) {
    return turn(mount.tilt).transpose() * turn(tilt).col(2);
}

// Equation (target.16).
Vector3d lay_direction(const scenario::Target& target, const scenario::Mount& mount) {
    const Vector3d on_part(std::cos(target.lay), std::sin(target.lay), 0.0);
    return turn(mount.tilt).transpose() * (turn(target.tilt) * on_part);
}

Surface make_surface(const scenario::Target& target, const scenario::Mount& mount, double wavelength, bool inside) {
    const bool flat = target.shape == scenario::ShapeKind::plane;
    Surface surface =
        flat && inside ? make_surface(target.made_of, wavelength) : make_opaque_surface(target.made_of, wavelength);
    surface.lay = lay_direction(target, mount);
    return surface;
}

Part square_plane(double displacement) {
    Part plane;
    plane.origin = Vector3d(0.0, 0.0, -displacement);
    return plane;
}

Part plane_through(const Vector3d& point, const Vector3d& normal) {
    const Vector3d side = normal.unitOrthogonal();
    Part plane;
    plane.axes.col(0) = side;
    plane.axes.col(1) = normal.cross(side);
    plane.axes.col(2) = normal;
    plane.origin = point;
    return plane;
}

std::optional<Hit> meet(const Part& part, const BeamRay& ray) {
    std::optional<Hit> hit = meet(part.shape, into(part, ray), 0.0);
    if (hit) hit->normal = part.axes * hit->normal;
    return hit;
}

bool hides(const Part& part, const Vector3d& from, const Vector3d& to) {
    const Vector3d way = to - from;
    const double length = way.norm();
    const auto hit = meet(part.shape, into(part, {from, way / length}), own_neighbourhood);
    return hit && hit->distance < length;
}

std::optional<double> lit_displacement(const Part& part, const scenario::Mount& mount, const emitter::Beam& beam,
                                       double displacement) {
    const auto hit = meet(part, {beam.face, beam.direction});
    if (!hit) return std::nullopt;
    if (std::holds_alternative<Flat>(part.shape)) return displacement;  // it turns about the lit point
    return 0.0 - (turn(mount.tilt) * (beam.face + hit->distance * beam.direction)).z();
}

}  // namespace spotwright::target
