#include "sim/receiver/image.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/base/constants.hpp"
#include "sim/receiver/inside.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/target/refraction.hpp"

namespace spotwright::receiver {

namespace {

// A count from a wish that may be absurdly large.
int count(double wish, int least, int most) {
    return static_cast<int>(std::clamp(std::ceil(wish), static_cast<double>(least), static_cast<double>(most)));
}

// Whether a part scatters enough to be followed. The haze of a polished interface, less than half a percent of what it
// mirrors, would need millions of rays for a lobe of a milliradian.
bool scatters(const target::Surface& surface, const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal) {
    constexpr double least = 0.005;
    return !surface.gloss || surface.reflectance > 0.0 ||
           1.0 - target::mirror_share(*surface.gloss, normal.dot(to_light)) > least;
}

// Slope of the narrowest glossy lobe that is followed, of the part's face or of a plate's backing; none without.
std::optional<double> narrowest_lobe(const target::Part& part, const target::Surface& surface,
                                     const Eigen::Vector3d& to_light, const Eigen::Vector3d& normal) {
    std::optional<double> narrowest;
    const auto look_at = [&](const target::Surface& one) {
        if (!one.gloss || !scatters(one, to_light, normal)) return;
        const double slope = std::min(one.gloss->slope_along, one.gloss->slope_across);
        narrowest = narrowest ? std::min(*narrowest, slope) : slope;
    };
    look_at(surface);
    if (part.slab && part.slab->backing) look_at(*part.slab->backing);
    return narrowest;
}

// Places of the aperture for a glossy lobe.
void resolve_lobe(double slope, const Receiver& receiver, Sampling& sampling) {
    // Steps of the lobe across the aperture: it is twice as wide in angle as the facets in slope.
    const double lobe = 2.0 * slope;
    sampling.beam.out_of_plane = std::min(sampling.beam.out_of_plane, 16);
    const double steps = receiver.aperture.half_in_plane / receiver.object_distance / lobe;
    const double steps_across = receiver.aperture.half_out_of_plane / receiver.object_distance / lobe;
    ApertureSampling& places = sampling.aperture;
    places.rings = std::max(places.rings, count(std::floor(3.0 * steps), 3, 42));
    places.spokes = std::max(places.spokes, count(std::floor(16.0 * steps), 8, 128));
    places.in_plane = std::max(places.in_plane, count(std::floor(6.0 * steps), 3, 84));
    places.out_of_plane = std::max(places.out_of_plane, count(std::floor(6.0 * steps_across), 3, 84));
}

// Directions of a mirrored beam that a straight edge of the stop cuts: the edge lies along a row of rays, which pass it
// or miss it all together. A round rim cuts across the rows.
void resolve_edges(const emitter::Beam& beam, const target::Hit& hit, const Receiver& receiver, Sampling& sampling) {
    const Aperture& aperture = receiver.aperture;
    if (aperture.shape != ApertureShape::rectangular) return;
    const ReceiverPoint from = to_receiver(receiver, beam.face + hit.distance * beam.direction);
    const Eigen::Vector3d way = direction_to_receiver(receiver, target::mirrored(beam.direction, hit.normal));
    if (way.x() <= 0.0 || from.axial <= 0.0) return;
    const double length = from.axial / way.x();
    const auto cuts = [&](int axis, double place, double edge) {
        const double reach = target::beam_reach * emitter::radius_at(beam, axis, hit.distance + length);
        return std::abs(std::abs(place) - edge) < reach;
    };
    constexpr int close = 48;
    if (cuts(0, from.transverse + way.y() * length, aperture.half_in_plane)) {
        sampling.mirrored_beam.angles_in_plane = close;
    }
    if (cuts(1, from.out_of_plane + way.z() * length, aperture.half_out_of_plane)) {
        sampling.mirrored_beam.angles_out_of_plane = close;
    }
}

// Nodes across the footprint for structure of the surface that its image alone would not ask for.
void resolve_structure(const emitter::Beam& beam, const target::Part& part, double along, Sampling& sampling) {
    if (std::holds_alternative<target::Flat>(part.shape)) return;
    constexpr int most = 512;
    const auto nodes = [&](int axis, int least, int so_far) {
        const double radius = emitter::radius_at(beam, axis, along);
        const double finest = target::finest_structure(part.shape, radius);
        const double wish = finest > 0.0 ? 2.0 * target::beam_reach * radius / finest : 0.0;
        return std::max(so_far, count(wish, least, most));
    };
    sampling.beam.in_plane = nodes(0, 96, sampling.beam.in_plane);
    sampling.beam.out_of_plane = nodes(1, 32, sampling.beam.out_of_plane);
    sampling.mirrored_beam = {96, 24, 16, 8};
}

// Fine structure under a narrow lobe asks for more rays than anyone waits for: nodes are given up down to what a
// footprint needs, those out of plane first, for the row of pixels sums over them.
void keep_affordable(const target::Part& part, const Aperture& aperture, Sampling& sampling) {
    if (std::holds_alternative<target::Flat>(part.shape)) return;
    constexpr double most_rays = 1e6;
    const ApertureSampling& places = sampling.aperture;
    const double each = aperture.shape == ApertureShape::round
                            ? static_cast<double>(places.rings) * places.spokes
                            : static_cast<double>(places.in_plane) * places.out_of_plane;
    const auto rays = [&] { return each * sampling.beam.in_plane * sampling.beam.out_of_plane; };
    const auto limit = [&](int& nodes, int least) {
        if (rays() > most_rays) nodes = std::max(std::min(nodes, least), count(nodes * most_rays / rays(), 1, nodes));
    };
    limit(sampling.beam.out_of_plane, 32);
    limit(sampling.beam.in_plane, 96);
}

}  // namespace

Sampling choose_sampling(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                         const Receiver& receiver) {
    Sampling sampling;
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return sampling;
    const target::Part plane = target::plane_through(beam.face + hit->distance * beam.direction, hit->normal);
    const Aperture& aperture = receiver.aperture;
    const auto landing = [&](const std::array<double, 2>& offset, double in_plane,
                             double out_of_plane) -> std::optional<ArrayPoint> {
        const emitter::BeamRay ray = emitter::ray_from_face(beam, hit->distance, offset);
        const auto at = target::meet(plane, ray);
        if (!at) return std::nullopt;
        return trace(receiver, to_receiver(receiver, ray.origin + at->distance * ray.direction), in_plane,
                     out_of_plane);
    };
    const auto centre = landing({0.0, 0.0}, 0.0, 0.0);
    const auto right = landing({0.5, 0.0}, 0.0, 0.0);
    const auto top = landing({0.0, 0.5}, 0.0, 0.0);
    const auto upper_rim = landing({0.0, 0.0}, aperture.half_in_plane, 0.0);
    const auto lower_rim = landing({0.0, 0.0}, -aperture.half_in_plane, 0.0);
    const auto side_rim = landing({0.0, 0.0}, 0.0, aperture.half_out_of_plane);
    if (!centre || !right || !top || !upper_rim || !lower_rim || !side_rim) return sampling;

    const DiffractionScale scale = diffraction_scale(receiver, beam.wavelength, centre->u);
    const auto nodes = [](double radius, double finest, int most) {
        return count(2.0 * target::beam_reach * radius / (0.7 * finest), 24, most);
    };
    const double radius = 2.0 * std::abs(right->u - centre->u);
    sampling.beam.in_plane = nodes(radius, scale.along_array, 2048);
    const double radius_across = 2.0 * std::abs(top->v - centre->v);
    sampling.beam.out_of_plane = nodes(radius_across, scale.across, 64);

    // Steps of the defocus blur that the footprint and diffraction smooth over.
    const double blur_steps = std::abs(upper_rim->u - lower_rim->u) / (radius + scale.along_array);
    const double blur_steps_across = 2.0 * std::abs(side_rim->v - centre->v) / (radius_across + scale.across);
    ApertureSampling& places = sampling.aperture;
    places.spokes = 8 + 2 * count(std::floor(2.0 * blur_steps), 0, 28);
    places.rings = 3 + count(std::floor(blur_steps), 0, 18);
    places.in_plane = 3 + count(std::floor(2.0 * blur_steps), 0, 39);
    places.out_of_plane = 3 + count(std::floor(2.0 * blur_steps_across), 0, 39);
    if (const auto slope = narrowest_lobe(part, surface, -beam.direction, hit->normal)) {
        resolve_lobe(*slope, receiver, sampling);
    }
    resolve_edges(beam, *hit, receiver, sampling);
    resolve_structure(beam, part, hit->distance, sampling);
    keep_affordable(part, aperture, sampling);
    return sampling;
}

namespace {

// Scattered light: every lit point through every part of the aperture.
void gather_scatter(const std::vector<target::LitPoint>& footprint, const target::Part& part,
                    const target::Surface& surface, const emitter::Beam& beam, const Receiver& receiver,
                    const Sampling& sampling, const Collect& collect) {
    const bool may_hide = target::hides_itself(part.shape);
    const std::vector<AperturePoint> aperture = aperture_points(receiver.aperture, sampling.aperture);
    for (const target::LitPoint& lit : footprint) {
        const ReceiverPoint from = to_receiver(receiver, lit.position);
        const Eigen::Vector3d to_light = direction_to_receiver(receiver, lit.to_light);
        const Eigen::Vector3d normal = direction_to_receiver(receiver, lit.normal);
        const double way = emitter::travelled(beam, lit.position) + path_to_lens(receiver, lit.position);
        for (const AperturePoint& through : aperture) {
            const Eigen::Vector3d path(from.axial, through.in_plane - from.transverse,
                                       through.out_of_plane - from.out_of_plane);
            const double distance = path.norm();
            const Eigen::Vector3d to_view = path / distance;
            const double cos_view = normal.dot(to_view);
            if (cos_view <= 0.0) continue;
            const auto at = trace(receiver, from, through.in_plane, through.out_of_plane);
            if (!at) continue;
            if (may_hide &&
                target::hides(part, lit.position, aperture_place(receiver, through.in_plane, through.out_of_plane))) {
                continue;
            }
            const double solid_angle = through.area * to_view.x() / (distance * distance);
            const double power = lit.power * target::scatter(surface, to_light, to_view, normal) * cos_view *
                                 solid_angle * receiver.transmission;
            collect({*at, power, way, false});
        }
    }
}

// Mirrored light: every ray of the beam goes on in one direction, through the aperture or past it.
void gather_mirror(const std::vector<target::LitPoint>& footprint, const target::Part& part,
                   const target::Surface& surface, const emitter::Beam& beam, const Receiver& receiver,
                   const Collect& collect) {
    const bool may_hide = target::hides_itself(part.shape);
    for (const target::LitPoint& lit : footprint) {
        const Eigen::Vector3d mirrored = 2.0 * lit.to_light.dot(lit.normal) * lit.normal - lit.to_light;
        const auto through = passage(receiver, lit.position, mirrored);
        if (!through) continue;
        if (may_hide && target::hides(part, lit.position, aperture_place(receiver, through->x(), through->y())))
            continue;
        if (const auto at = trace(receiver, to_receiver(receiver, lit.position), through->x(), through->y())) {
            const double power =
                lit.power * target::mirror_reflectance(surface, lit.to_light, lit.normal) * receiver.transmission;
            const double way = emitter::travelled(beam, lit.position) + path_to_lens(receiver, lit.position);
            collect({*at, power, way, true});
        }
    }
}

// Whether the scene is its own mirror image in the plane of the mounting: then half of its light tells of all.
bool is_mirror_image(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface) {
    constexpr double rounding = 1e-15;
    const auto in_plane = [](const Eigen::Vector3d& v) { return std::abs(v.y()) < rounding; };
    const bool lies_alike =
        !surface.gloss || surface.gloss->slope_along == surface.gloss->slope_across || in_plane(surface.lay);
    return std::holds_alternative<target::Flat>(part.shape) && in_plane(part.normal()) && in_plane(beam.face) &&
           in_plane(beam.direction) && lies_alike;
}

}  // namespace

void collect_light(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                   const Receiver& receiver, const Sampling& sampling, const Collect& collect) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return;
    target::Surface turned = surface;
    turned.lay = direction_to_receiver(receiver, surface.lay);
    const bool folded = is_mirror_image(beam, part, surface);
    const auto footprint = [&](target::BeamSampling nodes) {
        nodes.folded = folded;
        return target::strike(beam, part, nodes);
    };
    if (scatters(surface, -beam.direction, hit->normal)) {
        gather_scatter(footprint(sampling.beam), part, turned, beam, receiver, sampling, collect);
    }
    // A mirror part of less than a millionth of the light adds nothing that could be seen.
    constexpr double seen = 1e-6;
    const auto mirrors = [&](const target::LitPoint& lit) {
        return target::mirror_reflectance(surface, lit.to_light, lit.normal) > seen;
    };
    const std::vector<target::LitPoint> sample = target::strike(beam, part, {8, 8});
    if (surface.gloss && std::any_of(sample.begin(), sample.end(), mirrors)) {
        gather_mirror(footprint(sampling.mirrored_beam), part, surface, beam, receiver, collect);
    }

    if (part.slab) gather_plate(beam, part, surface, receiver, sampling, collect);
    if (surface.volume) gather_volume(beam, part, surface, receiver, sampling, collect);
}

Profile image(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
              const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
              std::optional<Sampling> chosen) {
    Profile profile;
    profile.rate.assign(static_cast<std::size_t>(receiver.pixels), 0.0F);
    const auto hit = target::meet(part, {beam.face, beam.direction});
    if (!hit) return profile;
    const auto centre = trace(receiver, to_receiver(receiver, beam.face + hit->distance * beam.direction), 0.0, 0.0);
    if (!centre) return profile;

    const Sampling sampling = chosen ? *chosen : choose_sampling(beam, part, surface, receiver);
    const DiffractionScale scale = diffraction_scale(receiver, beam.wavelength, centre->u);
    Gatherer gatherer(receiver, edge_spread, scale.across);
    collect_light(beam, part, surface, receiver, sampling, [&gatherer](const CollectedRay& ray) { gatherer.add(ray); });
    return gatherer.profile(scale.along_array, beam.wavelength, quantum_efficiency);
}

}  // namespace spotwright::receiver
