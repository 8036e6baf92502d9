#include "sim/receiver/sources.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/receiver/inside.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/receiver_axes.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector3d;

void put(const Vector3d& value, Lanes3& to, std::size_t i) {
    to.axial[i] = value.x();
    to.transverse[i] = value.y();
    to.out_of_plane[i] = value.z();
}

// Where rays left the part.
void tell_places(const LitScene& scene, const LitBatch& lit, CollectedBatch& collected) {
    const ReceiverAxes axes{scene.receiver};
    for (std::size_t i = 0; i < collected.count; ++i) collected.across[i] = scene.across->dot(axes.location_of(lit, i));
}

// Takes out the light that the part itself hides from the receiver.
void hide(const LitScene& scene, const LitBatch& lit, CollectedBatch& collected) {
    if (has_shape_kernel(scene.part.shape)) {
        hide_by_shape(scene.part, scene.receiver, lit, collected);
        return;
    }
    const ReceiverAxes axes{scene.receiver};
    for (std::size_t i = 0; i < collected.count; ++i) {
        if (collected.power[i] == 0.0) continue;
        const Vector3d to = aperture_point(scene.receiver, collected.in_plane[i], collected.out_of_plane[i]);
        if (target::hides(scene.part, axes.location_of(lit, i), to)) collected.power[i] = 0.0;
    }
}

// Whether the beam's width changes over the depth that its spot on the part takes. On a flat matt part without that the
// light that is scattered does not show where it came from.
bool widens(const LitScene& scene) {
    if (!std::holds_alternative<target::Flat>(scene.part.shape)) return true;
    const Vector3d& normal = scene.tangent.normal;
    const double approach = std::max(-normal.dot(scene.beam.direction), 1e-3);
    double depth = 0.0;
    double shortest = std::numeric_limits<double>::infinity();
    for (int axis = 0; axis < 2; ++axis) {
        const double slant = std::abs(normal.dot(scene.beam.axes[static_cast<std::size_t>(axis)])) / approach;
        depth += 2.0 * slant * emitter::radius_at(scene.beam, axis, scene.along);
        shortest = std::min(shortest, emitter::rayleigh_length(scene.beam, axis));
    }
    constexpr double little = 0.02;
    return depth > little * shortest;
}

// Whether the angles at which rays come through one place show in the light that is scattered to the lens, as on the
// flank of a narrow lobe: by the mean of rays one standard deviation to either side.
bool shows_angles(const LitScene& scene) {
    if (!scene.surface.gloss) return false;
    constexpr double little = 3e-4;  // of the light; the image promises 1e-3
    const Receiver& r = scene.receiver;
    const Vector3d& normal = scene.tangent.normal;
    const emitter::BeamSection section = emitter::section_at(scene.beam, scene.along);
    const auto scattered = [&](const Vector3d& to_light, const Vector3d& to_view) {
        return target::scatter(scene.surface, to_light.normalized(), to_view, normal, scene.beam.polarisation);
    };
    const std::array<std::array<double, 2>, 5> places{{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}}};
    std::array<double, 5> straight{};
    std::array<double, 5> changes{};
    for (std::size_t i = 0; i < places.size(); ++i) {
        const Vector3d through =
            aperture_point(r, places[i][0] * r.aperture.half_in_plane, places[i][1] * r.aperture.half_out_of_plane);
        const Vector3d to_view = (through - scene.tangent.place).normalized();
        straight[i] = scattered(-scene.beam.direction, to_view);
        for (const Vector3d& radius : section.angular_radius) {
            const Vector3d turn = 0.5 * radius;
            const double mean = 0.5 * (scattered(turn - scene.beam.direction, to_view) +
                                       scattered(-turn - scene.beam.direction, to_view));
            changes[i] += std::abs(mean - straight[i]);
        }
    }
    const double brightest = *std::max_element(straight.begin(), straight.end());
    return *std::max_element(changes.begin(), changes.end()) > little * brightest;
}

// Whether scattered light asks for rays that spread about the stream lines.
bool spreads(const LitScene& scene) {
    return widens(scene) || shows_angles(scene);
}

