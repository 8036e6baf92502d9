#include "sim/bench/model.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::bench {

namespace {

using AnyPose = std::variant<sensor::Pose, sensor::FlightPose>;

constexpr std::int64_t patches_looked_at = 16;
constexpr std::int64_t readings_of_patch = 1024;
constexpr std::int64_t readings_of_place = 64;

std::vector<AnyPose> poses_of(const sensor::Instrument& original, int threads) {
    sensor::Instrument instrument = original;
    instrument.scenario.run.patches = patches_looked_at;
    const double displacement = instrument.scenario.target.displacement;
    const sensor::Pose smooth = make_pose(instrument, displacement, threads);
    const auto speckle = make_speckle(instrument, displacement, smooth.profile);
    if (!speckle) return {smooth};
    const sensor::Pose still = frozen_pose(instrument, smooth, *speckle);
    std::vector<AnyPose> poses;
    for (sensor::Pose& pose : poses_of_patches(instrument, still, smooth.profile, *speckle, threads)) {
        poses.emplace_back(std::move(pose));
    }
    return poses;
}

// Thousands of patterns add up on the detector of time of flight: none of them stands out.
std::vector<AnyPose> poses_of(const sensor::FlightInstrument& instrument, int /*threads*/) {
    return {make_flight_pose(instrument, instrument.scenario.target.displacement)};
}

sensor::Pose at_light(const sensor::Instrument& instrument, sensor::Pose pose, double factor) {
    for (float& rate : pose.profile.rate) rate *= static_cast<float>(factor);
    pose.ambient_rate *= factor;
    settle_exposure(instrument, pose);
    expose_pose(instrument, pose);
    return pose;
}

sensor::FlightPose at_light(const sensor::FlightInstrument& instrument, sensor::FlightPose pose, double factor) {
    flight::Light light = pose.received.light;
    for (flight::Arrival& arrival : light.arrivals) arrival.rate *= factor;
    pose.light = as_timed(instrument, light);
    pose.plan = plan_of(instrument, pose.light, pose.timing.exposure);
    return pose;
}

sensor::RawReading taken(const sensor::Instrument& instrument, const sensor::Pose& pose, std::int64_t index,
                         sensor::Scratch& scratch) {
    return take_reading(instrument, pose, index, scratch);
}

sensor::RawReading taken(const sensor::FlightInstrument& instrument, const sensor::FlightPose& pose, std::int64_t index,
                         sensor::Scratch& /*scratch*/) {
    return take_reading(instrument, pose, index);
}

struct OfPatch {
    double valid = 0.0;
    std::optional<double> variance;
    std::int64_t independent = 0;
    std::optional<double> peak;
};

template <class AnyInstrument, class PoseOfIt>
OfPatch read_patch(const AnyInstrument& instrument, const PoseOfIt& pose, std::int64_t patch) {
    OfPatch result;
    double peaks = 0.0;
    double count = 0.0;
    const auto add_peaks = [&](const measure::SeriesBlock& block) {
        for (std::size_t i = 0; i < block.peak.size(); ++i) {
            if (block.validity[i] != reading::Validity::valid) continue;
            peaks += static_cast<double>(block.peak[i]);
            count += 1.0;
        }
    };
    const auto take = [&](std::int64_t index, sensor::Scratch& scratch) {
        return taken(instrument, pose, patch * readings_of_patch + index, scratch);
    };
    const measure::SeriesStatistics s = measure::take_series(instrument.scenario.reading, pose.timing.period, take,
                                                             {readings_of_patch, 1, add_peaks, {}});
    result.valid = count / static_cast<double>(readings_of_patch);
    result.independent = s.independent_outputs;
    if (s.standard_deviation && s.independent_outputs > 1) result.variance = std::pow(*s.standard_deviation, 2);
    if (count > 0.0) result.peak = peaks / count;
    return result;
}

// Mean over patches, and the standard uncertainty with which it stands for one that is not known. `noise`: variance of
// a single value from its finite series.
struct Typical {
    double mean = 0.0;
    double error = 0.0;
};

std::optional<Typical> typical(const std::vector<double>& values, double noise_share) {
    if (values.empty()) return std::nullopt;
    const auto n = static_cast<double>(values.size());
    Typical result{boost::math::statistics::mean(values), 0.0};
    const double noise = std::pow(noise_share * result.mean, 2);
    double spread = 0.0;
    if (values.size() > 1) spread = std::max(0.0, boost::math::statistics::sample_variance(values) - noise);
    result.error = std::sqrt(spread * (1.0 + 1.0 / n) + noise / n);
    return result;
}

}  // namespace

