#include "sim/receiver/ray_model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_inside.hpp"
#include "sim/target/sample.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector3d;
using emitter::BeamRay;

// Follows single rays and gathers what reaches the array.
class Follower {
public:
    Follower(const target::Part& part, const target::Surface& surface, const Receiver& receiver, double across_scale,
             bool interreflection, Gatherer& gatherer)
        : part_(part),
          bare_(surface),
          receiver_(receiver),
          across_scale_(across_scale),
          interreflection_(interreflection),
          gatherer_(gatherer),
          meets_itself_(target::hides_itself(part.shape)),
          scene_{part, surface, receiver, across_scale, interreflection},
          axis_(std::sin(receiver.angle), 0.0, std::cos(receiver.angle)) {
        if (!part.markings || !part.markings->cover || !part.markings->cover->surface) return;
        covered_scene_.emplace(Scene{part, *part.markings->cover->surface, receiver, across_scale, interreflection,
                                     target::Zone::covered});
    }

    // @param through  Two even numbers for the place of the aperture by which scattered light is first looked at.
    void follow(BeamRay ray, double power, const emitter::Polarisation& light, std::array<double, 2> through,
                base::RandomSequence& random) {
        scattered_ = false;
        light_ = light;
        // Lights may bounce for ever between white walls in theory; each lot below ends it with a chance of 1 %.
        for (;;) {
            const auto hit = target::meet(part_, ray);
            if (!hit) return;
            Vector3d place = ray.origin + hit->distance * ray.direction;
            Vector3d normal = hit->normal;
            const Vector3d to_light = -ray.direction;
            surface_ = &bare_;
            if (part_.markings && !mark(place, normal, to_light, power, random)) return;
            const double mirror = target::mirror_reflectance(*surface_, to_light, normal, light_);
            const double scattered = target::scattered_share(*surface_, to_light, normal);
            const Vector3d mirrored = 2.0 * to_light.dot(normal) * normal - to_light;
            if (part_.slab && surface_ == &bare_)
                follow_into_plate(scene_, {place, ray.direction, normal, power, scattered_, light_}, random, gatherer_);
            if (surface_->volume) {
                const Scene& scene = surface_ == &bare_ ? scene_ : *covered_scene_;
                follow_into_volume(scene, {place, ray.direction, normal, power, scattered_, light_}, random, gatherer_);
            }
            if (scattered > 0.0) count_scattered(place, to_light, normal, power, through);
            const bool mirror_gone = mirror <= 0.0 || count_mirrored(place, mirrored, power * mirror);
            if (!meets_itself_ || !interreflection_) return;

            through = {random.uniform(), random.uniform()};
            const double onward_mirror = mirror_gone ? 0.0 : mirror;
            const auto onward =
                target::go_on(*surface_, {place, normal, to_light, onward_mirror, scattered, light_}, random);
            if (!onward) return;
            ray = onward->ray;
            power *= onward->weight;
            scattered_ = scattered_ || onward->scattered;
            light_ = onward->light;
        }
    }

private:
    // Chooses which of the part's two materials the ray meets, by their weights, and puts it on the feed marks. False
    // where it meets neither.
    bool mark(Vector3d& place, Vector3d& normal, const Vector3d& to_light, double& power,
              base::RandomSequence& random) {
        const target::Markings& markings = *part_.markings;
        const double bare = target::weight_at(markings, target::Zone::bare, place);
        const bool covers = markings.cover && markings.cover->surface;
        const double covered = covers ? target::weight_at(markings, target::Zone::covered, place) : 0.0;
        if (bare + covered <= 0.0) return false;
        if (covers && random.uniform() * (bare + covered) < covered) surface_ = &*markings.cover->surface;
        power *= bare + covered;
        const target::GroovedPlace grooved = target::on_feed_marks(markings, place, to_light, normal);
        place = grooved.place;
        normal = grooved.normal;
        return to_light.dot(normal) > 0.0;
    }