// How many rays a source is followed with.
struct RayNumbers {
    std::int64_t first = 0;
    std::int64_t suitable = 0;
    std::int64_t most = 0;
};

// Draws places of the aperture anew where light from the lit places comes to a low row out of focus, so that most rays
// come to it; their weights go to the light that falls on the part.
void aim_at_row(const Receiver& receiver, double across_scale, SampleBatch& samples, LitBatch& lit) {
    for (std::size_t i = 0; i < lit.count; ++i) {
        if (lit.power[i] == 0.0) continue;
        const RowAperture row(receiver, {lit.place.axial[i], lit.place.transverse[i], lit.place.out_of_plane[i]},
                              across_scale);
        const Weighed place = row.redraw(samples.in_plane[i], samples.through_out[i]);
        samples.through_out[i] = place.value;
        lit.power[i] *= place.weight;
    }
}

// The scale across the array with which places of the aperture are to be drawn anew; none where the row is high enough
// to see the light of all of them.
std::optional<double> aimed_scale(const LitScene& scene) {
    const Receiver& r = scene.receiver;
    const ReceiverPoint from = to_receiver(r, scene.tangent.place);
    const auto at = trace(r, from, 0.0, 0.0);
    if (!at) return std::nullopt;
    const double scale = diffraction_scale(r, scene.beam.wavelength, at->u).across;
    return RowAperture(r, from, scale).sees_strip() ? std::optional(scale) : std::nullopt;
}

LightSource scattered_light(const LitScene& scene, const RayNumbers& rays, bool cut) {
    const SamplePlan plan{scene.beam.power, seen_window(scene, false), scene.receiver.aperture, spreads(scene)};
    target::Surface turned = scene.surface;
    turned.lay = direction_to_receiver(scene.receiver, scene.surface.lay);
    const emitter::Polarisation light = polarisation_to_receiver(scene.receiver, scene.beam.polarisation);
    const bool may_hide = target::hides_itself(scene.part.shape);
    const std::optional<double> aimed = aimed_scale(scene);
    const auto follow = [&scene, plan, turned, light, may_hide, aimed](const Lattice& lattice, std::int64_t part,
                                                                       const CollectBatch& collect) {
        CollectedBatch collected;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        for_each_batch(scene, plan, lattice, part, [&](SampleBatch& samples, LitBatch& lit) {
            if (aimed) aim_at_row(scene.receiver, *aimed, samples, lit);
            scatter_to_array(turned, light, scene.receiver, lit, samples, collected);
            if (may_hide) hide(scene, lit, collected);
            if (scene.across) tell_places(scene, lit, collected);
            collect(collected);
        });
    };
    return {rays.first, rays.suitable, rays.most, cut, follow};
}

LightSource mirrored_light(const LitScene& scene, const RayNumbers& rays, bool cut) {
    const SamplePlan plan{scene.beam.power, seen_window(scene, true), std::nullopt, true};
    const emitter::Polarisation light = polarisation_to_receiver(scene.receiver, scene.beam.polarisation);
    const bool may_hide = target::hides_itself(scene.part.shape);
    const auto follow = [&scene, plan, light, may_hide](const Lattice& lattice, std::int64_t part,
                                                        const CollectBatch& collect) {
        CollectedBatch collected;  // NOLINT(cppcoreguidelines-pro-type-member-init): filled batch by batch
        for_each_batch(scene, plan, lattice, part, [&](const SampleBatch& /*samples*/, const LitBatch& lit) {
            mirror_to_array(scene.surface, light, scene.receiver, lit, collected);
            if (may_hide) hide(scene, lit, collected);
            if (scene.across) tell_places(scene, lit, collected);
            collect(collected);
        });
    };
    return {rays.first, rays.suitable, rays.most, cut, follow};
}

