#include "sim/flight/thrown.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/flight/timed_ways.hpp"
#include "sim/receiver/ray_draw.hpp"
#include "sim/receiver/ray_follow.hpp"

namespace spotwright::flight {

namespace {

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

Received with_thrown_light(Received straight, const TimedOptics& optics, const target::Part& part,
                           const target::Surface& surface, std::int64_t rays, std::uint64_t seed) {
    const emitter::Beam& beam = optics.beam;
    const auto axis = target::meet(part, {beam.face, beam.direction});
    if (!axis || !target::hides_itself(part.shape)) return straight;
    const double alone = straight.received_power;
    Ways ways;
    const double radius = optics.detector_diameter / 2.0;
    const receiver::Collect take = [&](const receiver::CollectedRay& ray) {
        straight.collected_power += ray.power;
        if (!(std::hypot(ray.at.u, ray.at.v) <= radius)) return;
        straight.received_power += ray.power;
        ways.add(ray.path, ray.power);
    };
    const receiver::Receiver& r = optics.receiver;
    const Eigen::Vector3d place = beam.face + axis->distance * beam.direction;
    const auto at = receiver::trace(r, receiver::to_receiver(r, place), 0.0, 0.0);
    receiver::Scene scene{part, surface, r, receiver::diffraction_scale(r, beam.wavelength, at ? at->u : 0.0).across};
    scene.met_elsewhere = 1;
    receiver::RayFollower follower(scene, take);
    const double power = beam.power / static_cast<double>(rays);
    for (std::int64_t i = 0; i < rays; ++i) {
        base::RandomSequence random({seed, base::Stream::ray}, i);
        std::array<double, 4> normal{};
        for (double& each : normal) each = receiver::beam_offset(random.uniform());
        const emitter::BeamRay ray =
            emitter::ray_from_face(beam, axis->distance, {normal[0], normal[1]}, {normal[2], normal[3]});
        const double until = emitter::path_to_origin(beam, axis->distance, ray);
        follower.follow({ray, power, until, beam.polarisation}, {random.uniform(), random.uniform()}, random);
    }
    if (straight.received_power > 0.0 && alone > 0.0) {
        // Mirrored straight light keeps its phase; what was thrown is taken as speckled.
        const double steady = (1.0 - straight.scattered_share) * alone;
        straight.scattered_share = 1.0 - steady / straight.received_power;
    }
    std::vector<Arrival>& arrivals = straight.light.arrivals;
    const std::vector<Arrival> late = ways.arrivals(optics.electrons_per_joule);
    arrivals.insert(arrivals.end(), late.begin(), late.end());
    std::stable_sort(arrivals.begin(), arrivals.end(),
                     [](const Arrival& a, const Arrival& b) { return a.delay < b.delay; });
    measure_ways(straight);
    return straight;
}

}  // namespace spotwright::flight
