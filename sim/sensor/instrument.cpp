#include "sim/sensor/instrument.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "sim/base/median.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/frames.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/target/plate.hpp"
#include "sim/sensor/as_made.hpp"
#include "sim/sensor/calibrate.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/neighbour.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::sensor {

namespace {

std::uint64_t run_seed(const scenario::Scenario& scenario) {
    return static_cast<std::uint64_t>(scenario.seed);
}

// The walk for an image's last argument.
const target::CachedWalk* cached_walk(const TriangulationSetup& setup) {
    return setup.walk ? &*setup.walk : nullptr;
}

// Electrons by which fresh speckle may exceed the mean of a pixel, but for a chance of 1e-12. [e]
double brightening(const Pose& pose, std::size_t pixel) {
    if (!pose.fresh) return 0.0;
    constexpr double deviations = 7.2;
    const receiver::CubeRoot& root = pose.fresh->field.cube_root;
    const double brightest = std::pow(root.mean + deviations * root.deviation, 3.0);
    return static_cast<double>(pose.fresh->light[pixel]) * (brightest - 1.0);
}

// Electrons that a second sensor may bring to a pixel, with room for the pixel's response. [e]
double most_of_neighbour(const Pose& pose, std::size_t pixel) {
    if (pose.neighbour.empty()) return 0.0;
    constexpr double room = 1.2;
    return room * static_cast<double>(pose.neighbour[pixel]) * pose.timing.exposure;
}

// Leaves out pixels that cannot matter: those whose chance to reach half the threshold, below which `locate` makes no
// difference, is less than 1e-12. With mean electrons m, read noise r and distance x from the mean net signal to that
// level, Bernstein's inequality gives P <= exp(-x^2 / (2 (m + r^2 + x / 3))). A margin on both sides serves the
// estimators, which look at most three pixels past a peak.
// Fresh speckle counts as bright as it is drawn but for the same chance.
void draw_window(Pose& pose) {
    constexpr double log_chance = 27.7;  // -ln(1e-12), rounded up
    constexpr std::size_t margin = 8;
    const detector::ExpectedFrame& frame = pose.expected;
    const std::size_t pixels = frame.electrons.size();
    const double level = 0.5 * static_cast<double>(pose.locate.threshold);
    std::size_t first = pixels;
    std::size_t last = 0;
    std::size_t brightest = 0;
    for (std::size_t k = 0; k < pixels; ++k) {
        const double mean = static_cast<double>(frame.electrons[k]) + brightening(pose, k) + most_of_neighbour(pose, k);
        const double rounding =
            (0.5 + frame.digitiser.black_level - static_cast<double>(pose.background[k])) / frame.digitiser.gain;
        const double net = mean + static_cast<double>(frame.offset[k]) + rounding;
        const double x = level - net;
        const double variance = mean + frame.read_noise * frame.read_noise;
        const bool may_matter = x <= 0.0 || x * x < log_chance * 2.0 * (variance + x / 3.0);
        if (may_matter) {
            first = std::min(first, k);
            last = k + 1;
        }
        if (frame.electrons[k] > frame.electrons[brightest]) brightest = k;
    }
    if (first >= last) {  // nothing will be found; the brightest pixel is still looked at
        first = brightest;
        last = brightest + 1;
    }
    first = first > margin ? first - margin : 0;
    last = std::min(last + margin, pixels);
    const auto unit = static_cast<std::size_t>(base::unit_pixels);
    pose.first_unit = static_cast<std::int64_t>(first / unit);
    pose.unit_count = static_cast<std::int64_t>((last + unit - 1) / unit) - pose.first_unit;
    pose.locate.at_array_start = pose.first_unit == 0;
    pose.locate.at_array_end = static_cast<std::size_t>(pose.first_unit + pose.unit_count) * unit >= pixels;
}

// At the level that the scenario exposes for.
std::vector<float> level_signal(const TriangulationSetup& setup, const std::vector<float>& rate) {
    const scenario::Scenario& s = setup.scenario;
    return sensor::level_signal(s.exposure.level, s.detector.full_well, setup.instrument.pattern, rate);
}

std::vector<float> signal_after(const TriangulationSetup& setup, std::vector<float> rate, double exposure) {
    const auto time = static_cast<float>(exposure);
    for (std::size_t k = 0; k < rate.size(); ++k) rate[k] *= time * setup.instrument.pattern.response[k];
    return rate;
}

// What a noiseless signal reads as.
std::optional<double> reading_of(const TriangulationSetup& setup, const std::vector<float>& net) {
    const reading::Spot spot = reading::locate(net, locate_options(setup.scenario));
    if (spot.validity != reading::Validity::valid) return std::nullopt;
    return setup.instrument.calibration.displacement(spot.position);
}

// Standard error of the mean of independent images, by what each of them reads as.
std::optional<double> error_of_mean(const TriangulationSetup& setup, const std::vector<receiver::Profile>& batches) {
    std::vector<double> readings;
    for (const receiver::Profile& batch : batches) {
        const std::vector<float> net = level_signal(setup, batch.rate);
        if (const auto found = reading_of(setup, net)) readings.push_back(*found);
    }
    if (readings.size() < 2) return std::nullopt;
    return std::sqrt(boost::math::statistics::sample_variance(readings) / static_cast<double>(readings.size()));
}

// What the error that the spot model tells of its own image makes of a reading, where it could not be brought within
// the tolerance.
std::optional<double> error_beyond_tolerance(const TriangulationSetup& setup, const Pose& pose) {
    if (pose.profile.centroid_error <= receiver::Tolerance{}.centroid) return std::nullopt;
    const receiver::Receiver& r = setup.instrument.receiver;
    return pose.profile.centroid_error * r.pitch / receiver::sensitivity_at(r, pose.displacement);
}

receiver::RayOptions ray_options(const scenario::Scenario& s, int threads) {
    return {s.run.rays, run_seed(s), threads};
}

Pose pose_of_light(const TriangulationSetup& setup, double displacement, receiver::Profile profile) {
    const scenario::Scenario& s = setup.scenario;
    Pose pose;
    pose.displacement = displacement;
    pose.true_displacement = lit_displacement(s, setup.instrument.beam, displacement).value_or(displacement);
    pose.profile = std::move(profile);
    pose.neighbour = neighbour_light(setup, displacement);
    if (s.neighbour.timing == scenario::NeighbourTiming::together) {
        for (std::size_t k = 0; k < pose.neighbour.size(); ++k) pose.profile.rate[k] += pose.neighbour[k];
    }
    const AmbientRates around =
        ambient_rates(s, setup.instrument.receiver, setup.instrument.beam, part_of(s, displacement));
    pose.ambient_rate = around.both();
    pose.glow_rate = around.glow;
    pose.jitter = pointing_deviation(s, setup.instrument.beam, setup.instrument.receiver, displacement);
    settle_exposure(setup, pose);
    expose_pose(setup, pose);
    return pose;
}

Pose pose_of_image(const TriangulationSetup& setup, double displacement, const receiver::Tolerance& tolerance) {
    const scenario::Scenario& s = setup.scenario;
    return pose_of_light(
        setup, displacement,
        receiver::image(setup.instrument.beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
                        setup.instrument.edge_spread, s.detector.quantum_efficiency, tolerance, cached_walk(setup)));
}

}  // namespace

