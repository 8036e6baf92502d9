#include "random_scenes/timed_rays.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/receiver/diffraction.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_follow.hpp"
#include "sim/receiver/ray_model.hpp"

namespace spotwright::test {

namespace {

using receiver::ray_batches;

// Sums over the light of some rays; ways count from a length near all of them.
struct Sums {
    double power = 0.0;
    double first = 0.0;
    double second = 0.0;
    std::complex<double> phasor;

    void add(double received, double beyond, double per_length) {
        power += received;
        first += received * beyond;
        second += received * beyond * beyond;
        phasor += received * std::polar(1.0, per_length * beyond);
    }
    Sums& operator+=(const Sums& other) {
        power += other.power;
        first += other.first;
        second += other.second;
        phasor += other.phasor;
        return *this;
    }
    Sums operator-(const Sums& other) const {
        return {power - other.power, first - other.first, second - other.second, phasor - other.phasor};
    }

    [[nodiscard]] double path() const { return first / power; }
    [[nodiscard]] double deviation() const { return std::sqrt(std::max(0.0, second / power - path() * path())); }
    [[nodiscard]] double phase_path(double per_length) const { return std::arg(phasor) / per_length; }
};

// The jackknife: each batch is left out in turn. A batch with all of the light tells nothing.
template <class Of>
Measured by_jackknife(const std::vector<Sums>& batches, const Sums& all, const Of& of) {
    Measured result{of(all), 0.0};
    double spread = 0.0;
    for (const Sums& batch : batches) {
        const Sums rest = all - batch;
        if (rest.power > 1e-9 * all.power) spread += std::pow(of(rest) - result.value, 2);
    }
    const auto n = static_cast<double>(batches.size());
    result.error = std::sqrt((n - 1.0) / n * spread);
    return result;
}

// How offsets along one axis of the beam are drawn: three quarters of them from the stretch that the detector sees, if
// that is a small part of the beam.
receiver::RowOffsets seen_offsets(const flight::TimedOptics& optics, double along,
                                  const std::optional<target::Hit>& hit, std::size_t axis) {
    receiver::RowOffsets seen;
    if (!hit) return seen;
    const emitter::Beam& beam = optics.beam;
    const receiver::Receiver& r = optics.receiver;
    const target::Part plane = target::plane_through(beam.face + along * beam.direction, hit->normal);
    const auto landing = [&](double offset, double rim) -> std::optional<double> {
        const std::array<double, 2> offsets{axis == 0 ? offset : 0.0, axis == 0 ? 0.0 : offset};
        const emitter::BeamRay ray = emitter::ray_from_face(beam, along, offsets);
        const auto at = target::meet(plane, ray);
        if (!at) return std::nullopt;
        const auto place = receiver::trace(r, receiver::to_receiver(r, ray.origin + at->distance * ray.direction),
                                           axis == 0 ? rim * r.aperture.half_in_plane : 0.0,
                                           axis == 0 ? 0.0 : rim * r.aperture.half_out_of_plane);
        if (!place) return std::nullopt;
        return axis == 0 ? place->u : place->v;
    };
    constexpr double step = 0.1;
    const auto middle = landing(0.0, 0.0);
    const auto beside = landing(step, 0.0);
    const auto rim = landing(0.0, 1.0);
    if (!middle || !beside || !rim || *beside == *middle) return seen;
    const double per_offset = (*beside - *middle) / step;
    seen.centre = -*middle / per_offset;
    seen.half_width = (0.5 * optics.detector_diameter + std::abs(*rim - *middle)) / std::abs(per_offset);
    constexpr double most_of_beam = 0.5;
    constexpr double farthest = 3.0;
    if (seen.half_width < most_of_beam && std::abs(seen.centre) < farthest) seen.share = 0.75;
    return seen;
}

class Launcher {
public:
    Launcher(const flight::TimedOptics& optics, const target::Part& part) : beam_(optics.beam) {
        const auto hit = target::meet(part, {beam_.face, beam_.direction});
        along_ = hit ? hit->distance : beam_.face.norm();
        offsets_ = {seen_offsets(optics, along_, hit, 0), seen_offsets(optics, along_, hit, 1)};
        const Eigen::Vector3d place = beam_.face + along_ * beam_.direction;
        const receiver::Receiver& r = optics.receiver;
        near_all_ = along_ + (receiver::aperture_point(r, 0.0, 0.0) - place).norm();
        const auto at = receiver::trace(r, receiver::to_receiver(r, place), 0.0, 0.0);
        diffraction_ = receiver::diffraction_scale(r, beam_.wavelength, at ? at->u : 0.0).across;
    }