PartAtLight::PartAtLight(const sensor::Sensor& sensor, int threads) : sensor_(sensor), threads_(threads) {
    poses_ = std::visit([&](const auto& instrument) { return poses_of(instrument, threads); }, sensor_);
}

SeriesAtLight PartAtLight::at(double factor) const {
    if (!(factor > 0.0)) throw base::DomainError("factor of light", factor, "above 0");
    std::vector<OfPatch> patches(poses_.size());
    base::parallel_for(static_cast<std::int64_t>(poses_.size()), threads_, [&](std::int64_t p) {
        const auto k = static_cast<std::size_t>(p);
        if (const auto* instrument = std::get_if<sensor::Instrument>(&sensor_)) {
            patches[k] = read_patch(*instrument, at_light(*instrument, std::get<sensor::Pose>(poses_[k]), factor), p);
        } else {
            const auto& flight = std::get<sensor::FlightInstrument>(sensor_);
            patches[k] = read_patch(flight, at_light(flight, std::get<sensor::FlightPose>(poses_[k]), factor), p);
        }
    });
    SeriesAtLight result;
    std::vector<double> variances;
    std::vector<double> shares;
    double independent = 2.0;
    const double full_well = scenario_of(sensor_).detector.full_well;
    for (const OfPatch& patch : patches) {
        result.valid_share += patch.valid / static_cast<double>(patches.size());
        if (patch.variance) variances.push_back(*patch.variance);
        if (patch.variance) independent = static_cast<double>(patch.independent);
        if (patch.peak) shares.push_back(*patch.peak / full_well);
    }
    if (const auto variance = typical(variances, std::sqrt(2.0 / (independent - 1.0)))) {
        result.variance = variance->mean;
        result.variance_error = variance->error;
    }
    if (std::holds_alternative<sensor::FlightInstrument>(sensor_)) return result;
    if (const auto share = typical(shares, 0.0)) {
        result.share = share->mean;
        result.share_error = share->error;
    }
    return result;
}

sensor::Sensor without_specimen(const sensor::Sensor& sensor, int threads) {
    if (std::holds_alternative<sensor::FlightInstrument>(sensor)) return sensor;
    scenario::Scenario s = scenario_of(sensor);
    s.detector.response_nonuniformity = 0.0;
    return sensor::make_sensor(s, threads);
}

namespace {

// Displacements that lie evenly over one pixel about another: the first three harmonics of the error that the phase of
// the spot within a pixel makes cancel in their mean. Time of flight has no pixels.
std::vector<double> over_a_pixel(const sensor::Sensor& sensor, double displacement) {
    const auto* instrument = std::get_if<sensor::Instrument>(&sensor);
    if (instrument == nullptr) return {displacement};
    const double pixel = instrument->receiver.pitch / receiver::sensitivity_at(instrument->receiver, displacement);
    std::vector<double> places;
    for (const double share : {-0.375, -0.125, 0.125, 0.375}) places.push_back(displacement + share * pixel);
    return places;
}

}  // namespace

std::vector<std::optional<double>> errors_at_tilt(const sensor::Sensor& sensor, double in_plane_tilt,
                                                  std::span<const double> displacements, int threads) {
    scenario::Scenario s = scenario_of(sensor);
    s.target.tilt[0] = in_plane_tilt;
    const sensor::Sensor tilted = with_part(sensor, s);
    std::vector<std::optional<double>> errors(displacements.size());
    base::parallel_for(static_cast<std::int64_t>(displacements.size()), threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        std::vector<double> found;
        for (const double place : over_a_pixel(sensor, displacements[k])) {
            if (const auto reading = noiseless_reading(tilted, place)) found.push_back(*reading - place);
        }
        if (!found.empty()) errors[k] = boost::math::statistics::mean(found);
    });
    return errors;
}

