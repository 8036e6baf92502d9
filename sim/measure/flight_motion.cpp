#include "sim/measure/flight_motion.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <vector>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/motion.hpp"

namespace spotwright::measure {

using base::pi, base::speed_of_light;

void require_supported_motion(const scenario::Scenario& s) {
    constexpr const char* allowed = "motion.along_mm_per_s, motion.vibration_um, or a path without across_mm";
    constexpr const char* message = "time of flight follows a part along the mounting normal only";
    if (!s.target.segments.made_of.empty()) scenario::reject(s, "target.segments.material", message, allowed);
    if (s.motion.rotation != 0.0) scenario::reject(s, "motion.rotation_rpm", message, allowed);
    if (s.motion.eccentricity != 0.0) scenario::reject(s, "motion.eccentricity_um", message, allowed);
    if (s.motion.across != scenario::Pair{0.0, 0.0}) scenario::reject(s, "motion.across_mm_per_s", message, allowed);
    if (surface_passes(s)) scenario::reject(s, "motion.path", message, allowed);
    if (scenario::abilities_of(s.principle).exposure && s.exposure.mode == scenario::ExposureMode::automatic) {
        scenario::reject(s, "exposure.mode", "by phase, the exposure of a part that moves is fixed", "fixed");
    }
}

namespace {

// Poses of a part that moves along, at any time.
class MovingPart {
public:
    MovingPart(const sensor::FlightSetup& setup, bool speckles) : setup_(setup), speckles_(speckles) {}

    [[nodiscard]] double along(double time) const { return part_state_at(setup_.scenario, time).along; }

    [[nodiscard]] sensor::FlightPose pose_at(double time) const {
        sensor::FlightPose pose = make_flight_pose(setup_, along(time));
        if (speckles_ && pose.received.grains > 0.0) pose = under_patch(setup_, pose, 0);
        return pose;
    }

    // An upper bound of the way to and fro in a span of time: the steps between nine looks, and four amplitudes for
    // each cycle of a vibration, which may be too fast for them.
    [[nodiscard]] double way_within(double begin, double duration) const {
        constexpr int looks = 9;
        const scenario::Motion& motion = setup_.scenario.motion;
        double way = 4.0 * motion.vibration * motion.vibration_frequency * duration;
        double before = along(begin);
        for (int k = 1; k < looks; ++k) {
            const double here = along(begin + duration * k / (looks - 1));
            way += std::abs(here - before);
            before = here;
        }
        return way;
    }

private:
    const sensor::FlightSetup& setup_;
    bool speckles_;
};

// Light is taken as constant over parts of a slot in which the modulation turns by at most this: the charge that swings
// with it is then wrong by less than the square of this over 24, 0.2 %. [rad]
constexpr double turn_of_one_look = 0.2;
constexpr std::size_t most_looks = 16;

// Charges of one reading, each bucket at its own time, (motion.17).
// @return whether the motion within the slots was followed to `turn_of_one_look`.
bool expose_in_turn(const sensor::FlightSetup& i, const MovingPart& part, double begin, double exposure,
                    sensor::PhasePlan& plan) {
    const scenario::Scenario& s = i.scenario;
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    const auto slots = static_cast<std::size_t>(s.flight.buckets / s.flight.taps);
    const double duration = flight::slot_time(exposure, s.flight.buckets, s.flight.taps);
    bool followed = true;
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        for (std::size_t slot = 0; slot < slots; ++slot) {
            const double start = begin + sensor::start_of_bucket(s, exposure, f * buckets + slot);
            const double turn = 4.0 * pi * s.flight.modulation[f] * part.way_within(start, duration) / speed_of_light;
            const double wanted = std::max(1.0, std::ceil(turn / turn_of_one_look));
            followed = followed && wanted <= static_cast<double>(most_looks);
            const auto looks = static_cast<std::size_t>(std::min(wanted, static_cast<double>(most_looks)));
            const auto count = static_cast<double>(looks);
            for (std::size_t k = slot; k < buckets; k += slots) plan.electrons[f * buckets + k] = 0.0;
            for (std::size_t look = 0; look < looks; ++look) {
                const sensor::FlightPose pose =
                    part.pose_at(start + duration * (static_cast<double>(look) + 0.5) / count);
                const auto& there = std::get<sensor::PhasePlan>(pose.plan).electrons;
                for (std::size_t k = slot; k < buckets; k += slots) {
                    plan.electrons[f * buckets + k] += there[f * buckets + k] / count;
                }
            }
        }
    }
    return followed;
}

}  // namespace

double cyclic_motion_error(const scenario::Scenario& s, double speed, double exposure) {
    const auto buckets = static_cast<int>(s.flight.buckets);
    std::complex<double> sum;
    for (int k = 0; k < buckets; ++k) {
        const auto slot = static_cast<double>(flight::slot_of_bucket(k, s.flight.buckets, s.flight.taps));
        sum += slot * std::polar(1.0, 4.0 * pi * k / buckets);
    }
    return std::abs(speed) * flight::slot_time(exposure, s.flight.buckets, s.flight.taps) * std::abs(sum) / buckets;
}

MovingSeries take_moving_series(const sensor::FlightSetup& i, const detector::Timing& timing, bool speckles,
                                const SeriesOptions& options) {
    const scenario::Scenario& s = i.scenario;
    const MovingPart part(i, speckles);
    const Disturbance disturbance(i);
    detector::Timing whole = timing;
    whole.exposure *= static_cast<double>(scenario::exposures_in_period(s));
    const auto read_one = [&](SeriesBlock& block, std::size_t k) {
        const std::int64_t index = block.first + static_cast<std::int64_t>(k);
        const double begin = static_cast<double>(index) * whole.period;
        Moment& moment = block.moment[k];
        moment = {};
        moment.time = begin + 0.5 * whole.exposure;
        moment.exposure = whole.exposure;
        moment.period = whole.period;
        moment.smear = std::abs(part.along(begin + whole.exposure) - part.along(begin));
        sensor::FlightPose pose = part.pose_at(moment.time);
        const auto in_turn = [&](sensor::PhasePlan& plan) {
            moment.followed = expose_in_turn(i, part, begin, timing.exposure, plan);
        };
        const auto together = [](const auto&) {};  // the mean of pulses is that in the middle of the reading
        std::visit(base::Cases{in_turn, together}, pose.plan);
        moment.truth = pose.true_displacement;
        sensor::RawReading raw = take_reading(i, pose, index);
        disturbance.add_to(raw, begin, whole.exposure);
        put_reading(raw, k, block);
    };
    const auto take = [&](SeriesBlock& block) {
        base::parallel_for(static_cast<std::int64_t>(block.moment.size()), options.threads,
                           [&](std::int64_t k) { read_one(block, static_cast<std::size_t>(k)); });
    };
    return take_moving_series(s, take, options);
}

}  // namespace spotwright::measure
