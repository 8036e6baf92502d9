#include "sim/measure/flight_reading.hpp"

#include <boost/math/special_functions/erf.hpp>
#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/random.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/measure/flight_motion.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/motion.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::measure {

namespace {

using base::Cases, base::pi, base::speed_of_light;

std::vector<FrequencyResult> frequency_results(const sensor::FlightSetup& i, const sensor::PhasePlan& plan) {
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

// Probability that noise leads to the nearest other set of whole numbers, on either side of the right one.
double wrap_error_chance(const sensor::FlightSetup& i, const std::vector<FrequencyResult>& frequencies) {
    if (frequencies.size() < 2) return 0.0;
    double variance = 0.0;
    for (const FrequencyResult& each : frequencies) variance += each.deviation * each.deviation;
    const double cycles = std::sqrt(variance / static_cast<double>(frequencies.size())) / (2.0 * pi);
    const double distance = flight::min_wrap_distance(i.scenario.flight.modulation, i.instrument.search);
    return boost::math::erfc(distance / (2.0 * std::sqrt(2.0) * cycles));
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

double half_period_of(const sensor::FlightSetup& i) {
    const auto of_phases = [&i](const sensor::PhaseConstants&) {
        const std::vector<double>& modulation = i.scenario.flight.modulation;
        return speed_of_light / (4.0 * *std::max_element(modulation.begin(), modulation.end()));
    };
    const auto of_pulses = [](const sensor::PulseConstants&) { return std::numeric_limits<double>::infinity(); };
    return std::visit(Cases{of_phases, of_pulses}, i.instrument.constants);
}

Signal signal_of(const sensor::FlightSetup& i, const sensor::FlightPose& pose) {
    const scenario::Scenario& s = i.scenario;
    Signal signal;
    signal.received_power = pose.received.received_power;
    const auto of_buckets = [&](const sensor::PhasePlan&) {
        const double in_bucket =
            s.flight.gate_share * flight::slot_time(pose.timing.exposure, s.flight.buckets, s.flight.taps);
        signal.background = pose.light.constant_rate * in_bucket;
        signal.lamps = pose.lamp_rate * in_bucket;
        signal.peak = brightest_bucket(pose) - signal.background;
        signal.peak_share = signal.peak / s.detector.full_well;
    };
    const auto of_pulses = [&](const auto&) {
        const double duration = sensor::pulse_duration(s.flight.pulse);
        for (const flight::Arrival& arrival : pose.light.arrivals) signal.peak += arrival.rate * duration;
        signal.background = pose.light.constant_rate * duration;
        signal.lamps = pose.lamp_rate * duration;
    };
    std::visit(Cases{of_buckets, of_pulses}, pose.plan);
    return signal;
}

sensor::SpeckleStatistics speckle_statistics(const sensor::FlightSetup& i, const sensor::FlightPose& smooth,
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
    const Disturbance disturbance(i);
    const double whole = still.timing.exposure * static_cast<double>(scenario::exposures_in_period(s));
    const auto take = [&](std::int64_t index, sensor::Scratch&) {
        sensor::RawReading raw = take_reading(i, patches[patch_met(s, index, patches.size())], index);
        disturbance.add_to(raw, static_cast<double>(index) * still.timing.period, whole);
        return raw;
    };
    const SeriesStatistics replaced =
        take_series(s.reading, still.timing.period, take, {s.run.readings, options.threads, {}, {}});
    result.replaced_deviation = replaced.standard_deviation;
    result.replaced_independent = std::min(replaced.independent_outputs, result.patches_read);
    result.replaced_valid_share = valid_share(replaced);
    return result;
}

PhaseDetails phase_details(const sensor::FlightSetup& i, TimedLight light, const sensor::PhasePlan& plan,
                           const SeriesCounts& counts) {
    PhaseDetails details;
    details.light = std::move(light);
    details.frequencies = frequency_results(i, plan);
    details.wrap_error_chance = wrap_error_chance(i, details.frequencies);
    if (counts.valid > 0) {
        details.wrong_wrap_share = static_cast<double>(counts.wrong) / static_cast<double>(counts.valid);
    }
    return details;
}

PulseDetails pulse_details(const sensor::FlightSetup& i, TimedLight light, const SeriesCounts& counts) {
    PulseDetails details;
    details.light = std::move(light);
    const double duration = sensor::pulse_duration(i.scenario.flight.pulse);
    for (const flight::Arrival& arrival : details.light.pose.light.arrivals) {
        details.electrons += arrival.rate * duration;
    }
    details.answered_share =
        counts.peaks / (static_cast<double>(counts.all) * static_cast<double>(i.scenario.flight.pulses));
    return details;
}

// Height of a pulse of all arrivals together, as a linear amplifier would give it, over the saturation.
double overload(const flight::PulseReceiver& r, const flight::Light& light) {
    if (r.saturation <= 0.0) return 0.0;
    double rate = 0.0;
    for (const flight::Arrival& arrival : light.arrivals) rate += arrival.rate;
    const double whole = flight::signal_deviation(r);
    const double own = std::sqrt(whole * whole - std::pow(flight::response_deviation(r.bandwidth), 2));
    return rate * own / whole / r.saturation;
}

Details details_of(const sensor::FlightSetup& i, const sensor::FlightPose& pose, const SeriesCounts& counts) {
    const auto& table = i.instrument.intensity_table;
    const TimedLight light{i.instrument.unambiguous_distance,
                           pose.received.path_deviation,
                           pose.received.grains,
                           brightness_of(i, pose),
                           table ? reach_of(i, table->left) : 0.0,
                           pose};
    const auto of_phases = [&](const sensor::PhasePlan& plan) -> Details {
        return phase_details(i, light, plan, counts);
    };
    const auto of_comparator = [&](const flight::PulsePlan& plan) -> Details {
        PulseDetails details = pulse_details(i, light, counts);
        double greatest = 0.0;  // no samples where no light comes
        for (const float sample : plan.signal) greatest = std::max(greatest, static_cast<double>(sample));
        details.noise_ratio = greatest / plan.receiver.amplifier_noise;
        details.deviation = flight::timing_deviation(plan);
        details.overload = overload(plan.receiver, pose.light);
        return details;
    };
    const auto of_photons = [&](const flight::CountingPlan&) -> Details { return pulse_details(i, light, counts); };
    return std::visit(Cases{of_phases, of_comparator, of_photons}, pose.plan);
}

// What markings of a part at rest bring to its reading.
std::optional<double> marking_error(const sensor::FlightSetup& setup, const sensor::FlightPose& smooth) {
    if (!scenario::has_markings(setup.scenario.target)) return std::nullopt;
    sensor::FlightSetup plain = setup;
    scenario::remove_markings(plain.scenario.target);
    const auto with = noiseless_reading(setup, smooth);
    const auto without = noiseless_reading(plain, make_flight_pose(plain, smooth.displacement));
    if (!with || !without) return std::nullopt;
    return *with - *without;
}

// Notes what a second sensor brings, and takes out of the bias what the clocks happened to bring over the series.
void note_neighbour(const sensor::FlightSetup& i, const sensor::FlightPose& pose, ReadResult& result) {
    const std::vector<double> errors = neighbour_errors(i, pose);
    if (errors.empty()) return;
    result.neighbour_shift = boost::math::statistics::mean(errors);
    if (!has_clock(pose)) return;
    result.neighbour_scatter = std::sqrt(boost::math::statistics::sample_variance(errors));
    const auto alone = noiseless_reading(i, pose);
    if (!result.systematic || !alone) return;
    const std::int64_t most = std::holds_alternative<sensor::PhasePlan>(pose.plan) ? 512 : 64;
    const std::int64_t count = std::min(most, i.scenario.run.readings);
    double sum = 0.0;
    double found = 0.0;
    for (std::int64_t k = 0; k < count; ++k) {
        if (const auto met = noiseless_reading_at(i, pose, k * i.scenario.run.readings / count)) {
            sum += *met - *alone;
            found += 1.0;
        }
    }
    if (found > 0.0) *result.systematic += result.neighbour_shift - sum / found;
}

}  // namespace

ReadResult read(const sensor::FlightSetup& i, const ReadOptions& options) {
    const scenario::Scenario& s = i.scenario;
    const bool over_time = is_moving_series(s);
    if (over_time) require_supported_motion(s);
    const sensor::FlightPose smooth = make_flight_pose(i, part_state_at(s, 0.0).along);
    const bool speckles = s.run.speckle != scenario::SpeckleModel::off && smooth.received.grains > 0.0;
    const sensor::FlightPose still = speckles ? under_patch(i, smooth, 0) : smooth;

    ReadResult result;
    result.true_displacement = still.true_displacement;
    result.timing = still.timing;
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * still.timing.period;
    result.signal = signal_of(i, still);
    const Disturbance disturbance(i);
    detector::Timing whole = still.timing;
    whole.exposure *= static_cast<double>(scenario::exposures_in_period(s));
    SeriesCounts counts;
    const double expected = noiseless_reading(i, still).value_or(still.true_displacement);
    const auto sink = [&](const SeriesBlock& block) {
        counts.add(block, expected, half_period_of(i));
        if (options.sink) options.sink(block);
    };
    const SeriesOptions series{s.run.readings, options.threads, sink, options.progress};
    if (over_time) {
        follow(s, take_moving_series(i, still.timing, speckles, series), result);
    } else {
        const auto take = [&](std::int64_t index, sensor::Scratch&) {
            sensor::RawReading raw = take_reading(i, still, index);
            disturbance.add_to(raw, static_cast<double>(index) * whole.period, whole.exposure);
            return raw;
        };
        result.statistics = take_series(s.reading, still.timing.period, take, series);
    }
    if (speckles) result.speckle = speckle_statistics(i, smooth, still, options);
    result.details = details_of(i, still, counts);
    if (over_time) {
        result.bias = result.tracking->mean_error;
    } else if (result.statistics.mean) {
        result.bias = *result.statistics.mean - result.true_displacement;
    }
    if (result.bias) {
        result.systematic = *result.bias - (result.speckle ? result.speckle->offset.value_or(0.0) : 0.0);
    }
    note_disturbance(s, disturbance, whole, result);
    note_neighbour(i, still, result);
    if (!over_time) result.marking_error = marking_error(i, smooth);
    const auto lit = target::meet(sensor::part_of(s, smooth.displacement),
                                  {i.instrument.optics.beam.face, i.instrument.optics.beam.direction});
    if (lit) result.spot_radius = emitter::radius_at(i.instrument.optics.beam, 0, lit->distance);
    result.verdict = judge(s, result);
    return result;
}

}  // namespace spotwright::measure