namespace {

AnyPose pose_of_place(const sensor::Instrument& instrument, double displacement) {
    return pose_under_speckle(instrument, displacement, 1);
}

AnyPose pose_of_place(const sensor::FlightInstrument& instrument, double displacement) {
    const sensor::FlightPose smooth = make_flight_pose(instrument, displacement);
    const bool speckles =
        instrument.scenario.run.speckle != scenario::SpeckleModel::off && smooth.received.grains > 0.0;
    return speckles ? under_patch(instrument, smooth, 0) : smooth;
}

AnyPose pose_of_place(const sensor::Sensor& sensor, double displacement) {
    return std::visit([&](const auto& instrument) { return pose_of_place(instrument, displacement); }, sensor);
}

double period_of(const AnyPose& pose) {
    return std::visit([](const auto& each) { return each.timing.period; }, pose);
}

measure::TakeReading taking(const sensor::Sensor& sensor, const AnyPose& pose, std::int64_t first) {
    if (const auto* instrument = std::get_if<sensor::Instrument>(&sensor)) {
        const sensor::Pose& of_it = std::get<sensor::Pose>(pose);
        return [instrument, &of_it, first](std::int64_t index, sensor::Scratch& scratch) {
            return take_reading(*instrument, of_it, first + index, scratch);
        };
    }
    const auto* flight = &std::get<sensor::FlightInstrument>(sensor);
    const sensor::FlightPose& of_it = std::get<sensor::FlightPose>(pose);
    return [flight, &of_it, first](std::int64_t index, sensor::Scratch& /*scratch*/) {
        return take_reading(*flight, of_it, first + index);
    };
}

// Mean of readings of one place; NaN where none is valid.
double read_place(const sensor::Sensor& sensor, double displacement, std::int64_t visit) {
    const AnyPose pose = pose_of_place(sensor, displacement);
    const measure::SeriesStatistics s =
        measure::take_series(scenario_of(sensor).reading, period_of(pose),
                             taking(sensor, pose, visit * readings_of_place), {readings_of_place, 1, {}, {}});
    return s.mean.value_or(std::numeric_limits<double>::quiet_NaN());
}

}  // namespace

BenchLog simulated_time_log(const sensor::Sensor& sensor, int threads) {
    const scenario::Scenario& s = scenario_of(sensor);
    const bool has_share = std::holds_alternative<sensor::Instrument>(sensor);
    BenchLog log;
    log.file = s.file;
    const std::int64_t settling = s.reading.average + s.reading.median - 2;
    const auto keep = [&](const measure::SeriesBlock& block) {
        for (std::size_t i = 0; i < block.output.size(); ++i) {
            const std::int64_t index = block.first + static_cast<std::int64_t>(i) - settling;
            if (index < 0) continue;
            const bool valid = block.validity[i] == reading::Validity::valid;
            log.time.push_back(static_cast<double>(index) * block.period);
            log.reading.push_back(valid ? block.output[i] : std::numeric_limits<double>::quiet_NaN());
            if (has_share) log.signal.push_back(static_cast<double>(block.peak[i]) / s.detector.full_well);
            log.lines.push_back(0);
        }
    };
    const AnyPose pose = pose_of_place(sensor, s.target.displacement);
    static_cast<void>(measure::take_series(s.reading, period_of(pose), taking(sensor, pose, 0),
                                           {s.run.readings + settling, threads, keep, {}}));
    return log;
}

BenchLog simulated_linearity_log(const sensor::Sensor& sensor, int places, int threads) {
    if (places < 3) throw base::DomainError("places", places, "at least 3");
    const scenario::Pair range = scenario_of(sensor).mount.range;
    const std::int64_t there_and_back = 2 * static_cast<std::int64_t>(places);
    const auto visits = static_cast<std::size_t>(there_and_back);
    BenchLog log;
    log.file = scenario_of(sensor).file;
    log.reference.resize(visits);
    log.reading.resize(visits);
    log.lines.assign(visits, 0);
    const int last = places - 1;
    base::parallel_for(there_and_back, threads, [&](std::int64_t visit) {
        const auto step = static_cast<int>(visit);
        const int place = step <= last ? step : 2 * places - 1 - step;
        const auto k = static_cast<std::size_t>(visit);
        log.reference[k] = std::lerp(range[0], range[1], static_cast<double>(place) / static_cast<double>(last));
        log.reading[k] = read_place(sensor, log.reference[k], visit);
    });
    return log;
}

}  // namespace spotwright::bench