    // By one look through a place of the aperture, drawn from the lobe or from where the row of pixels looks; the
    // density of both together weighs it. Source: E. Veach, L. J. Guibas, "Optimally combining sampling techniques for
    // Monte Carlo rendering", SIGGRAPH (1995), the balance heuristic for one sample.
    void count_scattered(const Vector3d& place, const Vector3d& to_light, const Vector3d& normal, double power,
                         std::array<double, 2> uniform) {
        const ReceiverPoint from = to_receiver(receiver_, place);
        const RowAperture row(receiver_, from, across_scale_);
        const double by_lobe = lobe_chance(*surface_, receiver_, (aperture_point(receiver_, 0.0, 0.0) - place).norm());
        Eigen::Vector2d through;
        if (uniform[0] < by_lobe) {
            const auto direction = target::draw_lobe(*surface_, to_light, normal, {uniform[0] / by_lobe, uniform[1]});
            const auto passed = direction ? straight_passage(receiver_, place, *direction) : std::nullopt;
            if (!passed) return;
            through = *passed;
        } else {
            through = row.draw((uniform[0] - by_lobe) / (1.0 - by_lobe), uniform[1]);
        }
        const Vector3d way = aperture_point(receiver_, through.x(), through.y()) - place;
        const double distance = way.norm();
        const Vector3d to_view = way / distance;
        const double cos_view = normal.dot(to_view);
        const double cos_lens = axis_.dot(to_view);
        if (cos_view <= 0.0 || cos_lens <= 0.0) return;
        if (meets_itself_ && target::hides(part_, place, place + way)) return;
        const auto at = trace(receiver_, from, through.x(), through.y());
        if (!at) return;
        const double solid_angle_per_area = cos_lens / (distance * distance);
        double density = (1.0 - by_lobe) * row.density(through);
        if (by_lobe > 0.0) {
            density += by_lobe * target::lobe_density(*surface_, to_light, to_view, normal) * solid_angle_per_area;
        }
        gatherer_.add(*at, power * target::scatter(*surface_, to_light, to_view, normal, light_) * cos_view *
                               solid_angle_per_area / density * receiver_.transmission);
    }

    // True when the ray has gone through the aperture, and so meets the part no more.
    bool count_mirrored(const Vector3d& place, const Vector3d& mirrored, double power) {
        const auto through = passage(receiver_, place, mirrored);
        if (!through) return false;
        if (meets_itself_ && target::hides(part_, place, aperture_point(receiver_, through->x(), through->y()))) {
            return false;
        }
        if (const auto at = trace(receiver_, to_receiver(receiver_, place), through->x(), through->y())) {
            if (scattered_) {
                gatherer_.add(*at, power * receiver_.transmission);
            } else {
                gatherer_.add_mirrored(*at, power * receiver_.transmission);
            }
        }
        return true;
    }

    const target::Part& part_;
    const target::Surface& bare_;
    const target::Surface* surface_ = nullptr;  // that the ray meets
    const Receiver& receiver_;
    double across_scale_;
    bool interreflection_;
    Gatherer& gatherer_;
    bool meets_itself_;
    bool scattered_ = false;  // the ray has been scattered on its way
    emitter::Polarisation light_;
    Scene scene_;
    std::optional<Scene> covered_scene_;  // of the material that covers some of the part
    Vector3d axis_;
};

// What all batches have in common.
struct Bundle {
    double along = 0.0;  // of the lit point on the beam's axis, from the emitter's face. [m]
    DiffractionScale scale;
    RowOffsets offsets;
};

Bundle bundle_of(const emitter::Beam& beam, const target::Part& part, const Receiver& receiver) {
    const auto hit = target::meet(part, {beam.face, beam.direction});
    // Without a lit point on the axis the beam's rays are still defined where the reference point is.
    const double along = hit ? hit->distance : beam.face.norm();
    const auto centre = trace(receiver, to_receiver(receiver, beam.face + along * beam.direction), 0.0, 0.0);
    const DiffractionScale scale = diffraction_scale(receiver, beam.wavelength, centre ? centre->u : 0.0);
    return {along, scale, row_offsets(beam, along, hit, receiver, scale.across)};
}

