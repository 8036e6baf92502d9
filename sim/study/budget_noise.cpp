// Lines of a budget that come from the noise of readings.
#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/parallel.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/study/line_maker.hpp"
#include "sim/study/noise_alone.hpp"

namespace spotwright::study {

// Readings under one noise alone, smoothed as the sensor does.
void LineMaker::add_series(Cause cause, double period, const measure::TakeReading& take) {
    constexpr std::int64_t least = 2048;
    constexpr std::int64_t windows = 64;
    scenario::Reading bounded = s_.reading;
    bounded.average = std::min(bounded.average, longest_window);
    bounded.median = std::min(bounded.median, longest_window - 1);
    bounded.on_invalid = scenario::OnInvalid::mark;
    const std::int64_t window = bounded.average + bounded.median - 1;
    const std::int64_t readings = std::max(least, windows * window);
    const measure::SeriesStatistics statistics =
        measure::take_series(bounded, period, take, {readings, threads_, {}, {}});
    const double independent = static_cast<double>(statistics.outputs) / static_cast<double>(window);
    add(cause, Evaluation::a, {0.0, statistics.standard_deviation.value_or(0.0)}, std::max(1.0, independent - 1.0),
        fmt::format("{} readings with this noise alone", readings));
}

void LineMaker::add_noise(const sensor::TriangulationSetup& setup) {
    const sensor::Pose pose = make_pose(setup, nominal_.displacement, threads_);
    struct Source {
        NoiseSource source;
        Cause cause;
    };
    for (const auto& [source, cause] :
         {Source{NoiseSource::shot, Cause::shot_noise}, Source{NoiseSource::read, Cause::read_noise},
          Source{NoiseSource::ambient, Cause::ambient_noise}}) {
        const sensor::Pose alone = with_noise_alone(setup, pose, source, pose.ambient_rate);
        add_series(cause, pose.timing.period, [&setup, &alone](std::int64_t index, sensor::Scratch& scratch) {
            return take_reading(setup, alone, index, scratch);
        });
    }
    if (pose.jitter > 0.0) {
        sensor::Pose alone = with_noise_alone(setup, pose, NoiseSource::none, pose.ambient_rate);
        alone.jitter = pose.jitter;
        add_series(Cause::pointing, pose.timing.period, [&setup, &alone](std::int64_t index, sensor::Scratch& scratch) {
            return take_reading(setup, alone, index, scratch);
        });
    }
    add_background(setup, pose);
    add_digitising(setup);
}

void LineMaker::add_noise(const sensor::FlightSetup& setup) {
    sensor::FlightPose pose = make_flight_pose(setup, nominal_.displacement);
    if (has_clock(pose)) pose.neighbour.reset();  // its beat has a line of its own; its mean light stays
    add_series(Cause::timing_noise, pose.timing.period,
               [&](std::int64_t index, sensor::Scratch&) { return take_reading(setup, pose, index); });
}

// Backgrounds measured again and again, each over the scenario's number of frames.
void LineMaker::add_background(const sensor::TriangulationSetup& setup, const sensor::Pose& pose) {
    constexpr std::int64_t count = 64;
    std::vector<double> readings(count, std::numeric_limits<double>::quiet_NaN());
    base::parallel_for(count, threads_, [&](std::int64_t i) {
        sensor::TriangulationSetup other = setup;
        other.scenario.seed = (other.scenario.seed ^ (i + 1)) & std::numeric_limits<std::int64_t>::max();
        sensor::Pose measured = pose;
        settle_exposure(other, measured);
        const sensor::Pose alone = with_background_alone(other, measured);
        sensor::Scratch scratch;
        const sensor::RawReading raw = take_reading(other, alone, 0, scratch);
        if (raw.validity == reading::Validity::valid) readings[static_cast<std::size_t>(i)] = raw.displacement;
    });
    readings.erase(std::remove_if(readings.begin(), readings.end(), [](double r) { return std::isnan(r); }),
                   readings.end());
    if (readings.size() < 2) return;
    const double deviation = std::sqrt(boost::math::statistics::sample_variance(readings));
    add(Cause::background, Evaluation::a, {0.0, deviation}, static_cast<double>(readings.size()) - 1.0,
        fmt::format("{} backgrounds of {} laser-off frames", readings.size(), s_.reading.background_frames));
}

// What rounding to digits does at places over a pixel's worth of displacement.
void LineMaker::add_digitising(const sensor::TriangulationSetup& setup) {
    constexpr std::int64_t count = 16;
    const double pixel =
        setup.instrument.receiver.pitch / receiver::sensitivity_at(setup.instrument.receiver, nominal_.displacement);
    std::vector<double> errors(count, 0.0);
    base::parallel_for(count, threads_, [&](std::int64_t i) {
        const double at = nominal_.displacement + pixel * ((static_cast<double>(i) + 0.5) / count - 0.5);
        const sensor::Pose pose = make_pose(setup, at, 1);
        const sensor::Pose rounded = with_noise_alone(setup, pose, NoiseSource::digitising, pose.ambient_rate);
        sensor::Scratch scratch;
        const sensor::RawReading raw = take_reading(setup, rounded, 0, scratch);
        const auto exact = quiet_reading(setup, pose, pose.ambient_rate);
        if (exact && raw.validity == reading::Validity::valid) {
            errors[static_cast<std::size_t>(i)] = raw.displacement - *exact;
        }
    });
    add(Cause::digitising, Evaluation::b, {0.0, std::sqrt(boost::math::statistics::variance(errors))}, endless,
        fmt::format("{} bits without other noise, at {} places over a pixel", s_.detector.bits, count));
}

}  // namespace spotwright::study
