#include "sim/receiver/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
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

// Fills batches ray by ray and hands them on when they are full.
class BatchWriter {
public:
    BatchWriter(bool mirrored, const CollectBatch& collect) : collect_(collect) {
        batch_.count = 0;
        batch_.mirrored = mirrored;
    }

    void add(const ArrayPoint& at, double power, double path) {
        batch_.u[batch_.count] = at.u;
        batch_.v[batch_.count] = at.v;
        batch_.power[batch_.count] = power;
        batch_.path[batch_.count] = path;
        if (++batch_.count == batch_rays) flush();
    }

    void flush() {
        if (batch_.count > 0) collect_(batch_);
        batch_.count = 0;
    }

private:
    CollectedBatch batch_;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled ray by ray
    const CollectBatch& collect_;
};

// The ways of mirrored light behind the front face: by the plate's faces up to the first multiple, and by a mirroring
// backing, to and fro between it and the plate. On each return the back face sends light back to the backing, or the
// front face does; and wherever light passes the plate it may go to and fro in it once or twice more.
std::vector<PlatePath> mirrored_paths(const target::Slab& slab) {
    std::vector<PlatePath> paths;
    for (int order = 1; order <= 3; ++order) paths.push_back({1.0, 2, 2 * order - 1, 0, order, 0});
    if (!slab.backing || !slab.backing->gloss) return paths;
    constexpr int most_returns = 4;
    constexpr int most_inside = 2;
    for (int returns = 0; returns <= most_returns; ++returns) {
        double ways = 1.0;  // by_front of the returns: binomial coefficient
        for (int by_front = 0; by_front <= returns; ++by_front) {
            const int passages = 2 + by_front;
            double spread = 1.0;  // `inside` times to and fro, shared out over the passages
            for (int inside = 0; inside <= most_inside; ++inside) {
                paths.push_back({ways * spread, 4 + 2 * by_front, returns + 2 * inside, returns + 1,
                                 1 + by_front + inside, returns + 1});
                spread *= static_cast<double>(passages + inside) / (inside + 1);
            }
            ways *= static_cast<double>(returns - by_front) / (by_front + 1);
        }
    }
    return paths;
}

// Share that comes through the plate sooner or later, (1 - R) / (1 + R) for each polarisation. What goes to and fro
// inside it is counted where the light passes straight: it is less than a hundredth, and lands close by.
double passed_in_all(double index, double cosine) {
    const target::Fresnel r = target::fresnel({index, 0.0}, cosine);
    return 0.5 * ((1.0 - r.s) / (1.0 + r.s) + (1.0 - r.p) / (1.0 + r.p));
}

// Light at the backing of a plate.
struct AtBacking {
    Vector3d place;
    Vector3d to_light;   // where it comes from, in air, unit
    double power = 0.0;  // [W]
    double path = 0.0;   // so far. [m]
};

// What the backing sends straight back through a place of the aperture.
void add_backing(const LitScene& scene, const AtBacking& at_backing, const AperturePoint& through,
                 BatchWriter& writer) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    const target::Plate plate = plate_of(scene.surface);
    const auto out =
        escape_to(scene.receiver, layers_before_backing(slab, plate.index), at_backing.place, normal, through);
    if (!out) return;
    const auto at =
        trace(scene.receiver, to_receiver(scene.receiver, out->exit), through.in_plane, through.out_of_plane);
    if (!at) return;
    const double cosine = out->way.outside.cosine;
    const double received = at_backing.power *
                            target::scatter(*slab.backing, at_backing.to_light, out->direction, normal) * cosine *
                            passed_in_all(plate.index, cosine) * out->solid_angle * scene.receiver.transmission;
    writer.add(*at, received, at_backing.path + out->way.optical_path);
}

// Sends light that the backing scatters back to it by the plate, in a direction drawn at random: by the plate's back
// face, or by its front face as well. False when nothing is left.
bool return_by_plate(const LitScene& scene, AtBacking& light, base::RandomSequence& random) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    std::array<double, 3> uniform{};
    for (double& u : uniform) u = random.uniform();
    const auto sample = target::sample_scatter(*slab.backing, light.to_light, normal, uniform);
    if (!sample) return false;
    const double cosine = sample->direction.dot(normal);
    const double index = scene.surface.gloss->index.real();
    const target::Fresnel r = target::fresnel({index, 0.0}, cosine);
    const double by_back = r.unpolarised();
    // (1 - R)^2 R (1 + R^2 + ..), by the front face and what goes on inside the plate.
    const auto inner = [](double R) { return R < 1.0 ? (1.0 - R) * R / (1.0 + R) : 0.0; };
    const double by_front = 0.5 * (inner(r.s) + inner(r.p));
    const bool front = random.uniform() * (by_back + by_front) >= by_back;
    const Vector3d along = sample->direction - cosine * normal;  // as long as the sine
    const double refracted = std::sqrt(index * index - (1.0 - cosine * cosine));
    const double through_plate = front ? 2.0 * slab.thickness / refracted : 0.0;
    const double through_gap = 2.0 * slab.gap / std::max(cosine, 1e-9);
    light.place += (through_plate + through_gap) * along;
    light.path += through_plate * index * index + through_gap;
    light.to_light = cosine * normal - along;
    light.power *= sample->weight * (by_back + by_front);
    return true;
}

