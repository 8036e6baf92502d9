#include "sim/drawing/mounting.hpp"

#include <algorithm>
#include <cmath>

#include "sim/emitter/beam.hpp"
#include "sim/target/footprint.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::drawing {

namespace {

using Eigen::Vector2d, Eigen::Vector3d;

Vector2d from_normal(double angle) {
    return {std::sin(angle), std::cos(angle)};
}

Vector2d in_plane(const Vector3d& p) {
    return {p.x(), p.z()};
}

Vector2d spot_at(const receiver::Receiver& r, double displacement) {
    const double z = -displacement;
    return {z * std::tan(r.emitter_angle), z};
}

// Both of a pair, or none.
std::optional<std::array<double, 2>> both(const std::optional<double>& a, const std::optional<double>& b) {
    if (!a || !b) return std::nullopt;
    return std::array<double, 2>{*a, *b};
}

std::optional<double> edge_image(const receiver::Receiver& r, const emitter::Beam& beam, const target::Part& part,
                                 double along, double side) {
    const emitter::BeamRay ray = emitter::ray_from_face(beam, along, {side, 0.0});
    const auto hit = target::meet(part, ray);
    if (!hit) return std::nullopt;
    const Vector3d edge = ray.origin + hit->distance * ray.direction;
    if (target::hides(part, edge, receiver::aperture_point(r, 0.0, 0.0))) return std::nullopt;
    return image_on_array(r, edge, 0.0);
}

// Where the part stops a ray that leaves it.
Vector2d stop_of(const target::Part& part, const Vector3d& from, const Vector3d& to) {
    constexpr double clear_of_own_place = 1e-7;
    const Vector3d direction = (to - from).normalized();
    const Vector3d start = from + clear_of_own_place * direction;
    const auto hit = target::meet(part, {start, direction});
    return in_plane(hit ? Vector3d(start + hit->distance * direction) : from);
}

std::optional<PartView> make_part(const scenario::Scenario& scenario, const receiver::Receiver& r) {
    const emitter::Beam beam = sensor::beam_of(scenario);
    const target::Part shape = sensor::part_of(scenario, scenario.target.displacement);
    const auto hit = target::meet(shape, {beam.face, beam.direction});
    // A part one more range away would shrink the sensor to a dot.
    const auto [near, far] = scenario.mount.range;
    const double farthest = scenario.mount.reference_distance + (far + (far - near)) / std::cos(r.emitter_angle);
    if (!hit || hit->distance > farthest) return std::nullopt;

    const Vector3d spot = beam.face + hit->distance * beam.direction;
    PartView part;
    part.spot = in_plane(spot);
    part.normal = in_plane(hit->normal).normalized();
    part.along = hit->distance;
    part.y = spot.y();
    part.sight = sight_of(shape, r, spot);
    if (!part.sight.hidden_at) part.image = image_on_array(r, spot, 0.0);
    part.image_edges =
        both(edge_image(r, beam, shape, hit->distance, -1.0), edge_image(r, beam, shape, hit->distance, 1.0));
    part.shape = shape;
    return part;
}

// The receiver looks through the front where its axis crosses it.
std::optional<HousingOutline> make_housing(const scenario::Scenario& scenario, const Mounting& m) {
    const auto corners = sensor::body_of(scenario);
    if (!corners) return std::nullopt;
    HousingOutline housing{*corners, {}, std::nullopt};
    const double front = (*corners)[0].y();
    const Vector2d on_receiver_axis = front / m.axis.y() * m.axis;
    const std::array centres{m.face, on_receiver_axis};
    const std::array widths{scenario.housing.window[0], scenario.housing.window[1]};
    for (std::size_t i = 0; i < centres.size(); ++i) {
        const Vector2d half(0.5 * widths[i], 0.0);
        housing.windows[i] = {centres[i] - half, centres[i] + half};
    }
    if (m.part) housing.approach = sensor::approach_of(scenario, scenario.target.displacement);
    return housing;
}

}  // namespace

Mounting make_mounting(const scenario::Scenario& scenario, const sensor::Layout& layout) {
    const receiver::Receiver& r = layout.receiver;
    Mounting m;
    m.beam_axis = from_normal(r.emitter_angle);
    m.face = scenario.mount.reference_distance * m.beam_axis;
    m.axis = from_normal(r.angle);
    m.outward = {std::cos(r.angle), -std::sin(r.angle)};
    m.lens = r.object_distance * m.axis;
    m.rims = {m.lens + r.aperture.half_in_plane * m.outward, m.lens - r.aperture.half_in_plane * m.outward};
    const std::array<double, 3> displacements{scenario.mount.range[0], 0.0, scenario.mount.range[1]};
    for (std::size_t i = 0; i < displacements.size(); ++i) {
        m.spots[i] = spot_at(r, displacements[i]);
        m.images[i] = on_array(r, layout.image_position[i]);
    }
    m.part = make_part(scenario, r);
    m.housing = make_housing(scenario, m);
    return m;
}

// `receiver` counts places in the aperture as transverse, which is opposite to outward.

Sight sight_of(const target::Part& part, const receiver::Receiver& r, const Vector3d& place) {
    constexpr int places = 128;
    Sight sight;
    bool goes_on = false;
    for (int i = 0; i <= places; ++i) {
        const double share = 2.0 * i / places - 1.0;
        const bool seen =
            !target::hides(part, place, receiver::aperture_point(r, -share * r.aperture.half_in_plane, 0.0));
        if (seen && !goes_on) sight.seen.push_back({share, share});
        if (seen) sight.seen.back()[1] = share;
        goes_on = seen;
    }
    const Vector3d centre = receiver::aperture_point(r, 0.0, 0.0);
    if (target::hides(part, place, centre)) sight.hidden_at = stop_of(part, place, centre);
    return sight;
}

std::optional<double> image_on_array(const receiver::Receiver& r, const Vector3d& place, double share) {
    const auto image = receiver::trace(r, receiver::to_receiver(r, place), -share * r.aperture.half_in_plane, 0.0);
    const double half_length = static_cast<double>(r.pixels) * r.pitch / 2.0;
    if (!image || std::abs(image->u) > half_length) return std::nullopt;
    return image->u;
}

Vector2d in_aperture(const Mounting& m, const receiver::Receiver& r, double share) {
    return m.lens + share * r.aperture.half_in_plane * m.outward;
}

Vector2d on_array(const receiver::Receiver& r, double u) {
    // As in `receiver::trace`: axial b + u sin(tilt) behind the lens, u cos(tilt) outward.
    const Vector2d axis = from_normal(r.angle);
    const Vector2d outward(std::cos(r.angle), -std::sin(r.angle));
    return (r.object_distance + r.image_distance + u * std::sin(r.detector_tilt)) * axis +
           u * std::cos(r.detector_tilt) * outward;
}

double drawn_tilt(const PartView& part) {
    return std::atan2(part.normal.x(), part.normal.y());
}

}  // namespace spotwright::drawing
