#include "sim/receiver/ray_inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/subsurface.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector3d;

// The direction after a scatter.
Vector3d turned(const Vector3d& direction, double anisotropy, base::RandomSequence& random) {
    const double cosine = target::scatter_cosine(anisotropy, random.uniform());
    const double sine = std::sqrt(std::max(0.0, 1.0 - cosine * cosine));
    const double angle = 2.0 * base::pi * random.uniform();
    const Vector3d side = direction.unitOrthogonal();
    const Vector3d other = direction.cross(side);
    return (cosine * direction + sine * (std::cos(angle) * side + std::sin(angle) * other)).normalized();
}

// A scatter inside a volume, or at the backing of a layer.
struct Scattered {
    Vector3d place;
    double depth;
    Vector3d before;  // direction of travel
    double power;
    double path;  // optical length until here. [m]
    bool at_backing = false;
};

// What a place inside a volume sends straight to the receiver.
void count_scatter(const Scene& scene, const Scattered& event, const Vector3d& normal, base::RandomSequence& random,
                   const Collect& collect) {
    const target::Volume& volume = *scene.surface.volume;
    const AperturePoint through = draw_aperture_point(scene.receiver, random);
    const std::array<target::Layer, 1> layer{target::Layer{event.depth, volume.index}};
    const auto out = escape_to(scene.receiver, layer, event.place, normal, through);
    if (!out) return;
    const auto at =
        trace(scene.receiver, to_receiver(scene.receiver, out->exit), through.in_plane, through.out_of_plane);
    if (!at) return;
    const auto inside = target::refract(-out->direction, normal, volume.index);
    if (!inside) return;
    const double spread = event.at_backing ? -inside->dot(normal) / base::pi
                                           : target::phase_function(volume.anisotropy, -event.before.dot(*inside));
    const auto& markings = scene.part.markings;
    const double leaves = markings ? target::share_at(*markings, scene.zone, out->exit) : 1.0;
    const double power = leaves * event.power * spread * target::escape(volume, event.depth, out->way.outside.cosine) *
                         out->solid_angle * scene.receiver.transmission;
    const double path = event.path + way_out(scene.receiver, *out, through.in_plane, through.out_of_plane, *at);
    collect({*at, power, path, false});
}

// One ray inside a volume.
class VolumeRay {
public:
    VolumeRay(const Scene& scene, const Arrival& arrival, const Vector3d& inward, base::RandomSequence& random,
              const Collect& collect)
        : scene_(scene),
          volume_(*scene.surface.volume),
          arrival_(arrival),
          random_(random),
          collect_(collect),
          extinction_(target::scattering(volume_) + volume_.absorption),
          place_(arrival.place),
          direction_(inward),
          path_(arrival.path) {
        const double cosine = -arrival.direction.dot(arrival.normal);
        const double s_share = target::s_share(arrival.light, -arrival.direction, arrival.normal);
        power_ = arrival.power * (1.0 - target::fresnel({volume_.index, 0.0}, cosine).mean(s_share));
        least_ = 1e-2 * power_;
    }

    void run() {
        const double albedo = target::scattering(volume_) / extinction_;
        for (;;) {
            bool at_backing = false;
            if (!fly(-std::log(random_.uniform()) / extinction_, at_backing)) return;
            power_ *= at_backing ? volume_.backing : albedo;
            if (power_ <= 0.0) return;
            count_scatter(scene_, {place_, depth(), direction_, power_, path_, at_backing}, arrival_.normal, random_,
                          collect_);
            direction_ = at_backing ? from_backing() : turned(direction_, volume_.anisotropy, random_);
            if (power_ < least_) {
                constexpr double chance = 0.5;
                if (random_.uniform() >= chance) return;
                power_ /= chance;
            }
        }
    }

private:
    [[nodiscard]] double depth() const { return (arrival_.place - place_).dot(arrival_.normal); }

    // To and fro between the faces. False: the light has left by the front face; what passes there was counted where it
    // was scattered.
    bool fly(double length, bool& at_backing) {
        Vector3d next = place_ + length * direction_;
        for (;;) {
            const double below = (arrival_.place - next).dot(arrival_.normal);
            if (below > volume_.thickness) {
                const double back = (below - volume_.thickness) / direction_.dot(arrival_.normal);  // < 0
                place_ = next + back * direction_;
                path_ += volume_.index * (length + back);
                at_backing = true;
                return true;
            }
            if (below > 0.0) break;
            const double inside = direction_.dot(arrival_.normal);
            const auto out = target::refract(direction_, arrival_.normal, 1.0 / volume_.index);
            const double reflected =
                out ? target::fresnel({volume_.index, 0.0}, out->dot(arrival_.normal)).unpolarised() : 1.0;
            if (random_.uniform() >= reflected) return false;
            next -= 2.0 * (next - arrival_.place).dot(arrival_.normal) * arrival_.normal;
            direction_ -= 2.0 * inside * arrival_.normal;
        }
        place_ = next;
        path_ += volume_.index * length;
        return true;
    }

    // As from a matt face.
    Vector3d from_backing() {
        const double sine2 = random_.uniform();
        const double angle = 2.0 * base::pi * random_.uniform();
        const Vector3d side = arrival_.normal.unitOrthogonal();
        const Vector3d other = arrival_.normal.cross(side);
        return std::sqrt(sine2) * (std::cos(angle) * side + std::sin(angle) * other) +
               std::sqrt(1.0 - sine2) * arrival_.normal;
    }

    const Scene& scene_;
    const target::Volume& volume_;
    const Arrival& arrival_;
    base::RandomSequence& random_;
    const Collect& collect_;
    double extinction_;
    Vector3d place_;
    Vector3d direction_;
    double path_ = 0.0;  // optical length so far. [m]
    double power_ = 0.0;
    double least_ = 0.0;
};

}  // namespace

double way_out(const Receiver& receiver, const Escape& out, double in_plane, double out_of_plane,
               const ArrayPoint& at) {
    const double in_air = (aperture_point(receiver, in_plane, out_of_plane) - out.exit).norm();
    return out.way.optical_path - in_air + path_to_array(receiver, out.exit, at);
}

AperturePoint draw_aperture_point(const Receiver& receiver, base::RandomSequence& random) {
    const Aperture& aperture = receiver.aperture;
    const double first = random.uniform();
    const double second = random.uniform();
    if (aperture.shape == ApertureShape::rectangular) {
        return {(2.0 * first - 1.0) * aperture.half_in_plane, (2.0 * second - 1.0) * aperture.half_out_of_plane,
                area_of(aperture)};
    }
    const double radius = aperture.half_in_plane * std::sqrt(first);
    const double angle = 2.0 * base::pi * second;
    return {radius * std::cos(angle), radius * std::sin(angle), area_of(aperture)};
}

void follow_into_volume(const Scene& scene, const Arrival& arrival, base::RandomSequence& random,
                        const Collect& collect) {
    const auto inward = target::refract(arrival.direction, arrival.normal, scene.surface.volume->index);
    if (inward) VolumeRay(scene, arrival, *inward, random, collect).run();
}

}  // namespace spotwright::receiver
