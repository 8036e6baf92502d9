#include "sim/measure/flight_motion.hpp"

#include <cmath>

#include "sim/base/parallel.hpp"
#include "sim/measure/motion.hpp"

namespace spotwright::measure {

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

MovingSeries take_moving_series(const sensor::FlightSetup& i, const detector::Timing& timing, bool speckles,
                                const SeriesOptions& options) {
    const scenario::Scenario& s = i.scenario;
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
        moment.smear = std::abs(part_state_at(s, begin + whole.exposure).along - part_state_at(s, begin).along);
        sensor::FlightPose pose = make_flight_pose(i, part_state_at(s, moment.time).along);
        if (speckles && pose.received.grains > 0.0) pose = under_patch(i, pose, 0);
        moment.truth = pose.true_displacement;
        put_reading(take_reading(i, pose, index), k, block);
    };
    const auto take = [&](SeriesBlock& block) {
        base::parallel_for(static_cast<std::int64_t>(block.moment.size()), options.threads,
                           [&](std::int64_t k) { read_one(block, static_cast<std::size_t>(k)); });
    };
    return take_moving_series(s, take, options);
}

}  // namespace spotwright::measure
