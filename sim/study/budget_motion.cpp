#include "sim/study/budget_motion.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>

#include "sim/measure/disturbance.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/motion.hpp"
#include "sim/measure/moving.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

namespace {

constexpr std::int64_t most_readings = 4096;

scenario::Scenario quiet_scenario(scenario::Scenario s, bool speckle) {
    constexpr double stronger = 1e6;
    s.emitter.power *= stronger;
    s.detector.full_well *= stronger;
    s.detector.read_noise = 0.0;
    s.detector.dark_current = 0.0;
    s.detector.bits = 16;
    s.surroundings.illuminance = 0.0;
    s.run.readings = std::min(s.run.readings, most_readings);
    if (!speckle) s.run.speckle = scenario::SpeckleModel::off;
    return s;
}

measure::MovingSeries series_of(sensor::TriangulationSetup setup, bool speckle, const measure::SeriesOptions& options) {
    setup.scenario = measure::undisturbed(quiet_scenario(setup.scenario, speckle));
    setup.instrument.beam.power = setup.scenario.emitter.power;
    return take_moving_series(setup, options);
}

measure::MovingSeries series_of(const sensor::FlightSetup& setup, bool speckle, const measure::SeriesOptions& options) {
    measure::require_supported_motion(setup.scenario);
    const sensor::FlightPose pose = make_flight_pose(setup, setup.scenario.target.displacement);
    sensor::FlightSetup calm = setup;
    calm.scenario = measure::undisturbed(calm.scenario);
    return take_moving_series(calm, pose.timing, speckle, options);
}

}  // namespace

MotionErrors motion_errors(const sensor::Setup& setup, bool speckle, int threads) {
    MotionErrors result;
    const scenario::Scenario& s = scenario_of(setup);
    if (!measure::is_moving_series(s)) return result;
    const std::int64_t to_settle = s.reading.average + s.reading.median - 2;
    measure::SeriesOptions options{std::min(s.run.readings, most_readings), threads, {}, {}};
    std::int64_t outputs = 0;
    options.sink = [&](const measure::SeriesBlock& block) {
        for (std::size_t i = 0; i < block.output.size(); ++i) {
            if (block.first + static_cast<std::int64_t>(i) < to_settle) continue;
            const double error = block.output[i] - block.moment[i].truth;
            ++outputs;
            if (std::isfinite(error)) result.errors.push_back(error);
        }
    };
    static_cast<void>(std::visit([&](const auto& one) { return series_of(one, speckle, options); }, setup));
    if (result.errors.size() < 2) return {};
    result.lost_share = 1.0 - static_cast<double>(result.errors.size()) / static_cast<double>(outputs);
    const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(result.errors);
    result.mean = mean;
    result.deviation = std::sqrt(variance);
    return result;
}

}  // namespace spotwright::study
