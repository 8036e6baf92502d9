#include "sim/receiver/ray_follow.hpp"

#include <cmath>

#include "sim/receiver/ray_draw.hpp"
#include "sim/target/sample.hpp"

namespace spotwright::receiver {

using Eigen::Vector3d;
using emitter::BeamRay;

RayFollower::RayFollower(const Scene& scene, const Collect& collect)
    : scene_(scene),
      collect_(collect),
      meets_itself_(target::hides_itself(scene.part.shape)),
      axis_(std::sin(scene.receiver.angle), 0.0, std::cos(scene.receiver.angle)) {
    const auto& markings = scene.part.markings;
    if (!markings || !markings->cover || !markings->cover->surface) return;
    covered_scene_.emplace(Scene{scene.part, *markings->cover->surface, scene.receiver, scene.across_scale,
                                 scene.interreflection, target::Zone::covered, scene.met_elsewhere});
}

void RayFollower::follow(const LaunchedRay& launched, std::array<double, 2> through, base::RandomSequence& random) {
    BeamRay ray = launched.ray;
    power_ = launched.power;
    path_ = launched.path;
    light_ = launched.light;
    scattered_ = false;
    const target::Part& part = scene_.part;
    // Lights may bounce for ever between white walls in theory; each lot below ends it with a chance of 1 %.
    for (int meeting = 0;; ++meeting) {
        counts_ = meeting >= scene_.met_elsewhere;
        const auto hit = target::meet(part, ray);
        if (!hit) return;
        Vector3d place = ray.origin + hit->distance * ray.direction;
        Vector3d normal = hit->normal;
        const Vector3d to_light = -ray.direction;
        surface_ = &scene_.surface;
        if (part.markings && !mark(place, normal, to_light, random)) return;
        path_ += ray.direction.dot(place - ray.origin);
        const double mirror = target::mirror_reflectance(*surface_, to_light, normal, light_);
        const double scattered = target::scattered_share(*surface_, to_light, normal);
        const Vector3d mirrored = 2.0 * to_light.dot(normal) * normal - to_light;
        const Arrival arrival{place, ray.direction, normal, power_, scattered_, light_, path_};
        const bool is_bare = surface_ == &scene_.surface;
        if (counts_ && part.slab && is_bare) follow_into_plate(scene_, arrival, random, collect_);
        if (counts_ && surface_->volume)
            follow_into_volume(is_bare ? scene_ : *covered_scene_, arrival, random, collect_);
        if (counts_ && scattered > 0.0) count_scattered(place, to_light, normal, through);
        const bool mirror_gone = mirror <= 0.0 || count_mirrored(place, mirrored, power_ * mirror);
        if (!meets_itself_ || !scene_.interreflection) return;

        through = {random.uniform(), random.uniform()};
        const double onward_mirror = mirror_gone ? 0.0 : mirror;
        const auto onward =
            target::go_on(*surface_, {place, normal, to_light, onward_mirror, scattered, light_}, random);
        if (!onward) return;
        ray = onward->ray;
        power_ *= onward->weight;
        scattered_ = scattered_ || onward->scattered;
        light_ = onward->light;
    }
}

// Chooses which of the part's two materials the ray meets, by their weights, and puts it on the feed marks. False where
// it meets neither.
bool RayFollower::mark(Vector3d& place, Vector3d& normal, const Vector3d& to_light, base::RandomSequence& random) {
    const target::Markings& markings = *scene_.part.markings;
    const double bare = target::weight_at(markings, target::Zone::bare, place);
    const double covered = covered_scene_ ? target::weight_at(markings, target::Zone::covered, place) : 0.0;
    if (bare + covered <= 0.0) return false;
    if (covered_scene_ && random.uniform() * (bare + covered) < covered) surface_ = &covered_scene_->surface;
    power_ *= bare + covered;
    const target::GroovedPlace grooved = target::on_feed_marks(markings, place, to_light, normal);
    place = grooved.place;
    normal = grooved.normal;
    return to_light.dot(normal) > 0.0;
}

// By one look through a place of the aperture, drawn from the lobe or from where the row of pixels looks; the density
// of both together weighs it. Source: E. Veach, L. J. Guibas, "Optimally combining sampling techniques for Monte Carlo
// rendering", SIGGRAPH (1995), the balance heuristic for one sample.
void RayFollower::count_scattered(const Vector3d& place, const Vector3d& to_light, const Vector3d& normal,
                                  std::array<double, 2> uniform) {
    const Receiver& receiver = scene_.receiver;
    const ReceiverPoint from = to_receiver(receiver, place);
    const RowAperture row(receiver, from, scene_.across_scale);
    const double by_lobe = lobe_chance(*surface_, receiver, (aperture_point(receiver, 0.0, 0.0) - place).norm());
    Eigen::Vector2d through;
    if (uniform[0] < by_lobe) {
        const auto direction = target::draw_lobe(*surface_, to_light, normal, {uniform[0] / by_lobe, uniform[1]});
        const auto passed = direction ? straight_passage(receiver, place, *direction) : std::nullopt;
        if (!passed) return;
        through = *passed;
    } else {
        through = row.draw((uniform[0] - by_lobe) / (1.0 - by_lobe), uniform[1]);
    }
    const Vector3d way = aperture_point(receiver, through.x(), through.y()) - place;
    const double distance = way.norm();
    const Vector3d to_view = way / distance;
    const double cos_view = normal.dot(to_view);
    const double cos_lens = axis_.dot(to_view);
    if (cos_view <= 0.0 || cos_lens <= 0.0) return;
    if (meets_itself_ && target::hides(scene_.part, place, place + way)) return;
    const auto at = trace(receiver, from, through.x(), through.y());
    if (!at) return;
    const double solid_angle_per_area = cos_lens / (distance * distance);
    double density = (1.0 - by_lobe) * row.density(through);
    if (by_lobe > 0.0) {
        density += by_lobe * target::lobe_density(*surface_, to_light, to_view, normal) * solid_angle_per_area;
    }
    const double power = power_ * target::scatter(*surface_, to_light, to_view, normal, light_) * cos_view *
                         solid_angle_per_area / density * receiver.transmission;
    collect_({*at, power, path_ + path_to_array(receiver, place, *at), false});
}

// True when the ray has gone through the aperture, and so meets the part no more.
bool RayFollower::count_mirrored(const Vector3d& place, const Vector3d& mirrored, double power) {
    const Receiver& receiver = scene_.receiver;
    const auto through = passage(receiver, place, mirrored);
    if (!through) return false;
    if (meets_itself_ && target::hides(scene_.part, place, aperture_point(receiver, through->x(), through->y()))) {
        return false;
    }
    if (!counts_) return true;
    if (const auto at = trace(receiver, to_receiver(receiver, place), through->x(), through->y())) {
        collect_({*at, power * receiver.transmission, path_ + path_to_array(receiver, place, *at), !scattered_});
    }
    return true;
}

}  // namespace spotwright::receiver
