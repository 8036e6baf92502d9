#include "sim/bench/model.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

#include "sim/base/cases.hpp"
#include "sim/base/errors.hpp"
#include "sim/base/parallel.hpp"
#include "sim/sensor/flight_neighbour.hpp"
#include "sim/sensor/flight_delay.hpp"
#include "sim/measure/series.hpp"
#include "sim/sensor/speckle.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bench {

namespace {

using base::Cases;

constexpr std::int64_t patches_looked_at = 16;
constexpr std::int64_t readings_of_patch = 1024;
constexpr std::int64_t readings_of_place = 64;

std::vector<sensor::Pose> poses_of(const sensor::TriangulationSetup& original, int threads) {
    sensor::TriangulationSetup setup = original;
    setup.scenario.run.patches = patches_looked_at;
    const double displacement = setup.scenario.target.displacement;
    const sensor::Pose smooth = make_pose(setup, displacement, threads);
    const auto speckle = make_speckle(setup, displacement, smooth.profile);
    if (!speckle) return {smooth};
    const sensor::Pose still = still_pose(setup, smooth, *speckle);
    return poses_of_patches(setup, still, smooth.profile, *speckle, threads);
}

// Thousands of patterns add up on the detector of time of flight: none of them stands out.
std::vector<sensor::FlightPose> poses_of(const sensor::FlightSetup& setup, int /*threads*/) {
    return {make_flight_pose(setup, setup.scenario.target.displacement)};
}

sensor::Pose at_light(const sensor::TriangulationSetup& setup, sensor::Pose pose, double factor) {
    for (float& rate : pose.profile.rate) rate *= static_cast<float>(factor);
    pose.ambient_rate *= factor;
    pose.glow_rate *= factor;
    settle_exposure(setup, pose);
    expose_pose(setup, pose);
    return pose;
}

sensor::FlightPose at_light(const sensor::FlightSetup& setup, sensor::FlightPose pose, double factor) {
    flight::Light light = pose.received.light;
    for (flight::Arrival& arrival : light.arrivals) arrival.rate *= factor;
    pose.light = light_of(setup, pose, light);
    pose.plan = plan_of(setup, pose.light, pose.timing.exposure);
    plan_alone(setup, pose);
    return pose;
}

sensor::RawReading taken(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, std::int64_t index,
                         sensor::Scratch& scratch) {
    return take_reading(setup, pose, index, scratch);
}

sensor::RawReading taken(const sensor::FlightSetup& setup, const sensor::FlightPose& pose, std::int64_t index,
                         sensor::Scratch& /*scratch*/) {
    return take_reading(setup, pose, index);
}

struct OfPatch {
    double valid = 0.0;
    std::optional<double> variance;
    std::int64_t independent = 0;
    std::optional<double> peak;
};

template <class AnyInstrument, class PoseOfIt>
OfPatch read_patch(const AnyInstrument& setup, const PoseOfIt& pose, std::int64_t patch) {
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
        return taken(setup, pose, patch * readings_of_patch + index, scratch);
    };
    const measure::SeriesStatistics s =
        measure::take_series(setup.scenario.reading, pose.timing.period, take, {readings_of_patch, 1, add_peaks, {}});
    result.valid = count / static_cast<double>(readings_of_patch);
    result.independent = s.independent_outputs;
    if (s.standard_deviation && s.independent_outputs > 1) result.variance = std::pow(*s.standard_deviation, 2);
    if (count > 0.0) result.peak = peaks / count;
    return result;
}

// Mean over patches, and its standard uncertainty as an estimate for an unknown patch. `noise`: variance of
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

PartAtLight::PartAtLight(const sensor::Setup& setup, int threads)
    : posed_(std::visit(Cases{[threads](const sensor::TriangulationSetup& each) -> AnyPosed {
                                  return Posed<sensor::TriangulationSetup, sensor::Pose>{each, poses_of(each, threads)};
                              },
                              [threads](const sensor::FlightSetup& each) -> AnyPosed {
                                  return Posed<sensor::FlightSetup, sensor::FlightPose>{each, poses_of(each, threads)};
                              }},
                        setup)),
      threads_(threads) {}

SeriesAtLight PartAtLight::at(double factor) const {
    if (!(factor > 0.0)) throw base::DomainError("factor of light", factor, "above 0");
    const std::vector<OfPatch> patches = std::visit(
        [&](const auto& posed) {
            std::vector<OfPatch> found(posed.poses.size());
            base::parallel_for(static_cast<std::int64_t>(found.size()), threads_, [&](std::int64_t p) {
                const auto k = static_cast<std::size_t>(p);
                found[k] = read_patch(posed.setup, at_light(posed.setup, posed.poses[k], factor), p);
            });
            return found;
        },
        posed_);
    SeriesAtLight result;
    std::vector<double> variances;
    std::vector<double> shares;
    double independent = 2.0;
    const scenario::Scenario& s =
        std::visit([](const auto& posed) -> const scenario::Scenario& { return posed.setup.scenario; }, posed_);
    for (const OfPatch& patch : patches) {
        result.valid_share += patch.valid / static_cast<double>(patches.size());
        if (patch.variance) variances.push_back(*patch.variance);
        if (patch.variance) independent = static_cast<double>(patch.independent);
        if (patch.peak) shares.push_back(*patch.peak / s.detector.full_well);
    }
    if (const auto variance = typical(variances, std::sqrt(2.0 / (independent - 1.0)))) {
        result.variance = variance->mean;
        result.variance_error = variance->error;
    }
    const auto add_share = [&](const Posed<sensor::TriangulationSetup, sensor::Pose>&) {
        const auto share = typical(shares, 0.0);
        if (!share) return;
        result.share = share->mean;
        result.share_error = share->error;
    };
    std::visit(Cases{add_share, [](const Posed<sensor::FlightSetup, sensor::FlightPose>&) {}}, posed_);
    return result;
}

