#include "sim/receiver/inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/random.hpp"
#include "sim/receiver/plate_ways.hpp"
#include "sim/receiver/receiver_axes.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"
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

// Share of the front face that no print covers at a place: light from inside leaves there, and is mirrored back there.
// A print is in contact with the plate and takes the light that comes to it from below; what it sends back into the
// plate is left out.
double bare_share(const LitScene& scene, const Vector3d& place) {
    return scene.part.markings ? target::share_at(*scene.part.markings, target::Zone::bare, place) : 1.0;
}

// Takes from mirrored light what a print stops: where it leaves, and where the front face sends it in again. With a
// mirroring backing the latter places depend on the order of the reflections, which one path stands for; they are put
// at equal distances.
void stop_at_print(const LitScene& scene, const PlatePath& path, const LitBatch& lit, CollectedBatch& collected) {
    if (!scene.part.markings) return;
    const target::Slab& slab = *scene.part.slab;
    const double index = plate_of(scene.surface).index;
    const Vector3d& normal = scene.tangent.normal;
    const ReceiverAxes axes{scene.receiver};
    for (std::size_t i = 0; i < collected.count; ++i) {
        if (collected.power[i] == 0.0) continue;
        const LitPoint point{axes.location_of(lit, i), axes.back(lit.to_light, i), normal, 0.0};
        const target::Inclination outside = incidence(point);
        const double shift = 2.0 * (path.plate_passes * slab.thickness * target::inside(outside, index).tangent() +
                                    path.gap_passes * slab.gap * outside.tangent());
        const Vector3d each = shift / path.plate_passes * along_face(point);
        for (int k = 1; k <= path.plate_passes; ++k) collected.power[i] *= bare_share(scene, point.position + k * each);
    }
}

// Light at the backing of a plate. Powers square to the plane of incidence and in it are told apart for as long as it
// is mirrored to and fro: near Brewster's angle nearly all that comes back is of one kind.
struct AtBacking {
    Vector3d place;
    Vector3d to_light;      // where it comes from, in air, unit
    target::Fresnel power;  // of both polarisations. [W]
    double path = 0.0;      // so far. [m]
    emitter::Polarisation polarisation;

    [[nodiscard]] double total() const { return power.s + power.p; }
};

target::Fresnel times(const target::Fresnel& power, const target::Fresnel& left) {
    return {power.s * left.s, power.p * left.p};
}

target::Fresnel times(const target::Fresnel& power, double left) {
    return {power.s * left, power.p * left};
}

// Tangent inside a plate over the sine in air: 1 / (n cos t'). The way back from the front face is this times the sine
// and the thickness.
double inside_tangent_per_sine(const target::Plate& plate, double cosine) {
    return 1.0 / std::sqrt(plate.index * plate.index - (1.0 - cosine * cosine));
}

// What the backing scatters out through a place of the aperture.
void add_backing(const LitScene& scene, const AtBacking& at_backing, const WayOut& way, const AperturePoint& through,
                 BatchWriter& writer) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    const target::Plate plate = plate_of(scene.surface);
    const target::Slab crossed = way.crossed(slab);
    const double deeper = crossed.thickness + crossed.gap - slab.thickness - slab.gap;
    const Vector3d place = at_backing.place - deeper * normal;
    const auto out = escape_to(scene.receiver, layers_before_backing(crossed, plate.index), place, normal, through);
    if (!out) return;
    const auto at =
        trace(scene.receiver, to_receiver(scene.receiver, out->exit), through.in_plane, through.out_of_plane);
    if (!at) return;
    const double cosine = out->way.outside.cosine;
    double bare = bare_share(scene, out->exit);
    const int inside = way.by_front + way.passage.returns;
    const Vector3d along = out->direction - cosine * normal;  // as long as the sine
    for (int k = 1; k <= inside; ++k)
        bare *=
            bare_share(scene, out->exit - 2.0 * k * slab.thickness * inside_tangent_per_sine(plate, cosine) * along);
    const double received =
        bare * at_backing.total() *
        target::scatter(*slab.backing, at_backing.to_light, out->direction, normal, at_backing.polarisation) * cosine *
        way.weight(slab, plate.index, cosine) * out->solid_angle * scene.receiver.transmission;
    double path = 0.0;
    if (scene.timed) {
        const Vector3d aperture = aperture_point(scene.receiver, through.in_plane, through.out_of_plane);
        const double behind_face = out->way.optical_path - (aperture - out->exit).norm();
        path = at_backing.path + behind_face + path_to_array(scene.receiver, out->exit, *at);
    }
    writer.add(*at, received, path);
}

// Light that leaves a backing upwards.
struct Upwards {
    Vector3d direction;
    target::Fresnel power;  // [W]
    emitter::Polarisation polarisation;
};