LightSource light_behind(const LitScene& scene, std::int64_t rays, std::int64_t most_rays) {
    const SamplePlan plan{scene.beam.power, {}, seen_window(scene, true), std::nullopt, true};
    const auto follow = [&scene, plan](const Lattice& lattice, std::int64_t part, const CollectBatch& collect) {
        const std::vector<PlatePath> paths = mirrored_paths(*scene.part.slab);
        CollectedBatch collected;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        for_each_batch(scene, plan, lattice, part, [&](const SampleBatch& /*samples*/, const LitBatch& lit) {
            for (const PlatePath& path : paths) {
                plate_mirror_to_array(scene.surface, *scene.part.slab, path, scene.receiver, lit, collected);
                collect(collected);
            }
        });
    };
    return {rays, most_rays, follow};
}

// A ray's light where it first comes to the backing.
AtBacking first_at_backing(const LitScene& scene, const SampleBatch& samples, const emitter::BeamSection& section,
                           std::size_t i) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    const emitter::BeamRay ray = emitter::ray_from_face(section, {samples.offset[i], samples.offset_out[i]},
                                                        {samples.spread[i], samples.spread_out[i]});
    AtBacking light;
    const auto hit = target::meet(scene.part, ray);
    if (!hit) return light;
    const target::Plate plate = plate_of(scene.surface);
    const LitPoint lit{ray.origin + hit->distance * ray.direction, -ray.direction, normal, samples.power[i]};
    const target::Inclination outside = incidence(lit);
    const target::Inclination within = target::inside(outside, plate.index);
    const double shift = slab.thickness * within.tangent() + slab.gap * outside.tangent();
    light.place = lit.position + shift * along_face(lit) - (slab.thickness + slab.gap) * normal;
    light.to_light = lit.to_light;
    light.power = lit.power * target::mirror_share(*scene.surface.gloss, outside.cosine) *
                  passed_in_all(plate.index, outside.cosine);
    light.path = emitter::travelled(scene.beam, lit.position) + slab.gap / outside.cosine +
                 plate.index * slab.thickness / within.cosine;
    return light;
}

LightSource light_of_backing(const LitScene& scene, std::int64_t rays, std::int64_t most_rays) {
    const SamplePlan plan{scene.beam.power, {}, seen_window(scene, false), scene.receiver.aperture, false};
    const double area = area_of(scene.receiver.aperture);
    const auto follow = [&scene, plan, area](const Lattice& lattice, std::int64_t part, const CollectBatch& collect) {
        const emitter::BeamSection section = emitter::section_at(scene.beam, scene.along);
        BatchWriter writer(false, collect);
        SampleBatch samples;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        const std::int64_t count = lattice.count / lattice_parts;
        for (std::int64_t first = 0; first < count; first += static_cast<std::int64_t>(batch_rays)) {
            draw_samples(plan, lattice, part, first, samples);
            for (std::size_t i = 0; i < samples.count; ++i) {
                const AperturePoint through{samples.in_plane[i], samples.through_out[i], area};
                AtBacking light = first_at_backing(scene, samples, section, i);
                const double least = 1e-3 * light.power;
                base::RandomSequence random({0, base::Stream::ray},
                                            (first + static_cast<std::int64_t>(i)) * lattice_parts + part);
                while (light.power > least) {
                    add_backing(scene, light, through, writer);
                    if (!return_by_plate(scene, light, random)) break;
                }
            }
        }
        writer.flush();
    };
    return {rays, most_rays, follow};
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

void add_plate_sources(const LitScene& scene, std::vector<LightSource>& sources) {
    constexpr std::int64_t thousand = 1024;
    constexpr std::int64_t most = 256 * thousand;
    sources.push_back(light_behind(scene, 8 * thousand, most));
    const auto& backing = scene.part.slab->backing;
    if (!backing) return;
    constexpr double negligible = 1e-6;
    const double matt = target::scattered_share(*backing, scene.part.normal(), scene.part.normal());
    if (matt > negligible) sources.push_back(light_of_backing(scene, (backing->gloss ? 16 : 4) * thousand, most));
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
                   const Receiver& receiver, const Collect& collect) {
    const std::vector<AperturePoint> aperture = aperture_points(receiver.aperture, {});
    const target::BeamSampling coarse{48, 12};
    gather_first_scatter(beam, target::strike(beam, part, coarse), surface, receiver, aperture, collect);
    // The glow is smooth on the scale of a mean free path, so few places of entry stand for the footprint.
    const std::vector<LitPoint> entries = target::strike(beam, part, {9, 9});
    if (!entries.empty()) gather_glow(beam, entries, surface, receiver, aperture, collect);
}

}  // namespace spotwright::receiver
