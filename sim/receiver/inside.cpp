#include "sim/receiver/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/sample.hpp"
#include "sim/target/subsurface.hpp"

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

namespace {

// First scatter: places along the refracted beam, each the middle of an equal share of exp(-2 sigma_t' length), which
// is how depth counts for light that goes straight in and comes straight out.
void gather_first_scatter(const emitter::Beam& beam, const std::vector<LitPoint>& footprint,
                          const target::Surface& surface, const Receiver& receiver,
                          const std::vector<AperturePoint>& aperture, const Collect& collect) {
    const target::Volume& volume = *surface.volume;
    const double fade = 2.0 * target::extinction(volume);
    constexpr int depths = 24;
    for (const LitPoint& lit : footprint) {
        const auto inward = target::refract(-lit.to_light, lit.normal, volume.index);
        if (!inward) continue;
        const double entered = 1.0 - target::fresnel({volume.index, 0.0}, lit.to_light.dot(lit.normal)).unpolarised();
        for (int i = 0; i < depths; ++i) {
            const double left = 1.0 - (i + 0.5) / depths;
            const double length = -std::log(left) / fade;
            const double stretch = 1.0 / (depths * fade * left);
            const Vector3d place = lit.position + length * *inward;
            const double depth = -length * inward->dot(lit.normal);
            const std::array<Layer, 1> layer{Layer{depth, volume.index}};
            const double power = lit.power * entered * target::first_scatter(volume, length) * stretch;
            const auto axis = escape_to(receiver, layer, place, lit.normal, {0.0, 0.0, 0.0});
            if (!axis) continue;
            const double path = emitter::travelled(beam, lit.position) + volume.index * length + axis->way.optical_path;
            for (const AperturePoint& through : aperture) {
                const auto out = escape_to(receiver, layer, place, lit.normal, through);
                if (!out) continue;
                const auto at =
                    trace(receiver, to_receiver(receiver, out->exit), through.in_plane, through.out_of_plane);
                if (!at) continue;
                const double received = power / (4.0 * base::pi) *
                                        target::escape(volume, depth, out->way.outside.cosine) * out->solid_angle *
                                        receiver.transmission;
                collect({*at, received, path, false});
            }
        }
    }
}

// The strip of the face that the row of pixels sees, as a grid.
struct Strip {
    Vector3d middle = Vector3d::Zero();  // [m]
    Vector3d along = Vector3d::UnitX();  // unit, in the plane of the mounting
    Vector3d across = Vector3d::UnitY();
    double half_length = 0.0;  // [m]
    double half_height = 0.0;
    int columns = 0;
    int rows = 0;
};

// From the entry outwards to where the array ends on either side, by the slopes of the image about the entry; nodes
// lie about a pixel apart, and diffraction widens what the row of pixels sees a little.
// @param reach  How far from the entry the glow goes; a detector of one pixel sees all of it as one. [m]
std::optional<Strip> seen_strip(const Receiver& receiver, const LitPoint& entry, double wavelength, double reach) {
    Strip strip;
    strip.middle = entry.position;
    strip.along = Vector3d::UnitY().cross(entry.normal).normalized();
    strip.across = entry.normal.cross(strip.along);
    const auto image = [&](const Vector3d& place) { return trace(receiver, to_receiver(receiver, place), 0.0, 0.0); };
    constexpr double step = 1e-6;
    const auto centre = image(strip.middle);
    const auto beside = image(strip.middle + step * strip.along);
    const auto above = image(strip.middle + step * strip.across);
    if (!centre || !beside || !above) return std::nullopt;
    const double scale_along = std::abs(beside->u - centre->u) / step;
    const double scale_across = std::abs(above->v - centre->v) / step;
    if (scale_along <= 0.0 || scale_across <= 0.0) return std::nullopt;
    const double half_array = 0.5 * static_cast<double>(receiver.pixels) * receiver.pitch;
    const double blur = 8.0 * diffraction_scale(receiver, wavelength, centre->u).across;
    strip.half_length = (half_array + std::abs(centre->u)) / scale_along;
    strip.half_height = (0.5 * receiver.height + std::abs(centre->v) + blur) / scale_across;
    if (receiver.pixels == 1) {
        strip.half_length = std::min(strip.half_length, reach);
        strip.half_height = std::min(strip.half_height, reach);
        strip.columns = strip.rows = 64;
        return strip;
    }
    constexpr double most_columns = 4096.0;
    strip.columns = static_cast<int>(std::min(2.0 * static_cast<double>(receiver.pixels), most_columns));
    strip.rows = 16;
    return strip;
}

// Mean optical path of the light that glows: the phase by which a small difference of wavenumbers turns it.
double mean_glow_path(const target::Volume& volume) {
    const double small = 1e-4 * target::extinction(volume) / volume.index;
    return std::arg(target::path_transform(volume, small)) / small;
}

// Exitance of the glow of a footprint over a place on the face, sent out as the face lets it: L = M (1 - R) / (pi (1 -
// R_diffuse)).
void gather_glow(const emitter::Beam& beam, const std::vector<LitPoint>& footprint, const target::Surface& surface,
                 const Receiver& receiver, const std::vector<AperturePoint>& aperture, const Collect& collect) {
    const target::Volume& volume = *surface.volume;
    const target::Dipole dipole = target::make_dipole(volume);
    const LitPoint& middle = footprint[footprint.size() / 2];
    double reach = 10.0 / std::max(dipole.attenuation, 0.1 * target::extinction(volume));
    for (const LitPoint& lit : footprint) reach = std::max(reach, 2.0 * (lit.position - middle.position).norm());
    const auto strip = seen_strip(receiver, middle, beam.wavelength, reach);
    if (!strip) return;
    const double cosine = middle.to_light.dot(middle.normal);
    const double entered = 1.0 - target::fresnel({volume.index, 0.0}, cosine).unpolarised();
    const double share = entered * target::glow_share(volume, cosine);
    const Vector3d shift = target::glow_shift(volume, cosine) * along_face(middle);
    const double cell = 4.0 * strip->half_length * strip->half_height / (strip->columns * strip->rows);
    double all = 0.0;
    for (const LitPoint& lit : footprint) all += lit.power;
    const double before = emitter::travelled(beam, middle.position) + mean_glow_path(volume);
    double sent = 0.0;
    double seen = 0.0;
    for (int i = 0; i < strip->columns; ++i) {
        for (int k = 0; k < strip->rows; ++k) {
            const Vector3d place = strip->middle +
                                   strip->half_length * (2.0 * (i + 0.5) / strip->columns - 1.0) * strip->along +
                                   strip->half_height * (2.0 * (k + 0.5) / strip->rows - 1.0) * strip->across;
            double exitance = 0.0;
            for (const LitPoint& lit : footprint) {
                exitance += lit.power * target::glow(dipole, (place - lit.position - shift).norm());
            }
            const double power = share * exitance * cell;
            sent += power;
            const double path = before + path_to_lens(receiver, place);
            for (const AperturePoint& through : aperture) {
                const Vector3d way = aperture_place(receiver, through.in_plane, through.out_of_plane) - place;
                const double distance = way.norm();
                const double cos_view = middle.normal.dot(way) / distance;
                const double cos_lens = direction_to_receiver(receiver, way).x() / distance;
                if (cos_view <= 0.0 || cos_lens <= 0.0) continue;
                const auto at = trace(receiver, to_receiver(receiver, place), through.in_plane, through.out_of_plane);
                if (!at) continue;
                const double passed = 1.0 - target::fresnel({volume.index, 0.0}, cos_view).unpolarised();
                const double received = power * surface.coupling * passed / base::pi * cos_view * through.area *
                                        cos_lens / (distance * distance) * receiver.transmission;
                collect({*at, received, path, false});
                seen += received;
            }
        }
    }
    const double total = share * all * target::total_reflectance(dipole);
    // What glows beside the strip is seen through the aperture like the rest, and by no pixel.
    if (sent > 0.0 && total > sent) collect({beside_the_array, seen * (total / sent - 1.0), before, false});
}

}  // namespace

void gather_volume(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, const Sampling& sampling, const Collect& collect) {
    const std::vector<AperturePoint> aperture = aperture_points(receiver.aperture, sampling.aperture);
    target::BeamSampling coarse = sampling.beam;
    coarse.out_of_plane = std::min(coarse.out_of_plane, 12);
    gather_first_scatter(beam, target::strike(beam, part, coarse), surface, receiver, aperture, collect);
    // The glow is smooth on the scale of a mean free path, so few places of entry stand for the footprint.
    const std::vector<LitPoint> entries = target::strike(beam, part, {9, 9});
    if (!entries.empty()) gather_glow(beam, entries, surface, receiver, aperture, collect);
}

}  // namespace spotwright::receiver