double dark_variance(const scenario::Detector& detector) {
    const double digit = 1.0 / detector::make_digitiser(detector).gain;
    return detector.read_noise * detector.read_noise + digit * digit / 12.0;
}

Instrument make_instrument(const scenario::Scenario& scenario, int threads) {
    emitter::Beam beam = beam_of(scenario);
    receiver::Receiver receiver = checked_receiver(scenario);
    if (scenario.cover.calibrated) put_glass_before(scenario.cover, beam, receiver);
    const receiver::EdgeSpread edge_spread(receiver.aperture.shape);
    const detector::FixedPattern pattern = detector::make_fixed_pattern(scenario.detector);
    return {scenario::sensor_keys(scenario),
            beam,
            receiver,
            edge_spread,
            pattern,
            calibrate(scenario, beam, receiver, edge_spread, pattern, threads)};
}

bool calibrates_at_ends(const scenario::Scenario& scenario) {
    emitter::Beam beam = beam_of(scenario);
    receiver::Receiver receiver = checked_receiver(scenario);
    if (scenario.cover.calibrated) put_glass_before(scenario.cover, beam, receiver);
    return calibrates_at_ends(scenario, beam, receiver, receiver::EdgeSpread(receiver.aperture.shape),
                              detector::make_fixed_pattern(scenario.detector));
}

