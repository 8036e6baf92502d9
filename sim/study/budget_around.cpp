#include "sim/study/budget_around.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/study/draw.hpp"
#include "sim/study/noise_alone.hpp"

namespace spotwright::study {

namespace {

// Readings without noise at times spread over the beat of both clocks, less the reading without the other light.
std::vector<double> neighbour_errors(const sensor::TriangulationSetup& setup, const sensor::Pose& pose) {
    const bool has_clock = setup.scenario.neighbour.timing == scenario::NeighbourTiming::free;
    if (pose.neighbour.empty() || !has_clock) return {};
    const auto alone = quiet_reading(setup, pose, pose.ambient_rate);
    if (!alone) return {};
    const sensor::Pose quiet = with_noise_alone(setup, pose, NoiseSource::none, pose.ambient_rate);
    sensor::Pose lit = quiet;
    constexpr std::int64_t count = 1024;
    std::vector<double> errors;
    sensor::Scratch scratch;
    for (std::int64_t i = 0; i < count; ++i) {
        const double begin = static_cast<double>(i) * pose.timing.period;
        const auto met = static_cast<float>(sensor::met_light(setup.scenario.neighbour, begin, pose.timing.exposure));
        if (met == 0.0F) {
            errors.push_back(0.0);
            continue;
        }
        for (std::size_t k = 0; k < lit.expected.offset.size(); ++k) {  // an offset has no noise of its own
            lit.expected.offset[k] =
                quiet.expected.offset[k] + met * pose.neighbour[k] * setup.instrument.pattern.response[k];
        }
        const sensor::RawReading raw = take_reading(setup, lit, 0, scratch);
        if (raw.validity == reading::Validity::valid) errors.push_back(raw.displacement - *alone);
    }
    return errors;
}

}  // namespace

double AroundErrors::drawn(base::RandomSequence& random) const {
    const boost::math::normal_distribution<double> normal;
    double error = 0.0;
    if (disturbed.hot_air > 0.0) error += disturbed.hot_air * boost::math::quantile(normal, random.uniform());
    if (disturbed.mount > 0.0) {
        error += std::sqrt(2.0) * disturbed.mount * std::cos(2.0 * base::pi * random.uniform());
    }
    if (neighbour.empty()) return error;
    double sum = 0.0;
    for (std::int64_t k = 0; k < average; ++k) {
        sum += neighbour[static_cast<std::size_t>(static_cast<double>(neighbour.size()) * random.uniform())];
    }
    return error + sum / static_cast<double>(average);
}

AroundErrors around_errors(const sensor::Setup& setup) {
    AroundErrors around;
    const scenario::Scenario& scenario = sensor::scenario_of(setup);
    if (scenario.neighbour.power == 0.0 && scenario.surroundings.hot_air_structure == 0.0 &&
        scenario.motion.mount_vibration == 0.0) {
        return around;
    }
    around.average = std::min(scenario.reading.average, longest_window);
    const auto on_array = [&](const sensor::TriangulationSetup& each) {
        const sensor::Pose pose = make_pose(each, each.scenario.target.displacement, 1);
        around.disturbed = measure::Disturbance(each).deviations(pose.timing, around.average);
        around.neighbour = neighbour_errors(each, pose);
    };
    const auto timed = [&](const sensor::FlightSetup& each) {
        const sensor::FlightPose pose = make_flight_pose(each, each.scenario.target.displacement);
        if (has_clock(pose)) around.neighbour = neighbour_errors(each, pose);
        detector::Timing whole = pose.timing;
        whole.exposure *= static_cast<double>(scenario::exposures_in_period(each.scenario));
        around.disturbed = measure::Disturbance(each).deviations(whole, around.average);
        around.average = 1;  // errors of outputs
    };
    std::visit(base::Cases{on_array, timed}, setup);
    if (around.neighbour.size() > 1) {
        const auto [mean, variance] = boost::math::statistics::mean_and_sample_variance(around.neighbour);
        around.neighbour_mean = mean;
        around.neighbour_deviation = std::sqrt(variance / static_cast<double>(around.average));
    }
    return around;
}

}  // namespace spotwright::study
