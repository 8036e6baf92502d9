#include "sim/measure/flight_reading.hpp"

#include <boost/math/special_functions/erf.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/motion.hpp"

namespace spotwright::measure {

namespace {

using base::pi, base::speed_of_light;

std::vector<FrequencyResult> frequency_results(const sensor::FlightInstrument& i, const sensor::PhasePlan& plan) {
    const scenario::Scenario& s = i.scenario;
    const auto buckets = static_cast<std::size_t>(s.flight.buckets);
    std::vector<FrequencyResult> results;
    for (std::size_t f = 0; f < s.flight.modulation.size(); ++f) {
        const auto measured = flight::demodulate(std::span(plan.electrons).subspan(f * buckets, buckets));
        double deviation = flight::guessed_phase_deviation;
        if (measured.amplitude > 0.0) {
            deviation = std::min(
                deviation, flight::phase_deviation(measured, s.flight.buckets, sensor::dark_variance(s.detector)));
        }
        results.push_back({s.flight.modulation[f], measured.phase, measured.amplitude, measured.offset, deviation});
    }
    return results;
}

// Chance that noise leads to the nearest other set of whole numbers, on either side of the right one.
double wrap_error_chance(const sensor::FlightInstrument& i, const std::vector<FrequencyResult>& frequencies) {
    if (frequencies.size() < 2) return 0.0;
    double variance = 0.0;
    for (const FrequencyResult& each : frequencies) variance += each.deviation * each.deviation;
    const double cycles = std::sqrt(variance / static_cast<double>(frequencies.size())) / (2.0 * pi);
    const double distance = flight::least_wrap_distance(i.scenario.flight.modulation, i.search);
    return boost::math::erfc(distance / (2.0 * std::sqrt(2.0) * cycles));
}

PulseResult pulse_result(const sensor::FlightInstrument& i, const sensor::FlightPose& pose) {
    PulseResult result;
    const double duration = sensor::pulse_duration(i.scenario.flight.pulse);
    for (const flight::Arrival& arrival : pose.light.arrivals) result.electrons += arrival.rate * duration;
    if (const auto* plan = std::get_if<flight::PulsePlan>(&pose.plan)) {
        double greatest = 0.0;  // no samples where no light comes
        for (const float sample : plan->signal) greatest = std::max(greatest, static_cast<double>(sample));
        result.noise_ratio = greatest / plan->receiver.amplifier_noise;
        result.deviation = flight::timing_deviation(*plan);
    }
    return result;
}

// Readings off by more than half of the least period, among the valid ones; and the mean of what `peak` holds.
struct SeriesCounts {
    std::int64_t wrong = 0;
    std::int64_t valid = 0;
    double peaks = 0.0;
    std::int64_t all = 0;