std::optional<target::CachedWalk> make_walk(const TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    const target::Surface surface = surface_of(s);
    return walk_through(surface, setup.instrument.beam, part_of(s, s.target.displacement), setup.instrument.receiver);
}

TriangulationSetup set_up(const Instrument& instrument, const scenario::Scenario& scenario) {
    if (scenario::sensor_keys(scenario) != instrument.keys)
        throw base::InternalError("another sensor than its scenario's");
    TriangulationSetup setup = at_temperature({instrument, scenario}, scenario::sensor_temperature(scenario));
    setup.walk = make_walk(setup);
    return setup;
}

std::optional<double> noiseless_reading(const TriangulationSetup& setup, double displacement) {
    constexpr std::array<double, 1> unmoved{0.0};
    return noiseless_readings(setup, displacement, unmoved).front();
}

std::vector<std::optional<double>> noiseless_readings(const TriangulationSetup& setup, double displacement,
                                                      std::span<const double> shifts, std::optional<double> exposure) {
    const scenario::Scenario& s = setup.scenario;
    std::vector<std::optional<double>> readings;
    for (const receiver::Profile& profile : receiver::images_moved(
             setup.instrument.beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
             setup.instrument.edge_spread, s.detector.quantum_efficiency, shifts, {}, cached_walk(setup))) {
        readings.push_back(reading_of(
            setup, exposure ? signal_after(setup, profile.rate, *exposure) : level_signal(setup, profile.rate)));
    }
    return readings;
}

std::optional<double> noiseless_reading(const TriangulationSetup& setup, const Pose& pose) {
    return reading_of(setup, signal_after(setup, pose.profile.rate, pose.timing.exposure));
}

std::size_t pixels_read(const TriangulationSetup& setup, const Pose& pose) {
    const std::vector<float> net = signal_after(setup, pose.profile.rate, pose.timing.exposure);
    for (const reading::LocatedPeak& peak : reading::locate_all(net, locate_options(setup.scenario))) {
        if (peak.chosen) return peak.window.last - peak.window.first;
    }
    return 0;
}

Pose make_pose(const TriangulationSetup& setup, double displacement, int threads) {
    const scenario::Scenario& s = setup.scenario;
    if (s.run.model != scenario::LightModel::ray) {
        Pose pose = pose_of_image(setup, displacement, receiver::Tolerance{});
        pose.model_error = error_beyond_tolerance(setup, pose);
        return pose;
    }
    receiver::RayImage image =
        receiver::trace_rays(setup.instrument.beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
                             setup.instrument.edge_spread, s.detector.quantum_efficiency, ray_options(s, threads));
    return pose_of_rays(setup, displacement, std::move(image.batches));
}

receiver::Profile trace_batch(const TriangulationSetup& setup, double displacement, std::int64_t batch) {
    const scenario::Scenario& s = setup.scenario;
    return receiver::trace_batch(setup.instrument.beam, part_of(s, displacement), surface_of(s),
                                 setup.instrument.receiver, setup.instrument.edge_spread, s.detector.quantum_efficiency,
                                 ray_options(s, 1), batch);
}