// Rays that the image asks for so that each pixel by itself is right, and not the light of all of them alone: by the
// pixels that the spot takes, about four standard deviations, and by those that it is out of focus, where two
// coordinates of a ray decide where it lands.
double rays_for_pixels(const LitScene& scene) {
    constexpr double per_pixel = 256.0;
    constexpr double per_blurred_pixel = 1024.0;
    const Receiver& r = scene.receiver;
    const auto place = [&](double offset, double in_plane) -> std::optional<double> {
        const emitter::BeamRay ray = emitter::ray_at(scene.beam, scene.along, {offset, 0.0});
        const double fall = -scene.tangent.normal.dot(ray.direction);
        if (fall <= 0.0) return std::nullopt;
        const double onward = scene.tangent.normal.dot(ray.origin - scene.tangent.place) / fall;
        const auto at = trace(r, to_receiver(r, ray.origin + onward * ray.direction), in_plane, 0.0);
        if (!at) return std::nullopt;
        return at->u / r.pitch;
    };
    const auto middle = place(0.0, 0.0);
    const auto beside = place(0.25, 0.0);
    const auto rim = place(0.0, r.aperture.half_in_plane);
    const auto other_rim = place(0.0, -r.aperture.half_in_plane);
    if (!middle || !beside || !rim || !other_rim) return 0.0;
    const auto most = static_cast<double>(r.pixels);
    return per_pixel * std::min(8.0 * std::abs(*beside - *middle), most) +
           per_blurred_pixel * std::min(std::abs(*rim - *other_rim), most);
}

// Parts of the light too small to matter beside the rest of it.
constexpr double negligible = 1e-6;

bool mirrors(const LitScene& scene) {
    // A curved part meets the beam under many angles; the mirror part is largest for grazing light.
    if (!scene.surface.gloss) return false;
    const bool flat = std::holds_alternative<target::Flat>(scene.part.shape) && !scene.part.markings;
    const double cosine = flat ? scene.tangent.normal.dot(-scene.beam.direction) : 0.0;
    return target::mirror_share(*scene.surface.gloss, cosine) > negligible;
}

bool scatters(const target::Surface& surface) {
    return !surface.gloss || surface.reflectance > 0.0 || 1.0 - target::mirror_share(*surface.gloss, 1.0) > negligible;
}

}  // namespace

emitter::Polarisation polarisation_to_receiver(const Receiver& receiver, const emitter::Polarisation& light) {
    return {light.degree, direction_to_receiver(receiver, light.direction)};
}

namespace {

// A lit place of a part beside which the beam's axis passes: of the ray of the beam nearest to the axis that meets it.
std::optional<FlatTarget> lit_beside_axis(const emitter::Beam& beam, const target::Part& part) {
    if (std::holds_alternative<target::Flat>(part.shape)) return std::nullopt;
    constexpr double reach = 3.0;  // as far as rays are drawn
    constexpr int rings = 30;
    constexpr int azimuths = 24;
    const double along = beam.face.norm();  // where the reference point is
    for (int ring = 1; ring <= rings; ++ring) {
        const double radius = reach * ring / rings;
        for (int k = 0; k < azimuths; ++k) {
            const double azimuth = 2.0 * base::pi * k / azimuths;
            // From the face: the part may stand before the reference point.
            const emitter::BeamRay ray =
                emitter::ray_from_face(beam, along, {radius * std::cos(azimuth), radius * std::sin(azimuth)});
            const auto hit = target::meet(part, ray);
            if (hit) return FlatTarget{ray.origin + hit->distance * ray.direction, hit->normal};
        }
    }
    return std::nullopt;
}

}  // namespace

std::optional<LitScene> LitScene::of(const emitter::Beam& beam, const target::Part& part,
                                     const target::Surface& surface, const Receiver& receiver) {
    LitScene scene{beam, part, surface, receiver, 0.0, {}, target::Zone::bare, std::nullopt, false};
    if (const auto hit = target::meet(part, {beam.face, beam.direction})) {
        scene.along = hit->distance;
        scene.tangent = {beam.face + hit->distance * beam.direction, hit->normal};
        return scene;
    }
    const auto beside = lit_beside_axis(beam, part);
    if (!beside) return std::nullopt;
    scene.along = (beside->place - beam.face).dot(beam.direction);
    scene.tangent = *beside;
    return scene;
}

std::vector<LitScene> scenes_of_zones(const LitScene& scene) {
    std::vector<LitScene> scenes{scene};
    if (!scene.part.markings || !scene.part.markings->cover || !scene.part.markings->cover->surface) return scenes;
    LitScene& covered = scenes.emplace_back(scene);
    covered.zone = target::Zone::covered;
    covered.surface = *scene.part.markings->cover->surface;
    covered.part.slab.reset();  // what covers a plate lets no light through
    return scenes;
}

