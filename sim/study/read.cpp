#include "sim/study/read.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <cmath>

#include "sim/detector/array.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/study/layout.hpp"

namespace spotwright::study {

namespace {

// Share of the reflected light that is scattered, and so makes speckle: all of it but a polished metal's or glass's
// with nothing behind.
double scattered_share(const scenario::Scenario& s) {
    const target::Surface surface = target::make_surface(s.material, s.emitter.wavelength);
    const bool rough_backing = s.backing && !s.backing->reflectance.wavelength.empty();
    if (!surface.gloss || surface.reflectance > 0.0 || surface.volume || rough_backing) return 1.0;
    return 1.0 - target::mirror_share(*surface.gloss, 1.0);
}

}  // namespace

std::optional<double> pixel_error(const Instrument& instrument, double displacement) {
    constexpr int places = 9;
    const auto [near, far] = instrument.scenario.mount.range;
    const double spacing = calibration_spacing(near, far);
    std::vector<double> errors;
    for (int i = 0; i < places; ++i) {
        const double at = displacement + spacing * (static_cast<double>(i) / places - 0.5);
        const auto truth = target::lit_displacement(instrument.scenario, at);
        const auto found = noiseless_reading(instrument, at);
        if (truth && found) errors.push_back(*found - *truth);
    }
    if (errors.size() < 2) return std::nullopt;
    return std::sqrt(boost::math::statistics::variance(errors));
}

ReadResult read(const Instrument& instrument, const ReadOptions& options) {
    const scenario::Scenario& s = instrument.scenario;
    const Pose pose = make_pose(instrument, s.target.displacement, options.threads);

    ReadResult result;
    result.true_displacement = pose.true_displacement;
    result.timing = pose.timing;
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * pose.timing.period;
    result.signal.peak = expected_peak(pose);
    result.signal.peak_share = result.signal.peak / s.detector.full_well;
    result.signal.background =
        (pose.ambient_rate + detector::dark_current_at(s.detector, s.surroundings.temperature)) * pose.timing.exposure;
    result.signal.received_power = pose.profile.received_power;
    if (s.run.speckle != scenario::SpeckleModel::off) {
        result.speckle_limit = scattered_share(s) *
                               speckle_limit_at(instrument.receiver, s.emitter.wavelength, pose.true_displacement, 1.0);
    }
    result.statistics =
        take_series(instrument, pose, {s.run.readings, options.threads, options.sink, options.progress});
    result.model_error = pose.model_error;
    // Nine images of the ray model would cost nine times its rays, and their own scatter would hide the error.
    if (s.run.model == scenario::LightModel::spot) {
        result.pixel_error = pixel_error(instrument, s.target.displacement);
    }
    if (result.statistics.mean) result.bias = *result.statistics.mean - result.true_displacement;
    result.verdict = judge(s, result);
    return result;
}

}  // namespace spotwright::study
