#include "sim/receiver/ray_inside.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include <Eigen/Geometry>

#include "sim/base/constants.hpp"
#include "sim/receiver/inside.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/target/fresnel.hpp"
#include "sim/target/polarised.hpp"
#include "sim/target/sample.hpp"

namespace spotwright::receiver {

namespace {

using Eigen::Vector3d;
using target::Fresnel;

// Power of both polarisations; the sum of the halves is the power.
struct Polarised {
    double s = 0.0;
    double p = 0.0;

    [[nodiscard]] double power() const { return 0.5 * (s + p); }
    void reflect(const Fresnel& r, double chance) {
        s *= r.s / chance;
        p *= r.p / chance;
    }
    void pass(const Fresnel& r, double chance) {
        s *= (1.0 - r.s) / chance;
        p *= (1.0 - r.p) / chance;
    }
};

// A chance for one of two branches that is never nought while the branch carries light.
double chance_of(double share) {
    return std::clamp(share, 0.1, 0.9);
}

// One ray inside the plate or between it and its backing.
class PlateWalk {
public:
    PlateWalk(const Scene& scene, const Arrival& arrival, base::RandomSequence& random, const Collect& collect)
        : scene_(scene),
          slab_(*scene.part.slab),
          plate_(plate_of(scene.surface)),
          normal_(arrival.normal),
          random_(random),
          collect_(collect),
          front_(arrival.place),
          path_(arrival.path),
          came_scattered_(arrival.scattered) {
        set_direction(arrival.direction);
        const double smooth = target::mirror_share(*scene.surface.gloss, outside_.cosine);
        const double s_share = target::s_share(arrival.light, -arrival.direction, normal_);
        light_ = {2.0 * s_share * arrival.power * smooth, 2.0 * (1.0 - s_share) * arrival.power * smooth};
        at_backing_ = polarisation_behind(arrival.light, plate_, -arrival.direction, normal_);
        light_.pass(faces(), 1.0);
        least_ = 1e-4 * arrival.power;
    }

    void run() {
        for (;;) {
            cross_plate();
            if (!leave_back_face()) return;
            cross_plate();
            leave_front_face();
            if (met_backing_ && !scene_.interreflection) return;
            if (light_.power() < least_ && !survives()) return;
        }
    }

private:
    [[nodiscard]] Fresnel faces() const { return target::fresnel({plate_.index, 0.0}, outside_.cosine); }

    // Up or down, along the same way over the face.
    void set_direction(const Vector3d& direction) {
        const double cosine = std::abs(direction.dot(normal_));
        outside_ = {std::sqrt(std::max(0.0, 1.0 - cosine * cosine)), cosine};
        along_ = direction - direction.dot(normal_) * normal_;
        const double sine = along_.norm();
        along_ = sine > 1e-12 ? Vector3d(along_ / sine) : Vector3d::Zero();
    }

    // `front_` is the place over the front face above the ray's own place.
    void cross_plate() {
        const target::Inclination inside = target::inside(outside_, plate_.index);
        front_ += slab_.thickness * inside.tangent() * along_;
        path_ += plate_.index * slab_.thickness / inside.cosine;
    }
    void cross_gap() {
        front_ += slab_.gap * outside_.tangent() * along_;
        path_ += slab_.gap / outside_.cosine;
    }

    [[nodiscard]] bool survives() {
        constexpr double chance = 0.25;
        if (random_.uniform() >= chance) return false;
        light_.s /= chance;
        light_.p /= chance;
        return true;
    }

    // From inside at the back face: false when the light is lost; else it goes up inside the plate again.
    bool leave_back_face() {
        const Fresnel r = faces();
        const double reflected = slab_.backing ? chance_of(r.unpolarised()) : 1.0;
        if (random_.uniform() < reflected) {
            light_.reflect(r, reflected);
            return light_.power() > 0.0;
        }
        light_.pass(r, 1.0 - reflected);
        for (;;) {  // between plate and backing
            cross_gap();
            met_backing_ = true;
            if (!meet_backing()) return false;
            cross_gap();
            const Fresnel under = faces();
            if (!scene_.interreflection) {
                light_.pass(under, 1.0);
                return true;
            }
            const double down = chance_of(under.unpolarised());
            if (random_.uniform() >= down) {
                light_.pass(under, 1.0 - down);
                return true;
            }
            light_.reflect(under, down);
            if (light_.power() < least_ && !survives()) return false;
        }
    }

