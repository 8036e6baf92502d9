#include "sim/receiver/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/sample.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector3d;
using target::Layer, target::LitPoint;

// Along the face, the way that light goes on inside: unit, or zero for light along the normal.
Vector3d along_face(const LitPoint& lit) {
    const Vector3d along = lit.to_light.dot(lit.normal) * lit.normal - lit.to_light;
    const double sine = along.norm();
    if (sine < 1e-12) return Vector3d::Zero();
    return along / sine;
}

target::Inclination incidence(const LitPoint& lit) {
    const double cosine = lit.to_light.dot(lit.normal);
    return {std::sqrt(std::max(0.0, 1.0 - cosine * cosine)), cosine};
}

// Collects a mirrored ray that leaves the front face in its turn.
// @param path  Up to there. [m]
void gather_ray(const Vector3d& from, const Vector3d& direction, double power, double path, const Receiver& receiver,
                const Collect& collect) {
    const auto through = passage(receiver, from, direction);
    if (!through) return;
    if (const auto at = trace(receiver, to_receiver(receiver, from), through->x(), through->y())) {
        collect({*at, power * receiver.transmission, path + path_to_lens(receiver, from), true});
    }
}

// Share that comes back from a mirroring backing, through the plate and out again.
double backing_mirror(const target::Plate& plate, const target::Surface& backing, double cosine) {
    if (!backing.gloss) return 0.0;
    const target::Fresnel passed = target::plate_passed(plate, cosine);
    const target::Fresnel metal = target::fresnel(backing.gloss->index, cosine);
    const target::Fresnel product{passed.s * passed.s * metal.s, passed.p * passed.p * metal.p};
    return product.unpolarised() * target::mirror_share(*backing.gloss, cosine);
}

// What the back face and a mirroring backing send back.
void gather_back_mirrors(const emitter::Beam& beam, const std::vector<LitPoint>& footprint, const target::Slab& slab,
                         const target::Surface& surface, const Receiver& receiver, const Collect& collect) {
    constexpr int orders = 2;  // back face and first multiple
    const target::Plate plate = plate_of(surface);
    for (const LitPoint& lit : footprint) {
        const target::Inclination outside = incidence(lit);
        const double step = 2.0 * slab.thickness * target::inside(outside, plate.index).tangent();
        const Vector3d along = along_face(lit);
        const Vector3d direction = target::mirrored(-lit.to_light, lit.normal);
        const double smooth = lit.power * target::mirror_share(*surface.gloss, outside.cosine);
        const double before = emitter::travelled(beam, lit.position);
        const double there_and_back = 2.0 * plate.index * slab.thickness / target::inside(outside, plate.index).cosine;
        for (int order = 1; order <= orders; ++order) {
            const double power = smooth * target::plate_reflection(plate, outside.cosine, order).unpolarised();
            gather_ray(lit.position + order * step * along, direction, power, before + order * there_and_back, receiver,
                       collect);
        }
        if (!slab.backing) continue;
        const double power = lit.power * backing_mirror(plate, *slab.backing, outside.cosine);
        const double shift = step + 2.0 * slab.gap * outside.tangent();
        const double path = before + there_and_back + 2.0 * slab.gap / outside.cosine;
        if (power > 0.0) gather_ray(lit.position + shift * along, direction, power, path, receiver, collect);
    }
}

// What a scattering backing sends back through the plate.
void gather_backing(const emitter::Beam& beam, const std::vector<LitPoint>& footprint, const target::Slab& slab,
                    const target::Surface& surface, const Receiver& receiver,
                    const std::vector<AperturePoint>& aperture, const Collect& collect) {
    const target::Plate plate = plate_of(surface);
    const std::array<Layer, 2> layers = layers_before_backing(slab, plate.index);
    for (const LitPoint& lit : footprint) {
        const target::Inclination outside = incidence(lit);
        const double shift =
            slab.thickness * target::inside(outside, plate.index).tangent() + slab.gap * outside.tangent();
        const Vector3d place = lit.position + shift * along_face(lit) - (slab.thickness + slab.gap) * lit.normal;
        const double power = lit.power * target::plate_passed(plate, outside.cosine).unpolarised();
        const double before = emitter::travelled(beam, lit.position) + slab.gap / outside.cosine +
                              plate.index * slab.thickness / target::inside(outside, plate.index).cosine;
        const auto axis = escape_to(receiver, layers, place, lit.normal, {0.0, 0.0, 0.0});
        if (!axis) continue;
        const double path = before + axis->way.optical_path;
        for (const AperturePoint& through : aperture) {
            const auto out = escape_to(receiver, layers, place, lit.normal, through);
            if (!out) continue;
            const auto at = trace(receiver, to_receiver(receiver, out->exit), through.in_plane, through.out_of_plane);
            if (!at) continue;
            const double cosine = out->way.outside.cosine;
            const double received = power * target::scatter(*slab.backing, lit.to_light, out->direction, lit.normal) *
                                    cosine * target::plate_passed(plate, cosine).unpolarised() * out->solid_angle *
                                    receiver.transmission;
            collect({*at, received, path, false});
        }
    }
}

}  // namespace

std::optional<Escape> escape_to(const Receiver& receiver, std::span<const Layer> layers, const Vector3d& point,
                                const Vector3d& normal, const AperturePoint& through) {
    double depth = 0.0;
    for (const Layer& layer : layers) depth += layer.thickness;
    const Vector3d way = aperture_place(receiver, through.in_plane, through.out_of_plane) - point;
    const double height = way.dot(normal) - depth;
    if (height <= 0.0) return std::nullopt;
    Vector3d lateral = way - way.dot(normal) * normal;
    const double distance = lateral.norm();
    if (distance > 0.0) lateral /= distance;
    Escape out;
    out.way = target::way_out(layers, height, distance);
    out.exit = point + depth * normal + out.way.exit * lateral;
    out.direction = out.way.outside.cosine * normal + out.way.outside.sine * lateral;
    const double cos_lens = direction_to_receiver(receiver, out.direction).x();
    if (cos_lens <= 0.0) return std::nullopt;
    out.solid_angle = out.way.solid_angle_per_area * through.area * cos_lens;
    return out;
}

std::array<Layer, 2> layers_before_backing(const target::Slab& slab, double index) {
    return {Layer{slab.gap, 1.0}, Layer{slab.thickness, index}};
}

target::Plate plate_of(const target::Surface& surface) {
    return {surface.gloss->index.real(), {1.0, 0.0}};
}

void gather_plate(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                  const Receiver& receiver, const Sampling& sampling, const Collect& collect) {
    gather_back_mirrors(beam, target::strike(beam, part, sampling.mirrored_beam), *part.slab, surface, receiver,
                        collect);
    if (!part.slab->backing) return;
    const double matt = target::scattered_share(*part.slab->backing, part.normal(), part.normal());
    constexpr double least = 0.005;  // as for the haze of a part's own face
    if (matt < least) return;
    gather_backing(beam, target::strike(beam, part, sampling.beam), *part.slab, surface, receiver,
                   aperture_points(receiver.aperture, sampling.aperture), collect);
}

}  // namespace spotwright::receiver
