#include "sim/flight/thrown.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_inside.hpp"
#include "sim/target/sample.hpp"

namespace spotwright::flight {

namespace {

using Eigen::Vector3d;

constexpr double path_step = 0.2e-3;  // as of straight light. [m]

// Powers by length of way, in even steps.
class Ways {
public:
    void add(double path, double power) {
        if (!(power > 0.0)) return;
        const auto step = static_cast<std::int64_t>(std::floor(path / path_step));
        steps_.push_back({step, power, path * power});
        constexpr std::size_t many = 1U << 16U;
        if (steps_.size() >= many) join();
    }

    // Mean lengths and powers, by length.
    [[nodiscard]] std::vector<Arrival> arrivals(double electrons_per_joule) {
        join();
        std::vector<Arrival> list;
        for (const Step& each : steps_) {
            list.push_back({each.moment / each.power / base::speed_of_light, each.power * electrons_per_joule});
        }
        return list;
    }

private:
    struct Step {
        std::int64_t step;
        double power;
        double moment;
    };

    void join() {
        std::stable_sort(steps_.begin(), steps_.end(), [](const Step& a, const Step& b) { return a.step < b.step; });
        std::vector<Step> joined;
        for (const Step& each : steps_) {
            if (joined.empty() || joined.back().step != each.step) {
                joined.push_back(each);
            } else {
                joined.back().power += each.power;
                joined.back().moment += each.moment;
            }
        }
        steps_ = std::move(joined);
    }

    std::vector<Step> steps_;
};

class Thrower {
public:
    Thrower(const TimedOptics& optics, const target::Part& part, const target::Surface& surface)
        : optics_(optics), part_(part), surface_(surface) {}

    void follow(emitter::BeamRay ray, double power, base::RandomSequence& random) {
        double path = 0.0;
        light_ = optics_.beam.polarisation;
        for (bool first = true;; first = false) {
            const auto hit = target::meet(part_, ray);
            if (!hit) return;
            const Vector3d place = ray.origin + hit->distance * ray.direction;
            const Vector3d& normal = hit->normal;
            const Vector3d to_light = -ray.direction;
            path += hit->distance;
            const double mirror = target::mirror_reflectance(surface_, to_light, normal, light_);
            const double scattered = target::scattered_share(surface_, to_light, normal);
            const Vector3d mirrored = 2.0 * to_light.dot(normal) * normal - to_light;
            const bool passes = mirror > 0.0 && look_along(place, mirrored, first ? 0.0 : power * mirror, path);
            if (!first && scattered > 0.0) look_at(place, to_light, normal, power, path, random);
            const double onward_mirror = passes ? 0.0 : mirror;
            const auto onward =
                target::go_on(surface_, {place, normal, to_light, onward_mirror, scattered, light_}, random);
            if (!onward) return;
            ray = onward->ray;
            power *= onward->weight;
            light_ = onward->light;
        }
    }

    [[nodiscard]] double collected() const { return collected_; }
    [[nodiscard]] double received() const { return received_; }
    [[nodiscard]] Ways& ways() { return ways_; }

private:
    void take(const Vector3d& place, double in_plane, double out_of_plane, double power, double path) {
        const receiver::Receiver& r = optics_.receiver;
        const auto at = receiver::trace(r, receiver::to_receiver(r, place), in_plane, out_of_plane);
        if (!at) return;
        collected_ += power * r.transmission;
        if (!(std::hypot(at->u, at->v) <= optics_.detector_diameter / 2.0)) return;
        received_ += power * r.transmission;
        ways_.add(path + receiver::path_to_lens(r, place), power * r.transmission);
    }