    // Offsets count where the axis meets the part. Light is in step at the waist, from where a ray inclined by t has
    // come (along - waist) / cos t until there, and it counts as beginning `along` before.
    [[nodiscard]] receiver::LaunchedRay launch(const std::array<double, receiver::ray_dimensions>& point,
                                               double power) const {
        const receiver::Weighed x = offsets_[0].draw(point[0]);
        const receiver::Weighed y = offsets_[1].draw(point[1]);
        receiver::LaunchedRay launched;
        launched.ray = emitter::ray_from_face(beam_, along_, {x.value, y.value},
                                              {receiver::beam_offset(point[2]), receiver::beam_offset(point[3])});
        launched.power = power * x.weight * y.weight;
        launched.path = (along_ - beam_.waist_along) * (1.0 / launched.ray.direction.dot(beam_.direction) - 1.0);
        launched.light = beam_.polarisation;
        return launched;
    }

    [[nodiscard]] double near_all() const { return near_all_; }
    [[nodiscard]] double diffraction() const { return diffraction_; }

private:
    const emitter::Beam& beam_;
    double along_ = 0.0;
    std::array<receiver::RowOffsets, 2> offsets_;
    double near_all_ = 0.0;
    double diffraction_ = 0.0;
};

double phase_per_length(double frequency) {
    return 2.0 * base::pi * frequency / base::speed_of_light;
}

}  // namespace

TimedLight follow_timed_rays(const flight::TimedOptics& optics, const target::Part& part,
                             const target::Surface& surface, const TimedRayOptions& options) {
    const Launcher launcher(optics, part);
    const receiver::Scene scene{part, surface, optics.receiver, launcher.diffraction(), options.interreflection};
    const std::int64_t rays = (options.rays + ray_batches - 1) / ray_batches;
    const double power = optics.beam.power / static_cast<double>(rays);
    const double per_length = phase_per_length(options.frequency);
    std::vector<Sums> batches(static_cast<std::size_t>(ray_batches));
    base::parallel_for(ray_batches, options.threads, [&](std::int64_t batch) {
        Sums& sums = batches[static_cast<std::size_t>(batch)];
        const receiver::Collect collect = [&](const receiver::CollectedRay& ray) {
            if (!(std::hypot(ray.at.u, ray.at.v) <= 0.5 * optics.detector_diameter)) return;
            sums.add(ray.power, ray.path - launcher.near_all(), per_length);
        };
        receiver::RayFollower follower(scene, collect);
        receiver::RayPoints points(options.seed, batch);
        for (std::int64_t i = 0; i < rays; ++i) {
            const auto point = points.next();
            base::RandomSequence random({options.seed, base::Stream::ray}, batch * rays + i);
            const receiver::LaunchedRay launched = launcher.launch(point, power);
            if (launched.power > 0.0) follower.follow(launched, {point[4], point[5]}, random);
        }
    });
    Sums all;
    for (const Sums& batch : batches) all += batch;
    TimedLight light;
    const auto n = static_cast<double>(ray_batches);
    light.received.value = all.power / n;
    double squares = 0.0;
    for (const Sums& batch : batches) squares += std::pow(batch.power - light.received.value, 2);
    light.received.error = std::sqrt(squares / (n * (n - 1.0)));
    light.lit = all.power > 0.0;
    if (!light.lit) return light;
    light.path = by_jackknife(batches, all, [](const Sums& sums) { return sums.path(); });
    light.deviation = by_jackknife(batches, all, [](const Sums& sums) { return sums.deviation(); });
    light.phase_path = by_jackknife(batches, all, [&](const Sums& sums) { return sums.phase_path(per_length); });
    light.path.value += launcher.near_all();
    light.phase_path.value += launcher.near_all();
    return light;
}

TimedLight timed_light(const flight::TimedOptics& optics, const flight::Received& received, double frequency) {
    TimedLight light;
    light.received.value = received.received_power;
    light.lit = received.received_power > 0.0;
    if (!light.lit) return light;
    light.path.value = received.mean_path;
    light.deviation.value = received.path_deviation;
    const double per_length = phase_per_length(frequency);
    Sums sums;
    for (const flight::Arrival& arrival : received.light.arrivals) {
        sums.add(arrival.rate / optics.electrons_per_joule, arrival.delay * base::speed_of_light - received.mean_path,
                 per_length);
    }
    light.phase_path.value = received.mean_path + sums.phase_path(per_length);
    return light;
}

}  // namespace spotwright::test
