#include "sim/study/read.hpp"

#include "sim/detector/array.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::study {

ReadResult read(const Instrument& instrument, const ReadOptions& options) {
    const scenario::Scenario& s = instrument.scenario;
    const Pose pose = make_pose(instrument, s.target.displacement);

    ReadResult result;
    result.true_displacement = s.target.displacement;
    result.timing = pose.timing;
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * pose.timing.period;
    result.signal.peak = expected_peak(pose);
    result.signal.peak_share = result.signal.peak / s.detector.full_well;
    result.signal.background =
        (pose.ambient_rate + detector::dark_current_at(s.detector, s.surroundings.temperature)) * pose.timing.exposure;
    result.signal.received_power = pose.profile.received_power;
    if (s.run.speckle != scenario::SpeckleModel::off) {
        result.speckle_limit = speckle_limit(s.emitter.wavelength, receiver::object_side_na(instrument.receiver),
                                             instrument.receiver.angle - instrument.receiver.emitter_angle, 1.0);
    }
    result.statistics =
        take_series(instrument, pose, {s.run.readings, options.threads, options.sink, options.progress});
    if (result.statistics.mean) result.bias = *result.statistics.mean - result.true_displacement;
    result.verdict = judge(s, result);
    return result;
}

}  // namespace spotwright::study