Profile trace_batch(const Bundle& bundle, const emitter::Beam& beam, const target::Part& part,
                    const target::Surface& surface, const Receiver& receiver, const EdgeSpread& edge_spread,
                    double quantum_efficiency, const RayOptions& options, std::int64_t batch) {
    const std::int64_t rays = (options.rays + ray_batches - 1) / ray_batches;
    Gatherer gatherer(receiver, edge_spread, bundle.scale);
    Follower follower(part, surface, receiver, bundle.scale.across, options.interreflection, gatherer);
    RayPoints points(options.seed, batch);
    const double power = beam.power / static_cast<double>(rays);
    for (std::int64_t i = 0; i < rays; ++i) {
        const auto [in_plane, out_of_plane, turn, turn_across, first, second] = points.next();
        const Weighed offset = bundle.offsets.draw(out_of_plane);
        if (offset.weight <= 0.0) continue;
        base::RandomSequence random({options.seed, base::Stream::ray}, batch * rays + i);
        follower.follow(emitter::ray_from_face(beam, bundle.along, {beam_offset(in_plane), offset.value},
                                               {beam_offset(turn), beam_offset(turn_across)}),
                        power * offset.weight, beam.polarisation, {first, second}, random);
    }
    return gatherer.profile(beam.wavelength, quantum_efficiency);
}

}  // namespace

RayImage combined(std::vector<Profile> batches) {
    RayImage image;
    const std::size_t pixels = batches.front().rate.size();
    const auto count = static_cast<double>(batches.size());
    image.profile.rate.resize(pixels);
    image.standard_error.resize(pixels);
    const auto mirrors = [](const Profile& batch) { return !batch.mirrored.empty(); };
    if (std::any_of(batches.begin(), batches.end(), mirrors)) image.profile.mirrored.assign(pixels, 0.0F);
    for (std::size_t k = 0; k < pixels; ++k) {
        double sum = 0.0;
        double squares = 0.0;
        for (const Profile& batch : batches) {
            const auto rate = static_cast<double>(batch.rate[k]);
            sum += rate;
            squares += rate * rate;
        }
        const double mean = sum / count;
        image.profile.rate[k] = static_cast<float>(mean);
        const double variance = std::max(squares / count - mean * mean, 0.0) / (count - 1.0);
        image.standard_error[k] = static_cast<float>(std::sqrt(variance));
    }
    for (const Profile& batch : batches) {
        for (std::size_t k = 0; k < batch.mirrored.size(); ++k) {
            image.profile.mirrored[k] += batch.mirrored[k] / static_cast<float>(count);
        }
        image.profile.collected_power += batch.collected_power / count;
        image.profile.received_power += batch.received_power / count;
    }
    image.batches = std::move(batches);
    return image;
}

Profile trace_batch(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                    const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                    const RayOptions& options, std::int64_t batch) {
    return trace_batch(bundle_of(beam, part, receiver), beam, part, surface, receiver, edge_spread, quantum_efficiency,
                       options, batch);
}

RayImage trace_rays(const emitter::Beam& beam, const target::Part& part, const target::Surface& surface,
                    const Receiver& receiver, const EdgeSpread& edge_spread, double quantum_efficiency,
                    const RayOptions& options) {
    std::vector<Profile> batches(static_cast<std::size_t>(ray_batches));
    const Bundle bundle = bundle_of(beam, part, receiver);
    base::parallel_for(ray_batches, options.threads, [&](std::int64_t batch) {
        batches[static_cast<std::size_t>(batch)] =
            trace_batch(bundle, beam, part, surface, receiver, edge_spread, quantum_efficiency, options, batch);
    });
    return combined(std::move(batches));
}

}  // namespace spotwright::receiver