sensor::Setup without_specimen(const sensor::Setup& setup, int threads) {
    const auto on_array = [threads](const sensor::TriangulationSetup& each) -> sensor::Setup {
        scenario::Scenario s = each.scenario;
        s.detector.response_nonuniformity = 0.0;
        return sensor::set_up(s, threads);
    };
    const auto timed = [](const sensor::FlightSetup& each) -> sensor::Setup { return each; };
    return std::visit(Cases{on_array, timed}, setup);
}

namespace {

// Displacements that lie evenly over one pixel about another: the first three harmonics of the error that the phase of
// the spot within a pixel makes cancel in their mean. Time of flight has no pixels.
std::vector<double> over_a_pixel(const sensor::Setup& setup, double displacement) {
    const auto on_array = [displacement](const sensor::TriangulationSetup& each) {
        const receiver::Receiver& r = each.instrument.receiver;
        const double pixel = r.pitch / receiver::sensitivity_at(r, displacement);
        std::vector<double> places;
        for (const double share : {-0.375, -0.125, 0.125, 0.375}) places.push_back(displacement + share * pixel);
        return places;
    };
    const auto timed = [displacement](const sensor::FlightSetup&) { return std::vector{displacement}; };
    return std::visit(Cases{on_array, timed}, setup);
}

}  // namespace

std::vector<std::optional<double>> errors_at_tilt(const sensor::Setup& setup, double in_plane_tilt,
                                                  std::span<const double> displacements, int threads) {
    scenario::Scenario s = scenario_of(setup);
    s.target.tilt[0] = in_plane_tilt;
    const sensor::Setup tilted = with_part(setup, s);
    std::vector<std::optional<double>> errors(displacements.size());
    base::parallel_for(static_cast<std::int64_t>(displacements.size()), threads, [&](std::int64_t i) {
        const auto k = static_cast<std::size_t>(i);
        std::vector<double> found;
        for (const double place : over_a_pixel(setup, displacements[k])) {
            if (const auto reading = noiseless_reading(tilted, place)) found.push_back(*reading - place);
        }
        if (!found.empty()) errors[k] = boost::math::statistics::mean(found);
    });
    return errors;
}

namespace {

sensor::Pose pose_of_place(const sensor::TriangulationSetup& setup, double displacement) {
    return pose_under_speckle(setup, displacement, 1);
}

sensor::FlightPose pose_of_place(const sensor::FlightSetup& setup, double displacement) {
    const sensor::FlightPose smooth = make_flight_pose(setup, displacement);
    const bool speckles = setup.scenario.run.speckle != scenario::SpeckleModel::off && smooth.received.grains > 0.0;
    return speckles ? under_patch(setup, smooth, 0) : smooth;
}

// Mean of readings of one place; NaN where none is valid.
double read_place(const sensor::Setup& setup, double displacement, std::int64_t visit) {
    const auto mean_of = [&](const auto& each) {
        const auto pose = pose_of_place(each, displacement);
        const auto take = [&](std::int64_t index, sensor::Scratch& scratch) {
            return taken(each, pose, visit * readings_of_place + index, scratch);
        };
        return measure::take_series(each.scenario.reading, pose.timing.period, take, {readings_of_place, 1, {}, {}})
            .mean;
    };
    return std::visit(mean_of, setup).value_or(std::numeric_limits<double>::quiet_NaN());
}

}  // namespace

BenchLog simulated_time_log(const sensor::Setup& setup, int threads) {
    const scenario::Scenario& s = scenario_of(setup);
    const bool has_share = scenario::abilities_of(s.principle).array;
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
    const auto read_all = [&](const auto& each) {
        const auto pose = pose_of_place(each, s.target.displacement);
        const auto take = [&](std::int64_t index, sensor::Scratch& scratch) {
            return taken(each, pose, index, scratch);
        };
        static_cast<void>(
            measure::take_series(s.reading, pose.timing.period, take, {s.run.readings + settling, threads, keep, {}}));
    };
    std::visit(read_all, setup);
    return log;
}

BenchLog simulated_linearity_log(const sensor::Setup& setup, int places, int threads) {
    if (places < 3) throw base::DomainError("places", places, "at least 3");
    const scenario::Pair range = scenario_of(setup).mount.range;
    const std::int64_t there_and_back = 2 * static_cast<std::int64_t>(places);
    const auto visits = static_cast<std::size_t>(there_and_back);
    BenchLog log;
    log.file = scenario_of(setup).file;
    log.reference.resize(visits);
    log.reading.resize(visits);
    log.lines.assign(visits, 0);
    const int last = places - 1;
    base::parallel_for(there_and_back, threads, [&](std::int64_t visit) {
        const auto step = static_cast<int>(visit);
        const int place = step <= last ? step : 2 * places - 1 - step;
        const auto k = static_cast<std::size_t>(visit);
        log.reference[k] = std::lerp(range[0], range[1], static_cast<double>(place) / static_cast<double>(last));
        log.reading[k] = read_place(setup, log.reference[k], visit);
    });
    return log;
}

}  // namespace spotwright::bench