    // Scattered light through a place of the aperture, drawn evenly.
    void look_at(const Vector3d& place, const Vector3d& to_light, const Vector3d& normal, double power, double path,
                 base::RandomSequence& random) {
        const receiver::Receiver& r = optics_.receiver;
        const receiver::AperturePoint through = receiver::draw_aperture_point(r, random);
        const Vector3d way = receiver::aperture_point(r, through.in_plane, through.out_of_plane) - place;
        const double distance = way.norm();
        const Vector3d to_view = way / distance;
        const Vector3d axis(std::sin(r.angle), 0.0, std::cos(r.angle));
        const double cos_view = normal.dot(to_view);
        const double cos_lens = axis.dot(to_view);
        if (cos_view <= 0.0 || cos_lens <= 0.0 || target::hides(part_, place, place + way)) return;
        const double share = target::scatter(surface_, to_light, to_view, normal, light_) * cos_view * cos_lens *
                             receiver::area_of(r.aperture) / (distance * distance);
        take(place, through.in_plane, through.out_of_plane, power * share, path);
    }

    // Whether mirrored light goes through the aperture, and so meets the part no more; it is counted.
    bool look_along(const Vector3d& place, const Vector3d& mirrored, double power, double path) {
        const receiver::Receiver& r = optics_.receiver;
        const auto through = receiver::passage(r, place, mirrored);
        if (!through) return false;
        if (target::hides(part_, place, receiver::aperture_point(r, through->x(), through->y()))) return false;
        if (power > 0.0) take(place, through->x(), through->y(), power, path);
        return true;
    }

    const TimedOptics& optics_;
    const target::Part& part_;
    const target::Surface& surface_;
    emitter::Polarisation light_;
    Ways ways_;
    double collected_ = 0.0;
    double received_ = 0.0;
};

// Mean and spread of the ways of all light.
void measure_ways(Received& received) {
    double all = 0.0;
    double sum = 0.0;
    for (const Arrival& each : received.light.arrivals) {
        all += each.rate;
        sum += each.rate * each.delay;
    }
    if (!(all > 0.0)) return;
    const double mean = sum / all;
    double squares = 0.0;
    for (const Arrival& each : received.light.arrivals) squares += each.rate * std::pow(each.delay - mean, 2.0);
    received.mean_path = mean * base::speed_of_light;
    received.path_deviation = std::sqrt(squares / all) * base::speed_of_light;
}

}  // namespace

bool follows_thrown_light(const target::Part& part) {
    return !part.slab && !part.markings;
}

Received with_thrown_light(Received straight, const TimedOptics& optics, const target::Part& part,
                           const target::Surface& surface, std::int64_t rays, std::uint64_t seed) {
    const emitter::Beam& beam = optics.beam;
    const auto axis = target::meet(part, {beam.face, beam.direction});
    if (!axis || !target::hides_itself(part.shape)) return straight;
    Thrower thrower(optics, part, surface);
    const double power = beam.power / static_cast<double>(rays);
    for (std::int64_t i = 0; i < rays; ++i) {
        base::RandomSequence random({seed, base::Stream::ray}, i);
        std::array<double, 4> normal{};
        for (double& each : normal) each = receiver::beam_offset(random.uniform());
        thrower.follow(emitter::ray_from_face(beam, axis->distance, {normal[0], normal[1]}, {normal[2], normal[3]}),
                       power, random);
    }
    const double alone = straight.received_power;
    straight.collected_power += thrower.collected();
    straight.received_power += thrower.received();
    if (straight.received_power > 0.0 && alone > 0.0) {
        // Mirrored straight light keeps its phase; what was thrown is taken as speckled.
        const double steady = (1.0 - straight.scattered_share) * alone;
        straight.scattered_share = 1.0 - steady / straight.received_power;
    }
    std::vector<Arrival>& arrivals = straight.light.arrivals;
    const std::vector<Arrival> late = thrower.ways().arrivals(optics.electrons_per_joule);
    arrivals.insert(arrivals.end(), late.begin(), late.end());
    std::stable_sort(arrivals.begin(), arrivals.end(),
                     [](const Arrival& a, const Arrival& b) { return a.delay < b.delay; });
    measure_ways(straight);
    return straight;
}

}  // namespace spotwright::flight