Pose pose_of_rays(const TriangulationSetup& setup, double displacement, std::vector<receiver::Profile> batches) {
    receiver::RayImage image = receiver::combined(std::move(batches));
    Pose pose = pose_of_light(setup, displacement, std::move(image.profile));
    pose.model_error = error_of_mean(setup, image.batches);
    return pose;
}

Pose make_coarse_pose(const TriangulationSetup& setup, double displacement) {
    return pose_of_image(setup, displacement, receiver::coarse);
}

std::vector<float> measure_background(const TriangulationSetup& setup, double ambient_rate, double exposure) {
    const scenario::Scenario& s = setup.scenario;
    const detector::ExpectedFrame dark = detector::expose(s.detector, setup.instrument.pattern, {}, ambient_rate,
                                                          exposure, scenario::sensor_temperature(s));
    const std::size_t pixels = dark.electrons.size();
    constexpr std::size_t block = base::block_pixels;
    const std::size_t drawn = (pixels + block - 1) / block * block;
    constexpr std::int64_t together = 8;  // frames drawn together cost less, and few stay in the cache
    std::vector<float> digits(drawn * together);
    std::vector<double> sum(pixels, 0.0);
    const detector::FrameNoise noise{run_seed(s), base::Stream::laser_off_shot, base::Stream::laser_off_read};
    for (std::int64_t frame = 0; frame < s.reading.background_frames; frame += together) {
        const auto some = static_cast<std::size_t>(std::min(together, s.reading.background_frames - frame));
        detector::draw_frames(dark, noise, frame, 0, static_cast<std::int64_t>(drawn) / base::unit_pixels,
                              std::span(digits).first(some * drawn));
        // Digits are whole numbers: so few of them add up exactly.
        for (std::size_t i = 1; i < some; ++i) {
            for (std::size_t k = 0; k < pixels; ++k) digits[k] += digits[i * drawn + k];
        }
        for (std::size_t k = 0; k < pixels; ++k) sum[k] += static_cast<double>(digits[k]);
    }
    std::vector<float> background(drawn, 0.0F);
    for (std::size_t k = 0; k < pixels; ++k) {
        background[k] = static_cast<float>(sum[k] / static_cast<double>(s.reading.background_frames));
    }
    if (s.reading.background == scenario::BackgroundMethod::level) {
        const auto end = background.begin() + static_cast<std::ptrdiff_t>(pixels);
        const float level = base::upper_median(std::vector<float>(background.begin(), end));
        std::fill(background.begin(), background.end(), level);
    }
    return background;
}

void settle_exposure(const TriangulationSetup& setup, Pose& pose) {
    const scenario::Scenario& s = setup.scenario;
    const double brightest = static_cast<double>(*std::max_element(pose.profile.rate.begin(), pose.profile.rate.end()));
    const double dark = detector::dark_current_at(s.detector, scenario::sensor_temperature(s));
    pose.timing = detector::settled_timing(s.exposure, s.detector.full_well, brightest + pose.ambient_rate + dark);
    pose.background = measure_background(setup, pose.ambient_rate, pose.timing.exposure);
}

void expose_pose(const TriangulationSetup& setup, Pose& pose) {
    const scenario::Scenario& s = setup.scenario;
    pose.expected = detector::expose(s.detector, setup.instrument.pattern, pose.profile.rate, pose.ambient_rate,
                                     pose.timing.exposure, scenario::sensor_temperature(s));
    pose.locate = locate_options(s);
    draw_window(pose);
}

double expected_peak(const Pose& pose) {
    const float brightest = *std::max_element(pose.profile.rate.begin(), pose.profile.rate.end());
    return static_cast<double>(brightest) * pose.timing.exposure;
}

}  // namespace spotwright::sensor