Illumination::Illumination(const LitScene& scene)
    : scene_(&scene), flat_(std::holds_alternative<target::Flat>(scene.part.shape)) {}

void Illumination::light(const SampleBatch& samples, LitBatch& lit) const {
    lit.timed = scene_->timed;
    light_smooth(samples, lit);
    if (scene_->part.markings) mark(lit);
}

// Leaves of each ray what falls on the scene's zone, and puts it on the feed marks.
void Illumination::mark(LitBatch& lit) const {
    const target::Markings& markings = *scene_->part.markings;
    const ReceiverAxes axes{scene_->receiver};
    for (std::size_t i = 0; i < lit.count; ++i) {
        if (lit.power[i] == 0.0) continue;
        const Vector3d place = axes.location_of(lit, i);
        lit.power[i] *= target::weight_at(markings, scene_->zone, place);
        if (!markings.feed_marks || lit.power[i] == 0.0) continue;
        const target::GroovedPlace grooved =
            target::on_feed_marks(markings, place, axes.back(lit.to_light, i), axes.back(lit.normal, i));
        put(axes.place(grooved.place), lit.place, i);
        put(axes.direction(grooved.normal), lit.normal, i);
        if (lit.timed) lit.travelled[i] = emitter::path_to(scene_->beam, grooved.place);
    }
}

void Illumination::light_smooth(const SampleBatch& samples, LitBatch& lit) const {
    const LitScene& s = *scene_;
    if (flat_) {
        light_flat(s.beam, s.along, s.tangent, s.receiver, samples, lit);
        return;
    }
    if (has_shape_kernel(s.part.shape)) {
        light_shape(s.beam, s.along, s.part, s.receiver, samples, lit);
        return;
    }
    const ReceiverAxes axes{s.receiver};
    const emitter::BeamSection section = emitter::section_at(s.beam, s.along);
    lit.count = samples.count;
    for (std::size_t i = 0; i < samples.count; ++i) {
        const emitter::BeamRay ray = emitter::ray_from_face(section, {samples.offset[i], samples.offset_out[i]},
                                                            {samples.spread[i], samples.spread_out[i]});
        const auto hit = target::meet(s.part, ray);
        lit.power[i] = hit ? samples.power[i] : 0.0;
        const Vector3d place = ray.origin + (hit ? hit->distance : s.along) * ray.direction;
        put(axes.place(place), lit.place, i);
        put(axes.direction(-ray.direction), lit.to_light, i);
        put(axes.direction(hit ? hit->normal : Vector3d(-ray.direction)), lit.normal, i);
        if (lit.timed) lit.travelled[i] = emitter::path_to(s.beam, place);
    }
}

namespace {

// Places across the array of rays of the beam by the tangent plane; a ray is told by its offsets, its spreads and the
// place in the aperture, in that order.
class AcrossArray {
public:
    AcrossArray(const LitScene& scene, bool mirrored) : scene_(scene), mirrored_(mirrored) {}

    [[nodiscard]] std::optional<double> operator()(double offset, double offset_out, double third,
                                                   double fourth) const {
        const Receiver& r = scene_.receiver;
        const std::array<double, 2> spread = mirrored_ ? std::array{third, fourth} : std::array{0.0, 0.0};
        const emitter::BeamRay ray = emitter::ray_at(scene_.beam, scene_.along, {offset, offset_out}, spread);
        const Vector3d& normal = scene_.tangent.normal;
        const double fall = -normal.dot(ray.direction);
        if (fall <= 0.0) return std::nullopt;
        const Vector3d place = ray.origin + normal.dot(ray.origin - scene_.tangent.place) / fall * ray.direction;
        const ReceiverPoint from = to_receiver(r, place);
        Eigen::Vector2d through(third * r.aperture.half_in_plane, fourth * r.aperture.half_out_of_plane);
        if (mirrored_) {
            const Vector3d way = direction_to_receiver(r, target::mirrored(ray.direction, normal));
            if (way.x() <= 0.0) return std::nullopt;
            const double length = from.axial / way.x();
            through = {from.transverse + way.y() * length, from.out_of_plane + way.z() * length};
        }
        const auto at = trace(r, from, through.x(), through.y());
        if (!at) return std::nullopt;
        return at->v;
    }

private:
    const LitScene& scene_;
    bool mirrored_;
};

}  // namespace