    // At the backing, coming down; true when it goes up again.
    bool meet_backing() {
        const target::Surface& backing = *slab_.backing;
        const Vector3d to_light = outside_.cosine * normal_ - outside_.sine * along_;
        count_backing(to_light);
        const double mirror = target::mirror_reflectance(backing, to_light, normal_);
        const double scattered = target::scattered_share(backing, to_light, normal_);
        if (mirror + scattered <= 0.0) return false;
        // What is scattered has been counted, so that of light which ends here only the mirror part goes on.
        const double mirrored = scene_.interreflection ? mirror / (mirror + scattered) : 1.0;
        if (mirror > 0.0 && random_.uniform() < mirrored) {
            const Fresnel metal = target::fresnel(backing.gloss->index, outside_.cosine);
            light_.reflect(metal, mirrored / target::mirror_share(*backing.gloss, outside_.cosine));
            return true;
        }
        if (!scene_.interreflection) return false;
        const auto sample = target::sample_scatter(
            backing, to_light, normal_, {random_.uniform(), random_.uniform(), random_.uniform()}, at_backing_);
        if (!sample) return false;
        const double power = light_.power() * sample->weight / (1.0 - mirrored);
        light_ = {power, power};
        at_backing_ = {};
        set_direction(sample->direction);
        scattered_ = true;
        return power > 0.0;
    }

    // What the backing scatters out through the aperture, by one look as at a part's own face (see `RayFollower`), on a
    // way out that is drawn.
    void count_backing(const Vector3d& to_light) {
        const Receiver& receiver = scene_.receiver;
        const target::Surface& backing = *slab_.backing;
        const WayUp up = draw_way_up();
        const target::Slab crossed{up.plates * slab_.thickness, up.gaps * slab_.gap};
        const Vector3d place = front_ - (crossed.thickness + crossed.gap) * normal_;
        const auto layers = layers_before_backing(crossed, plate_.index);
        // The places from which light leaves for all of the aperture lie close together, seen from the array.
        const auto middle = escape_to(receiver, layers, place, normal_, {0.0, 0.0, 0.0});
        const RowAperture row(receiver, to_receiver(receiver, middle ? middle->exit : front_), scene_.across_scale);
        const double by_lobe = lobe_chance(backing, receiver, (aperture_point(receiver, 0.0, 0.0) - place).norm());
        const auto through = draw_through_plate(to_light, crossed, row, by_lobe);
        if (!through) return;
        const auto out = escape_to(receiver, layers, place, normal_, {through->x(), through->y(), 1.0});
        if (!out) return;
        const auto at = trace(receiver, to_receiver(receiver, out->exit), through->x(), through->y());
        if (!at) return;
        double density = (1.0 - by_lobe) * row.density(*through);
        if (by_lobe > 0.0) {
            density += by_lobe * target::lobe_density(backing, to_light, out->direction, normal_) * out->solid_angle;
        }
        const double cosine = out->way.outside.cosine;
        const double power = left_of(up, *out) * light_.power() *
                             target::scatter(backing, to_light, out->direction, normal_, at_backing_) * cosine *
                             out->solid_angle / density * receiver.transmission;
        collect_({*at, power, path_ + way_out(receiver, *out, through->x(), through->y(), *at), false});
    }

    // What scattered light meets until it leaves by the front face, all of it under one angle.
    struct WayUp {
        int gaps = 1;    // crossed
        int plates = 0;  // crossed
        int reflections = 0;
        int passages = 0;  // of the plate's faces
        int mirrors = 0;   // of the backing
        double chance = 1.0;
        std::vector<std::array<int, 2>>
            below_front;  // gaps and plates crossed, where it is sent back by the front face
    };

    [[nodiscard]] bool happens(double chance, WayUp& way) {
        const bool does = random_.uniform() < chance;
        way.chance *= does ? chance : 1.0 - chance;
        return does;
    }

    // Goes on after each face as it is drawn, with chances of no more than a rough likeness to the faces' reflectances.
    [[nodiscard]] WayUp draw_way_up() {
        constexpr double reflected = 0.15;
        const bool to_and_fro = scene_.interreflection && slab_.backing->gloss.has_value();
        WayUp way;
        for (;;) {
            while (to_and_fro && happens(reflected, way)) {
                ++way.reflections;
                ++way.mirrors;
                way.gaps += 2;
            }
            ++way.passages;
            ++way.plates;
            for (;;) {
                if (!happens(reflected, way)) {
                    ++way.passages;
                    return way;
                }
                way.below_front.push_back({way.gaps, way.plates});
                ++way.reflections;
                ++way.plates;
                if (to_and_fro && happens(0.5, way)) break;
                ++way.reflections;
                ++way.plates;
            }
            ++way.passages;
            ++way.mirrors;
            way.gaps += 2;
        }
    }