// Scattered by the backing, or mirrored by a polished one, drawn by their rough shares; none where nothing is left.
// Light that the backing only mirrors counts elsewhere where it leaves, but not where it comes back and is scattered.
std::optional<Upwards> from_backing(const target::Surface& backing, const AtBacking& light, const Vector3d& normal,
                                    base::RandomSequence& random) {
    double chance = 0.0;
    if (is_polished(backing)) {
        const double cosine = light.to_light.dot(normal);
        const target::Fresnel r = mirrored_by(backing, cosine);
        const target::Fresnel mirrored = times(light.power, r);
        const double share = (mirrored.s + mirrored.p) / light.total();
        chance = std::clamp(share / (share + target::scattered_share(backing, light.to_light, normal)), 0.1, 0.9);
        if (random.uniform() < chance)
            return Upwards{2.0 * cosine * normal - light.to_light, times(mirrored, 1.0 / chance),
                           target::mirrored(light.polarisation, r, light.to_light, normal)};
    }
    std::array<double, 3> uniform{};
    for (double& u : uniform) u = random.uniform();
    const auto sample = target::sample_flanks(backing, light.to_light, normal, uniform, light.polarisation);
    if (!sample) return std::nullopt;
    const double each = 0.5 * light.total() * sample->weight / (1.0 - chance);
    return Upwards{sample->direction, {each, each}, {}};
}

// Sends light that the backing scatters or mirrors back to it by the plate: by its back face, or by its front face as
// well. False when nothing is left.
bool return_by_plate(const LitScene& scene, AtBacking& light, base::RandomSequence& random) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    const auto up = from_backing(*slab.backing, light, normal, random);
    if (!up) return false;
    const double cosine = up->direction.dot(normal);
    const double index = scene.surface.gloss->index.real();
    const target::Fresnel face = target::fresnel({index, 0.0}, cosine);
    const SentDown down = sent_down(face);
    const target::Fresnel back_power = times(up->power, down.by_back);
    const target::Fresnel front_power = times(up->power, down.by_front);
    const double by_back = back_power.s + back_power.p;
    const double by_front = front_power.s + front_power.p;
    if (!(by_back + by_front > 0.0)) return false;
    const bool front = random.uniform() * (by_back + by_front) >= by_back;
    const Vector3d along = up->direction - cosine * normal;  // as long as the sine
    const double refracted = std::sqrt(index * index - (1.0 - cosine * cosine));
    const double once = 2.0 * slab.thickness / refracted;
    const double through_gap = 2.0 * slab.gap / std::max(cosine, 1e-9);
    light.power =
        front ? times(front_power, (by_back + by_front) / by_front) : times(back_power, (by_back + by_front) / by_back);
    double through_plate = 0.0;
    if (front) {
        // Of all that comes down by the front face, R^2 comes by as much more each time to and fro in the plate.
        const double again = 0.5 * (face.s * face.s + face.p * face.p);
        for (bool more = true; more;) {
            through_plate += once;
            const Vector3d at_front = light.place + (through_plate - 0.5 * once + 0.5 * through_gap) * along;
            light.power = times(light.power, bare_share(scene, at_front));
            more = random.uniform() < again;
            const auto share = [&](double r) { return more ? r * r / again : (1.0 - r * r) / (1.0 - again); };
            light.power = times(light.power, target::Fresnel{share(face.s), share(face.p)});
            if (!(light.total() > 0.0)) return false;
        }
    }
    light.place += (through_plate + through_gap) * along;
    light.path += through_plate * index * index + through_gap;
    light.to_light = cosine * normal - along;
    light.polarisation =
        target::mirrored(up->polarisation, front ? down.by_front : down.by_back, -up->direction, normal);
    return true;
}

// Faint light is not left out: far beside the backing's lobe it is all there is, for each return widens the lobe. Half
// of it goes on, twice as strong.
bool goes_on(AtBacking& light, base::RandomSequence& random) {
    if (random.uniform() < 0.5) return false;
    light.power = times(light.power, 2.0);
    return true;
}

LightSource light_behind(const LitScene& scene, std::int64_t rays, std::int64_t most_rays) {
    const SamplePlan plan{scene.beam.power, seen_window(scene, true), std::nullopt, true};
    const emitter::Polarisation light = polarisation_to_receiver(scene.receiver, scene.beam.polarisation);
    const auto follow = [&scene, plan, light](const Lattice& lattice, std::int64_t part, const CollectBatch& collect) {
        const std::vector<PlatePath> paths = mirrored_paths(*scene.part.slab);
        CollectedBatch collected;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        for_each_batch(scene, plan, lattice, part, [&](const SampleBatch& /*samples*/, const LitBatch& lit) {
            for (const PlatePath& path : paths) {
                plate_mirror_to_array(scene.surface, light, *scene.part.slab, path, scene.receiver, lit, collected);
                stop_at_print(scene, path, lit, collected);
                collect(collected);
            }
        });
    };
    return {rays, rays, most_rays, false, follow};
}

