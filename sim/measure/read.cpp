#include "sim/measure/read.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/detector/array.hpp"
#include "sim/measure/disturbance.hpp"
#include "sim/measure/flight_reading.hpp"
#include "sim/measure/inside_error.hpp"
#include "sim/measure/pixel_error.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/receiver/pattern_measures.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/measure/motion.hpp"
#include "sim/sensor/sensor.hpp"
#include "sim/sensor/stations.hpp"

namespace spotwright::measure {

namespace {

// Pixels that count for contrast: those above this share of the brightest.
constexpr float bright = 0.3F;

// Root mean square of what patterns change on the bright pixels, in units of their mean.
double contrast_on_pixels(const std::vector<float>& mean, const std::vector<sensor::Pose>& poses) {
    const float least = bright * *std::max_element(mean.begin(), mean.end());
    double squares = 0.0;
    double count = 0.0;
    for (const sensor::Pose& pose : poses) {
        for (std::size_t k = 0; k < mean.size(); ++k) {
            if (mean[k] <= least) continue;
            const double change = static_cast<double>(pose.profile.rate[k] / mean[k]) - 1.0;
            squares += change * change;
            count += 1.0;
        }
    }
    return count > 0.0 ? std::sqrt(squares / count) : 0.0;
}

// Contrast and speckle size before the pixels, as the patterns show them.
receiver::PatternMeasures measured_patterns(const sensor::Speckle& speckle, const scenario::Scenario& s) {
    constexpr std::int64_t patterns = 64;
    return receiver::measure_patterns(*speckle.plan, static_cast<std::uint64_t>(s.seed), patterns);
}

// Whether each reading of a moved part draws a pattern of its own. Automatic exposure settles on each patch instead.
bool draws_afresh(const scenario::Scenario& s, const sensor::Speckle& speckle) {
    return speckle.model == scenario::SpeckleModel::statistical && !speckle.grain &&
           s.exposure.mode == scenario::ExposureMode::fixed && s.target.texture.deviation <= 0.0;
}

// Standard deviation of noiseless readings from patch to patch by the grains of the material alone.
std::optional<double> grain_deviation(const sensor::TriangulationSetup& setup, const sensor::Pose& smooth,
                                      const sensor::Pose& still, const sensor::Speckle& speckle, std::int64_t patches) {
    if (!speckle.grain) return std::nullopt;
    std::vector<double> readings;
    sensor::Pose patch = still;
    for (std::int64_t i = 1; i <= patches; ++i) {
        const std::vector<float> grains = grains_at(speckle, setup.scenario, i);
        patch.profile.rate = smooth.profile.rate;
        for (std::size_t k = 0; k < grains.size(); ++k) patch.profile.rate[k] *= grains[k];
        if (setup.scenario.exposure.mode == scenario::ExposureMode::automatic) settle_exposure(setup, patch);
        if (const auto found = noiseless_reading(setup, patch)) readings.push_back(*found);
    }
    if (readings.size() < 2) return std::nullopt;
    return std::sqrt(boost::math::statistics::sample_variance(readings));
}

sensor::SpeckleStatistics speckle_statistics(const sensor::TriangulationSetup& setup, const sensor::Pose& smooth,
                                             const sensor::Pose& still, const sensor::Speckle& speckle,
                                             const ReadOptions& options) {
    const scenario::Scenario& s = setup.scenario;
    sensor::SpeckleStatistics result;
    result.model = speckle.model;
    result.why_statistical = speckle.why_statistical;
    result.pattern_contrast = speckle.field.pattern_contrast;
    result.size = speckle.field.size;
    if (speckle.plan) {
        const receiver::PatternMeasures measured = measured_patterns(speckle, s);
        result.pattern_contrast = measured.contrast;
        result.size = measured.size;
        result.image = image_of_patch(speckle, s);
    }
    result.limit = sensor::speckle_limit_at(setup.instrument.receiver, s.emitter.wavelength, smooth.true_displacement,
                                            speckle.field.pattern_contrast);
    const std::vector<sensor::Pose> patches = poses_of_patches(setup, still, smooth.profile, speckle, options.threads);
    result.patches = static_cast<std::int64_t>(patches.size());
    result.contrast = contrast_on_pixels(smooth.profile.rate, patches);
    std::vector<double> readings;
    for (const sensor::Pose& patch : patches) {
        if (const auto found = noiseless_reading(setup, patch)) readings.push_back(*found);
    }
    result.patches_read = static_cast<std::int64_t>(readings.size());
    if (readings.size() > 1) result.standard_deviation = std::sqrt(boost::math::statistics::sample_variance(readings));
    result.grain_deviation = grain_deviation(setup, smooth, still, speckle, result.patches);
    const auto here = noiseless_reading(setup, still);
    sensor::Pose without_speckle = still;
    without_speckle.profile.rate = smooth.profile.rate;
    const auto without = noiseless_reading(setup, without_speckle);
    if (here && without) result.offset = *here - *without;
    const SeriesOptions series{s.run.readings, options.threads, {}, {}};
    const SeriesStatistics replaced =
        draws_afresh(s, speckle) ? take_series(setup, moving_pose(setup, still, smooth.profile, speckle), series)
                                 : take_series(setup, patches, series);
    result.replaced_deviation = replaced.standard_deviation;
    result.replaced_independent = draws_afresh(s, speckle)
                                      ? replaced.independent_outputs
                                      : std::min(replaced.independent_outputs, result.patches_read);
    result.replaced_valid_share = valid_share(replaced);
    return result;
}

// The sensor before the part as it stands at time 0.
sensor::TriangulationSetup at_start(const sensor::TriangulationSetup& setup) {
    sensor::TriangulationSetup start = setup;
    scenario::Scenario& s = start.scenario;
    const PartState place = part_state_at(s, 0.0);
    s.target.displacement = place.along;
    if (s.target.segments.made_of.empty()) return start;
    const std::size_t piece = piece_at(s.target.segments, place.way);
    s.target.made_of = s.target.segments.made_of[piece];
    if (!s.target.segments.height.empty()) s.target.displacement -= s.target.segments.height[piece];
    return start;
}

Signal signal_at(const scenario::Scenario& s, const sensor::Pose& pose) {
    Signal signal;
    signal.peak = expected_peak(pose);
    signal.peak_share = signal.peak / s.detector.full_well;
    signal.background = (pose.ambient_rate + detector::dark_current_at(s.detector, scenario::sensor_temperature(s))) *
                        pose.timing.exposure;
    signal.lamps = (pose.ambient_rate - pose.glow_rate) * pose.timing.exposure;
    signal.glow = pose.glow_rate * pose.timing.exposure;
    signal.received_power = pose.profile.received_power;
    return signal;
}

}  // namespace

const TimedLight* timed_light(const Details& details) {
    return std::visit(base::Cases{[](const TriangulationDetails&) -> const TimedLight* { return nullptr; },
                                  [](const auto& timed) { return &timed.light; }},
                      details);
}

void follow(const scenario::Scenario& s, const MovingSeries& series, ReadResult& result) {
    result.statistics = series.statistics;
    result.tracking = series.tracking;
    result.exposure_use = series.exposure;
    result.scan = series.scan;
    result.true_displacement = series.tracking.mean_truth.value_or(result.true_displacement);
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * series.mean_period;
}

namespace {

// What markings of a part at rest bring to its reading.
std::optional<double> marking_error(const sensor::TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    if (!scenario::has_markings(s.target) || s.run.model == scenario::LightModel::ray) return std::nullopt;
    sensor::TriangulationSetup plain = setup;
    scenario::remove_markings(plain.scenario.target);
    const auto with = sensor::noiseless_reading(setup, s.target.displacement);
    const auto without = sensor::noiseless_reading(plain, s.target.displacement);
    if (!with || !without) return std::nullopt;
    return *with - *without;
}

// By how much another reading of the same part differs, of a sensor whose scenario is changed; none where either fails.
// At the exposure of the scenario: the threshold cuts more of the tail of a spot that is not symmetrical, the fainter
// it is.
std::optional<double> less_that_of(const sensor::TriangulationSetup& setup, const scenario::Scenario& other,
                                   int threads) {
    const double displacement = setup.scenario.target.displacement;
    const auto reading_of = [&](const sensor::TriangulationSetup& each) {
        return sensor::noiseless_reading(each, sensor::make_pose(each, displacement, threads));
    };
    const auto own = reading_of(setup);
    if (!own) return std::nullopt;
    try {
        const auto found = reading_of(sensor::set_up_triangulation(other, threads));
        return found ? std::optional(*own - *found) : std::nullopt;
    } catch (const base::ScenarioError&) {
        return std::nullopt;  // the other cannot be calibrated
    }
}

std::optional<double> lens_error(const sensor::TriangulationSetup& setup, int threads) {
    const scenario::Scenario& s = setup.scenario;
    if (sensor::has_ideal_lens(s) || s.run.model == scenario::LightModel::ray) return std::nullopt;
    return less_that_of(setup, sensor::with_ideal_lens(s), threads);
}

std::optional<double> glass_error(const sensor::TriangulationSetup& setup, int threads) {
    scenario::Scenario bare = setup.scenario;
    if (!(bare.cover.glass > 0.0) || bare.cover.calibrated || bare.run.model == scenario::LightModel::ray) {
        return std::nullopt;
    }
    bare.cover.glass = 0.0;
    return less_that_of(setup, bare, threads);
}

double spot_radius(const sensor::TriangulationSetup& setup, double displacement) {
    const emitter::Beam& beam = setup.instrument.beam;
    const auto hit = target::meet(sensor::part_of(setup.scenario, displacement), {beam.face, beam.direction});
    return hit ? emitter::radius_at(beam, 0, hit->distance) : 0.0;
}

}  // namespace

void note_disturbance(const scenario::Scenario& s, const Disturbance& disturbance, const detector::Timing& timing,
                      ReadResult& result) {
    if (!disturbance.any()) return;
    const DisturbedOutputs outputs = disturbance.deviations(timing, s.reading.average);
    result.air_wander = outputs.hot_air;
    result.air_wander_single = disturbance.deviations(timing, 1).hot_air;
    result.mount_shake = outputs.mount;
    // What the disturbance happened to be over the series is chance, not bias.
    const double duration = timing.period * static_cast<double>(s.run.readings);
    if (result.systematic && !result.tracking) *result.systematic -= disturbance.at(0.0, duration);
}

ReadResult read(const sensor::TriangulationSetup& setup, const ReadOptions& options) {
    const bool over_time = is_moving_series(setup.scenario);
    const std::optional<sensor::TriangulationSetup> started = over_time ? std::optional(at_start(setup)) : std::nullopt;
    const sensor::TriangulationSetup& start = started ? *started : setup;
    const scenario::Scenario& s = start.scenario;
    const sensor::Pose smooth = make_pose(start, s.target.displacement, options.threads);
    const auto speckle = make_speckle(start, s.target.displacement, smooth.profile);

    ReadResult result;
    result.details = TriangulationDetails{speckle ? still_pose(start, smooth, *speckle) : smooth};
    const sensor::Pose& pose = std::get<TriangulationDetails>(result.details).pose;
    result.true_displacement = pose.true_displacement;
    result.timing = pose.timing;
    result.response_time = static_cast<double>(reading::step_response_readings(s.reading)) * pose.timing.period;
    result.signal = signal_at(s, pose);
    const target::Part part = sensor::part_of(s, s.target.displacement);
    const sensor::Instrument& instrument = start.instrument;
    result.signal.haze = sensor::haze_share(s, instrument.receiver, instrument.beam, part);
    result.signal.ghost = result.signal.peak_share * sensor::ghost_peak(s, pose.profile.rate);
    result.glare = sensor::glare_of(s, instrument.receiver, instrument.beam, part);
    result.turned_lay_gain = sensor::gain_by_turned_lay(s, instrument.receiver, instrument.beam, part);
    const SeriesOptions series{s.run.readings, options.threads, options.sink, options.progress};
    if (over_time) {
        follow(s, take_moving_series(setup, series), result);
    } else {
        result.statistics = take_series(setup, pose, series);
    }
    if (speckle) result.speckle = speckle_statistics(start, smooth, pose, *speckle, options);
    result.model_error = pose.model_error;
    // Nine images of the ray model would cost nine times its rays, and their own scatter would hide the error. A part
    // that moves along the beam passes over the pixels by itself.
    const bool passes_pixels = result.tracking && result.tracking->speed > 0.0;
    if (s.run.model == scenario::LightModel::spot && !passes_pixels) {
        result.pixel_error = pixel_error(start, s.target.displacement);
    }
    if (const auto faint = passes_pixels ? std::nullopt : faint_spot_error(start, smooth, pose)) {
        result.pixel_error = std::hypot(result.pixel_error.value_or(0.0), *faint);
    }
    if (over_time) {
        result.bias = result.tracking->mean_error;
    } else if (result.statistics.mean) {
        result.bias = *result.statistics.mean - result.true_displacement;
    }
    if (result.bias) {
        const bool frozen = result.speckle && !(over_time && result.tracking->surface_passes);
        result.systematic = *result.bias - (frozen ? result.speckle->offset.value_or(0.0) : 0.0);
    }
    note_disturbance(s, Disturbance(setup), pose.timing, result);
    result.inside_error = inside_error(start, result.true_displacement);
    if (!over_time) {
        result.marking_error = marking_error(start);
        result.lens_error = lens_error(start, options.threads);
        result.glass_error = glass_error(start, options.threads);
    }
    result.pointing_deviation =
        pose.jitter * instrument.receiver.pitch / receiver::sensitivity_at(instrument.receiver, s.target.displacement);
    result.spot_radius = spot_radius(start, s.target.displacement);
    result.verdict = judge(s, result);
    return result;
}

ReadResult read(const sensor::Setup& setup, const ReadOptions& options) {
    return std::visit([&options](const auto& each) { return read(each, options); }, setup);
}

}  // namespace spotwright::measure