    // Share of unpolarised light, over the chance of the draw.
    [[nodiscard]] double left_of(const WayUp& up, const Escape& out) const {
        const double cosine = out.way.outside.cosine;
        const Fresnel face = target::fresnel({plate_.index, 0.0}, cosine);
        Fresnel metal{0.0, 0.0};
        if (up.mirrors > 0) {
            metal = target::fresnel(slab_.backing->gloss->index, cosine);
            const double smooth = target::mirror_share(*slab_.backing->gloss, cosine);
            metal.s *= smooth;
            metal.p *= smooth;
        }
        const auto left = [&up](double r, double m) {
            return std::pow(r, up.reflections) * std::pow(1.0 - r, up.passages) * std::pow(m, up.mirrors);
        };
        double bare = bare_share(out.exit);
        const double gap = slab_.gap * out.way.outside.tangent();
        const double plate = slab_.thickness * target::inside(out.way.outside, plate_.index).tangent();
        const double all = up.gaps * gap + up.plates * plate;
        for (const auto& [gaps, plates] : up.below_front) {
            const double part = all > 0.0 ? (gaps * gap + plates * plate) / all : 0.0;
            bare *= bare_share(front_ + part * (out.exit - front_));
        }
        return bare * 0.5 * (left(face.s, metal.s) + left(face.p, metal.p)) / up.chance;
    }

    // A place of the aperture, from the row's view or from the backing's lobe; none where the lobe goes past it.
    std::optional<Eigen::Vector2d> draw_through_plate(const Vector3d& to_light, const target::Slab& crossed,
                                                      const RowAperture& row, double by_lobe) {
        if (random_.uniform() >= by_lobe) {
            const double first = random_.uniform();
            return row.draw(first, random_.uniform());
        }
        const double first = random_.uniform();
        const auto direction = target::draw_lobe(*slab_.backing, to_light, normal_, {first, random_.uniform()});
        if (!direction) return std::nullopt;
        const double cosine = direction->dot(normal_);
        const Vector3d along = *direction - cosine * normal_;
        const double sine = along.norm();
        if (sine <= 1e-12) return straight_passage(scene_.receiver, front_, *direction);
        const target::Inclination up{sine, cosine};
        const double shift =
            crossed.gap * up.tangent() + crossed.thickness * target::inside(up, plate_.index).tangent();
        return straight_passage(scene_.receiver, front_ + shift / sine * along, *direction);
    }

    // Of the front face at a place: a print takes the light that comes to it from below.
    [[nodiscard]] double bare_share(const Vector3d& place) const {
        const auto& markings = scene_.part.markings;
        return markings ? target::share_at(*markings, target::Zone::bare, place) : 1.0;
    }

    // At the front face from inside: counts what passes, keeps what is reflected.
    void leave_front_face() {
        const Fresnel r = faces();
        const double bare = bare_share(front_);
        light_.s *= bare;
        light_.p *= bare;
        // Light that was scattered has been counted where it was scattered.
        if (!scattered_) {
            const Vector3d direction = outside_.cosine * normal_ + outside_.sine * along_;
            if (const auto through = passage(scene_.receiver, front_, direction)) {
                Polarised passed = light_;
                passed.pass(r, 1.0);
                const auto at =
                    trace(scene_.receiver, to_receiver(scene_.receiver, front_), through->x(), through->y());
                if (at) count(*at, passed.power() * scene_.receiver.transmission);
            }
        }
        light_.reflect(r, 1.0);
    }

    void count(const ArrayPoint& at, double power) {
        collect_({at, power, path_ + path_to_array(scene_.receiver, front_, at), !came_scattered_});
    }

    const Scene& scene_;
    const target::Slab& slab_;
    target::Plate plate_;
    Vector3d normal_;
    base::RandomSequence& random_;
    const Collect& collect_;
    Vector3d front_;
    double path_ = 0.0;  // optical length so far. [m]
    Vector3d along_ = Vector3d::Zero();
    target::Inclination outside_;
    Polarised light_;
    emitter::Polarisation at_backing_;
    double least_ = 0.0;
    bool scattered_ = false;  // by the backing
    bool met_backing_ = false;
    bool came_scattered_ = false;
};

}  // namespace

void follow_into_plate(const Scene& scene, const Arrival& arrival, base::RandomSequence& random,
                       const Collect& collect) {
    PlateWalk(scene, arrival, random, collect).run();
}

}  // namespace spotwright::receiver