BeamWindow seen_window(const LitScene& scene, bool mirrored) {
    const Receiver& r = scene.receiver;
    const AcrossArray across(scene, mirrored);
    const ReceiverPoint from = to_receiver(r, scene.tangent.place);
    const auto at = trace(r, from, 0.0, 0.0);
    const auto middle = across(0.0, 0.0, 0.0, 0.0);
    const auto beside = across(0.0, 0.25, 0.0, 0.0);
    if (!at || !middle || !beside || *beside == *middle) return {};
    const double per_offset = 4.0 * (*beside - *middle);
    // How far the other coordinates move the image of the middle of the strip.
    const double centre = std::clamp(-*middle / per_offset, -target::beam_reach, target::beam_reach);
    double moved = 0.0;
    for (const double side : {-1.0, 1.0}) {
        const std::array<std::array<double, 3>, 4> corners{
            {{1.5 * side, 0.0, 0.0}, {0.0, side, 0.0}, {0.0, 0.0, side}, {1.5 * side, 0.0, side}}};
        for (const auto& corner : corners) {
            const auto v = across(corner[0], centre, corner[1], corner[2]);
            if (!v) return {};
            moved = std::max(moved, std::abs(*v - (*middle + per_offset * centre)));
        }
    }
    const double blur = diffraction_scale(r, scene.beam.wavelength, at->u).across;
    constexpr double blurs = 3.0;
    const double half = (0.5 * r.height + blurs * blur + moved) / std::abs(per_offset);
    constexpr double worth_it = 0.5 * target::beam_reach;
    if (!(half < worth_it)) return {};
    const double middle_of_strip = -*middle / per_offset;
    const auto within = [](double offset) { return std::clamp(offset, -target::beam_reach, target::beam_reach); };
    return {within(middle_of_strip - half), within(middle_of_strip + half),
            std::max(half, 4.0 * blur / std::abs(per_offset))};
}

std::vector<LightSource> light_sources(const LitScene& scene) {
    // Borders and glints cut the light as edges do.
    const bool flat = std::holds_alternative<target::Flat>(scene.part.shape) && !scene.part.markings;
    constexpr std::int64_t thousand = 1024;
    const std::int64_t most = 512 * thousand;
    const auto most_for_pixels = static_cast<double>((flat ? 256 : 128) * thousand);
    const auto for_pixels = static_cast<std::int64_t>(std::min(rays_for_pixels(scene), most_for_pixels));
    // Light that is cut begins with a quarter of the rays that suit it, and half of those that its pixels ask for: a
    // lattice of twice as many must confirm it anyway, and often both agree well within the tolerance.
    const auto rays_of = [&](std::int64_t rays, bool cut) {
        const std::int64_t suitable = std::max(rays, for_pixels);
        return RayNumbers{cut ? std::max(suitable / 4, for_pixels / 2) : suitable, suitable, most};
    };
    std::vector<LightSource> sources;
    if (mirrors(scene)) sources.push_back(mirrored_light(scene, rays_of(16 * thousand, !flat), !flat));
    if (scatters(scene.surface)) {
        // The haze of a mirror is too weak to need more.
        constexpr double weak = 0.02;
        const bool hazy = !sources.empty() && scene.surface.reflectance <= 0.0 &&
                          1.0 - target::mirror_share(*scene.surface.gloss, 1.0) < weak;
        const std::int64_t rays = (!scene.surface.gloss || hazy ? 4 : 32) * thousand;
        const bool cut = !flat || (scene.surface.gloss && !hazy);
        const RayNumbers numbers =
            hazy ? RayNumbers{rays, rays, most} : rays_of(flat ? rays : std::max(rays, 16 * thousand), cut);
        sources.push_back(scattered_light(scene, numbers, cut));
    }
    if (scene.part.slab) add_plate_sources(scene, sources);
    return sources;
}

}  // namespace spotwright::receiver