    // A part that moves is expected where it is.
    void add(const SeriesBlock& block, double expected, double half_period) {
        for (std::size_t k = 0; k < block.validity.size(); ++k) {
            ++all;
            peaks += static_cast<double>(block.peak[k]);
            if (block.validity[k] != reading::Validity::valid) continue;
            ++valid;
            const double there = block.moment.empty() ? expected : block.moment[k].truth;
            if (std::abs(block.displacement[k] - there) > half_period) ++wrong;
        }
    }
};

double half_period_of(const scenario::Scenario& s) {
    if (s.principle != scenario::Principle::phase_shift) return std::numeric_limits<double>::infinity();
    const double highest = *std::max_element(s.flight.modulation.begin(), s.flight.modulation.end());
    return speed_of_light / (4.0 * highest);
}

Signal signal_of(const sensor::FlightInstrument& i, const sensor::FlightPose& pose) {
    const scenario::Scenario& s = i.scenario;
    Signal signal;
    signal.received_power = pose.received.received_power;
    if (s.principle == scenario::Principle::phase_shift) {
        const double in_bucket = s.flight.gate_share * pose.timing.exposure / static_cast<double>(s.flight.buckets);
        signal.background = pose.light.constant_rate * in_bucket;
        signal.peak = brightest_bucket(pose) - signal.background;
        signal.peak_share = signal.peak / s.detector.full_well;
    } else {
        const double duration = sensor::pulse_duration(s.flight.pulse);
        for (const flight::Arrival& arrival : pose.light.arrivals) signal.peak += arrival.rate * duration;
        signal.background = pose.light.constant_rate * duration;
    }
    return signal;
}

sensor::SpeckleStatistics speckle_statistics(const sensor::FlightInstrument& i, const sensor::FlightPose& smooth,
                                             const sensor::FlightPose& still, const ReadOptions& options) {
    const scenario::Scenario& s = i.scenario;
    sensor::SpeckleStatistics result;
    result.model = scenario::SpeckleModel::statistical;
    result.patches = s.run.patches;
    result.contrast = smooth.received.scattered_share / std::sqrt(smooth.received.grains);
    result.pattern_contrast = result.size = result.limit = std::numeric_limits<double>::quiet_NaN();
    std::vector<sensor::FlightPose> patches(static_cast<std::size_t>(s.run.patches));
    base::parallel_for(s.run.patches, options.threads,
                       [&](std::int64_t p) { patches[static_cast<std::size_t>(p)] = under_patch(i, smooth, p + 1); });
    std::vector<double> readings;
    for (const sensor::FlightPose& patch : patches) {
        if (const auto found = noiseless_reading(i, patch)) readings.push_back(*found);
    }
    result.patches_read = static_cast<std::int64_t>(readings.size());
    if (readings.size() > 1) result.standard_deviation = std::sqrt(boost::math::statistics::sample_variance(readings));
    const auto here = noiseless_reading(i, still);
    const auto without = noiseless_reading(i, smooth);
    if (here && without) result.offset = *here - *without;
    const auto take = [&](std::int64_t index, sensor::Scratch&) {
        return take_reading(i, patches[patch_met(s, index, patches.size())], index);
    };
    const SeriesStatistics replaced =
        take_series(s.reading, still.timing.period, take, {s.run.readings, options.threads, {}, {}});
    result.replaced_deviation = replaced.standard_deviation;
    result.replaced_independent = std::min(replaced.independent_outputs, result.patches_read);
    result.replaced_valid_share = valid_share(replaced);
    return result;
}

FlightResult flight_result(const sensor::FlightInstrument& i, const sensor::FlightPose& pose,
                           const SeriesCounts& counts) {
    FlightResult result;
    result.unambiguous_distance = i.unambiguous_distance;
    result.path_deviation = pose.received.path_deviation;
    result.grains = pose.received.grains;
    result.pose = pose;
    if (const auto* plan = std::get_if<sensor::PhasePlan>(&pose.plan)) {
        result.frequencies = frequency_results(i, *plan);
        result.wrap_error_chance = wrap_error_chance(i, result.frequencies);
        if (counts.valid > 0) {
            result.wrong_wrap_share = static_cast<double>(counts.wrong) / static_cast<double>(counts.valid);
        }
    } else {
        result.pulse = pulse_result(i, pose);
        result.pulse->answered_share =
            counts.peaks / (static_cast<double>(counts.all) * static_cast<double>(i.scenario.flight.pulses));
    }
    return result;
}

}  // namespace

ReadResult read(const sensor::FlightInstrument& i, const ReadOptions& options) {
    const scenario::Scenario& s = i.scenario;
    const bool followed = is_followed(s);
    if (followed) require_followable(s);
    const sensor::FlightPose smooth = make_flight_pose(i, place_at(s, 0.0).along);
    const bool speckles = s.run.speckle != scenario::SpeckleModel::off && smooth.received.grains > 0.0;
    const sensor::FlightPose still = speckles ? under_patch(i, smooth, 0) : smooth;

    ReadResult result;
    result.true_displacement = still.true_displacement;
    result.timing = still.timing;
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * still.timing.period;
    result.signal = signal_of(i, still);
    SeriesCounts counts;
    const double expected = noiseless_reading(i, still).value_or(still.true_displacement);
    const auto sink = [&](const SeriesBlock& block) {
        counts.add(block, expected, half_period_of(s));
        if (options.sink) options.sink(block);
    };
    const SeriesOptions series{s.run.readings, options.threads, sink, options.progress};
    if (followed) {
        follow(s, take_moving_series(i, still.timing, speckles, series), result);
    } else {
        const auto take = [&](std::int64_t index, sensor::Scratch&) { return take_reading(i, still, index); };
        result.statistics = take_series(s.reading, still.timing.period, take, series);
    }
    if (speckles) result.speckle = speckle_statistics(i, smooth, still, options);
    result.flight = flight_result(i, still, counts);
    if (followed) {
        result.bias = result.following->mean_error;
    } else if (result.statistics.mean) {
        result.bias = *result.statistics.mean - result.true_displacement;
    }
    if (result.bias) {
        result.systematic = *result.bias - (result.speckle ? result.speckle->offset.value_or(0.0) : 0.0);
    }
    result.verdict = judge(s, result);
    return result;
}

ReadResult read(const sensor::Sensor& sensor, const ReadOptions& options) {
    return std::visit([&options](const auto& instrument) { return read(instrument, options); }, sensor);
}

}  // namespace spotwright::measure