// A ray's light where it first comes to the backing.
AtBacking first_at_backing(const LitScene& scene, const Passage& passage, const SampleBatch& samples,
                           const emitter::BeamSection& section, std::size_t i) {
    const target::Slab& slab = *scene.part.slab;
    const Vector3d& normal = scene.tangent.normal;
    const emitter::BeamRay ray = emitter::ray_from_face(section, {samples.offset[i], samples.offset_out[i]},
                                                        {samples.spread[i], samples.spread_out[i]});
    AtBacking light;
    const auto hit = target::meet(scene.part, ray);
    if (!hit) return light;
    const target::Plate plate = plate_of(scene.surface);
    const Vector3d entry = ray.origin + hit->distance * ray.direction;
    double share = scene.part.markings ? target::weight_at(*scene.part.markings, scene.zone, entry) : 1.0;
    const LitPoint lit{entry, -ray.direction, normal, samples.power[i]};
    const emitter::Polarisation& polarisation = scene.beam.polarisation;
    const target::Inclination outside = incidence(lit);
    const target::Inclination within = target::inside(outside, plate.index);
    for (int k = 1; k <= passage.returns; ++k)
        share *= bare_share(scene, entry + 2.0 * k * slab.thickness * within.tangent() * along_face(lit));
    const double shift = passage.thickness(slab) * within.tangent() + slab.gap * outside.tangent();
    light.place = lit.position + shift * along_face(lit) - (slab.thickness + slab.gap) * normal;
    light.to_light = lit.to_light;
    const double s_share = target::s_share(polarisation, lit.to_light, normal);
    const double all = share * lit.power * target::mirror_share(*scene.surface.gloss, outside.cosine);
    light.power = times({all * s_share, all * (1.0 - s_share)}, passage.shares(plate.index, outside.cosine));
    light.polarisation = polarisation_behind(polarisation, plate, lit.to_light, normal);
    light.path = emitter::path_to(scene.beam, lit.position) + slab.gap / outside.cosine +
                 plate.index * passage.thickness(slab) / within.cosine;
    return light;
}

LightSource light_of_backing(const LitScene& scene, std::int64_t rays, std::int64_t most_rays) {
    const SamplePlan plan{scene.beam.power, seen_window(scene, false), scene.receiver.aperture, true};
    const double area = area_of(scene.receiver.aperture);
    const auto follow = [&scene, plan, area](const Lattice& lattice, std::int64_t part, const CollectBatch& collect) {
        const emitter::BeamSection section = emitter::section_at(scene.beam, scene.along);
        BatchWriter writer(collect);
        SampleBatch samples;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        const std::int64_t count = lattice.count / lattice_parts;
        for (std::int64_t first = 0; first < count; first += static_cast<std::int64_t>(batch_rays)) {
            draw_samples(plan, lattice, part, first, samples);
            for (std::size_t i = 0; i < samples.count; ++i) {
                const AperturePoint through{samples.in_plane[i], samples.through_out[i], area};
                base::RandomSequence random({0, base::Stream::ray},
                                            (first + static_cast<std::int64_t>(i)) * lattice_parts + part);
                AtBacking light = first_at_backing(scene, Passage::draw(random), samples, section, i);
                const WayOut back = WayOut::draw(*scene.part.slab->backing, random);
                const double least = 1e-3 * light.total();
                while (light.total() > 0.0) {
                    add_backing(scene, light, back, through, writer);
                    if (!return_by_plate(scene, light, random)) break;
                    if (light.total() < least && !goes_on(light, random)) break;
                }
            }
        }
        writer.flush();
    };
    return {rays, rays, most_rays, false, follow};
}

}  // namespace

std::optional<Escape> escape_to(const Receiver& receiver, std::span<const Layer> layers, const Vector3d& point,
                                const Vector3d& normal, const AperturePoint& through) {
    double depth = 0.0;
    for (const Layer& layer : layers) depth += layer.thickness;
    const Vector3d way = aperture_point(receiver, through.in_plane, through.out_of_plane) - point;
    const double height = way.dot(normal) - depth;
    if (height <= 0.0) return std::nullopt;
    Vector3d lateral = way - way.dot(normal) * normal;
    const double distance = lateral.norm();
    if (distance > 0.0) lateral /= distance;
    Escape out;
    out.way = target::exit_ray(layers, height, distance);
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

emitter::Polarisation polarisation_behind(const emitter::Polarisation& light, const target::Plate& plate,
                                          const Vector3d& to_light, const Vector3d& normal) {
    if (light.degree == 0.0) return light;
    return target::weakened(light, target::plate_passed(plate, to_light.dot(normal)), to_light, normal);
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

}  // namespace spotwright::receiver
