#include "sim/sensor/instrument.hpp"

#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/base/median.hpp"
#include "sim/base/parallel.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/frames.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/receiver/ray_model.hpp"
#include "sim/receiver/volume_light.hpp"
#include "sim/target/plate.hpp"
#include "sim/sensor/layout.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/target/surface.hpp"

namespace spotwright::sensor {

namespace {

using base::mm;

constexpr std::int64_t calibration_points = 65;

// Share of full well to which the exposure at calibration brings the brightest pixel.
constexpr double calibration_level = 0.6;

reading::LocateOptions locate_options(const scenario::Scenario& scenario) {
    reading::LocateOptions options;
    options.method = scenario.reading.peak;
    options.choose = scenario.reading.choose;
    options.threshold = static_cast<float>(scenario.reading.threshold * scenario.detector.full_well);
    options.saturation = static_cast<float>(scenario.detector.full_well);
    options.dark_variance = dark_variance(scenario.detector);
    return options;
}

std::uint64_t run_seed(const scenario::Scenario& scenario) {
    return static_cast<std::uint64_t>(scenario.seed);
}

// Noiseless net signal of light on this specimen, brought to the level that suits it.
// @param level  Share of full well. [1]  @param full_well  [e]
std::vector<float> level_signal(double level, double full_well, const detector::FixedPattern& pattern,
                                const std::vector<float>& rate) {
    std::vector<float> net = rate;
    for (std::size_t k = 0; k < net.size(); ++k) net[k] *= pattern.response[k];
    const float brightest = *std::max_element(net.begin(), net.end());
    if (brightest <= 0.0F) return net;
    const double wanted = level * full_well;
    const auto scale = static_cast<float>(wanted / static_cast<double>(brightest));
    for (float& value : net) value *= scale;
    return net;
}

reading::Calibration calibrate(const scenario::Scenario& scenario, const emitter::Beam& beam,
                               const receiver::Receiver& receiver, const receiver::EdgeSpread& edge_spread,
                               const detector::FixedPattern& pattern, int threads) {
    const target::Surface tile = target::make_surface(scenario.reading.reference, scenario.emitter.wavelength);
    reading::LocateOptions options = locate_options(scenario);
    options.choose = {};
    const double near = scenario.mount.range[0];
    const double far = scenario.mount.range[1];
    const double overreach = calibration_overreach * (far - near);
    std::vector<reading::CalibrationPoint> points(calibration_points);
    std::vector<reading::Validity> found(calibration_points);
    base::parallel_for(calibration_points, threads, [&](std::int64_t i) {
        const double share = static_cast<double>(i) / static_cast<double>(calibration_points - 1);
        const double displacement = std::lerp(near - overreach, far + overreach, share);
        const receiver::Profile profile = receiver::image(beam, target::square_plane(displacement), tile, receiver,
                                                          edge_spread, scenario.detector.quantum_efficiency);
        const reading::Spot spot = reading::locate(
            level_signal(calibration_level, scenario.detector.full_well, pattern, profile.rate), options);
        points[static_cast<std::size_t>(i)] = {displacement, spot.position};
        found[static_cast<std::size_t>(i)] = spot.validity;
    });
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (found[i] == reading::Validity::valid) continue;
        scenario::reject(scenario, "mount.range_mm",
                         fmt::format("calibration on {} fails at {:.4g} mm: {}", scenario.reading.calibrated_on,
                                     points[i].displacement / mm, reading::name_of(found[i])),
                         "a range over which the reference's spot lies wholly on the array and above the threshold");
    }
    try {
        return reading::Calibration(points);
    } catch (const base::DomainError& error) {
        scenario::reject(scenario, "mount.range_mm", error.what(), "");
    }
}

// The walk of light through a translucent part, with enough photons for all readings to come.
std::optional<target::CachedWalk> walk_of(const TriangulationSetup& setup) {
    const scenario::Scenario& s = setup.scenario;
    const target::Surface surface = surface_of(s);
    if (!surface.volume) return std::nullopt;
    const auto geometry =
        receiver::walk_geometry(setup.instrument.beam, part_of(s, s.target.displacement), setup.instrument.receiver);
    if (!geometry) return std::nullopt;
    target::WalkOptions options;
    options.photons *= 2;
    // Light that scatters forwards leaves by fewer, stronger scatters. With so many of them the bias of marble and of
    // milk scatters by 3 % from seed to seed (7 % with the default), that of the polymer by 1.5 % without.
    if (surface.volume->anisotropy != 0.0) {
        options.photons *= 2;
        options.scatters *= 6;
    }
    return target::cache_walk(*surface.volume, *geometry, options);
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
        const double mean = static_cast<double>(frame.electrons[k]) + brightening(pose, k);
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
    return level_signal(s.exposure.level, s.detector.full_well, setup.instrument.pattern, rate);
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

// Thickness between the two nearest peaks as the sensor works it out: squarely mounted, of the index it was told.
std::optional<double> thickness_between(const TriangulationSetup& setup, const std::vector<reading::LocatedPeak>& peaks,
                                        std::size_t begin) {
    if (peaks.size() < 2) return std::nullopt;
    std::array<double, 2> faces{};
    for (std::size_t i = 0; i < faces.size(); ++i) {
        const reading::Spot& spot = peaks[i].spot;
        if (spot.validity != reading::Validity::valid) return std::nullopt;
        const auto place = setup.instrument.calibration.displacement(static_cast<double>(begin) + spot.position);
        if (!place) return std::nullopt;
        faces[i] = *place;
    }
    const scenario::Scenario& s = setup.scenario;
    return target::thickness_from(faces[1] - faces[0], *s.reading.thickness_index, -s.emitter.angle, s.receiver.angle);
}

}  // namespace

double dark_variance(const scenario::Detector& detector) {
    const double digit = 1.0 / detector::make_digitiser(detector).gain;
    return detector.read_noise * detector.read_noise + digit * digit / 12.0;
}

Instrument make_instrument(const scenario::Scenario& scenario, int threads) {
    const emitter::Beam beam = beam_of(scenario);
    const receiver::Receiver receiver = checked_receiver(scenario);
    const receiver::EdgeSpread edge_spread(receiver.aperture.shape);
    const detector::FixedPattern pattern = detector::make_fixed_pattern(scenario.detector);
    return {scenario::sensor_keys(scenario),
            beam,
            receiver,
            edge_spread,
            pattern,
            calibrate(scenario, beam, receiver, edge_spread, pattern, threads)};
}

TriangulationSetup set_up(const Instrument& instrument, const scenario::Scenario& scenario) {
    if (scenario::sensor_keys(scenario) != instrument.keys)
        throw base::InternalError("another sensor than its scenario's");
    TriangulationSetup setup = at_temperature({instrument, scenario}, scenario.surroundings.temperature);
    setup.walk = walk_of(setup);
    return setup;
}

double calibration_spacing(double near, double far) {
    return (far - near) * (1.0 + 2.0 * calibration_overreach) / static_cast<double>(calibration_points - 1);
}

std::optional<double> noiseless_reading(const TriangulationSetup& setup, double displacement) {
    constexpr std::array<double, 1> unmoved{0.0};
    return noiseless_readings(setup, displacement, unmoved).front();
}

std::vector<std::optional<double>> noiseless_readings(const TriangulationSetup& setup, double displacement,
                                                      std::span<const double> shifts) {
    const scenario::Scenario& s = setup.scenario;
    std::vector<std::optional<double>> readings;
    for (const receiver::Profile& profile : receiver::images_moved(
             setup.instrument.beam, part_of(s, displacement), surface_of(s), setup.instrument.receiver,
             setup.instrument.edge_spread, s.detector.quantum_efficiency, shifts, {}, cached_walk(setup))) {
        readings.push_back(reading_of(setup, level_signal(setup, profile.rate)));
    }
    return readings;
}

std::optional<double> noiseless_reading(const TriangulationSetup& setup, const Pose& pose) {
    std::vector<float> net = pose.profile.rate;
    const auto exposure = static_cast<float>(pose.timing.exposure);
    for (std::size_t k = 0; k < net.size(); ++k) net[k] *= exposure * setup.instrument.pattern.response[k];
    return reading_of(setup, net);
}

Pose make_pose(const TriangulationSetup& setup, double displacement, int threads) {
    const scenario::Scenario& s = setup.scenario;
    const target::Surface surface = surface_of(s);
    Pose pose;
    pose.displacement = displacement;
    pose.true_displacement = lit_displacement(s, setup.instrument.beam, displacement).value_or(displacement);
    const target::Part part = part_of(s, displacement);
    if (s.run.model == scenario::LightModel::ray) {
        receiver::RayImage image = receiver::trace_rays(setup.instrument.beam, part, surface, setup.instrument.receiver,
                                                        setup.instrument.edge_spread, s.detector.quantum_efficiency,
                                                        {s.run.rays, run_seed(s), threads});
        pose.model_error = error_of_mean(setup, image.batches);
        pose.profile = std::move(image.profile);
    } else {
        pose.profile =
            receiver::image(setup.instrument.beam, part, surface, setup.instrument.receiver,
                            setup.instrument.edge_spread, s.detector.quantum_efficiency, {}, cached_walk(setup));
        pose.model_error = error_beyond_tolerance(setup, pose);
    }
    const AmbientRates around = ambient_rates(s, setup.instrument.receiver, setup.instrument.beam, part);
    pose.ambient_rate = around.both();
    pose.glow_rate = around.glow;
    settle_exposure(setup, pose);
    expose_pose(setup, pose);
    return pose;
}

std::vector<float> measure_background(const TriangulationSetup& setup, double ambient_rate, double exposure) {
    const scenario::Scenario& s = setup.scenario;
    const detector::ExpectedFrame dark =
        detector::expose(s.detector, setup.instrument.pattern, {}, ambient_rate, exposure, s.surroundings.temperature);
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
    const double dark = detector::dark_current_at(s.detector, s.surroundings.temperature);
    pose.timing = detector::settled_timing(s.exposure, s.detector.full_well, brightest + pose.ambient_rate + dark);
    pose.background = measure_background(setup, pose.ambient_rate, pose.timing.exposure);
}

void expose_pose(const TriangulationSetup& setup, Pose& pose) {
    const scenario::Scenario& s = setup.scenario;
    pose.expected = detector::expose(s.detector, setup.instrument.pattern, pose.profile.rate, pose.ambient_rate,
                                     pose.timing.exposure, s.surroundings.temperature);
    pose.locate = locate_options(s);
    draw_window(pose);
}

double expected_peak(const Pose& pose) {
    const float brightest = *std::max_element(pose.profile.rate.begin(), pose.profile.rate.end());
    return static_cast<double>(brightest) * pose.timing.exposure;
}

namespace {

bool is_flickering(const TriangulationSetup& setup, const Pose& pose) {
    return pose.flickers && setup.scenario.surroundings.flicker_depth > 0.0 && pose.ambient_rate > pose.glow_rate;
}

// Sets the electrons of a frame to those of one reading under lamps that flicker.
void expose_flickering(const TriangulationSetup& setup, const Pose& pose, std::int64_t index,
                       detector::ExpectedFrame& frame) {
    const double begin = static_cast<double>(index) * pose.timing.period;
    const double change = receiver::flicker_factor(setup.scenario.surroundings, begin, pose.timing.exposure) - 1.0;
    const auto more = static_cast<float>((pose.ambient_rate - pose.glow_rate) * pose.timing.exposure * change);
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) {
        const float electrons = pose.expected.electrons[k] + more * setup.instrument.pattern.response[k];
        frame.electrons[k] = std::max(0.0F, electrons);
    }
}

// Frames of successive readings within the window of the pose.
void draw_digits(const TriangulationSetup& setup, const Pose& pose, std::int64_t first, std::size_t drawn,
                 Scratch& scratch) {
    const std::uint64_t seed = run_seed(setup.scenario);
    const bool flickers = is_flickering(setup, pose);
    if (!pose.fresh && !flickers) {
        detector::draw_frames(pose.expected, {seed}, first, pose.first_unit, pose.unit_count, scratch.digits);
        return;
    }
    if (flickers) scratch.flickered = pose.expected;
    const detector::ExpectedFrame& frame = flickers ? scratch.flickered : pose.expected;
    // Speckle is drawn in whole blocks.
    constexpr std::int64_t units = base::block_pixels / base::unit_pixels;
    const std::int64_t first_block = pose.first_unit / units;
    const std::int64_t end_block = (pose.first_unit + pose.unit_count + units - 1) / units;
    scratch.relative.resize(static_cast<std::size_t>((end_block - first_block) * base::block_pixels));
    const auto skipped =
        static_cast<std::size_t>(pose.first_unit * base::unit_pixels - first_block * base::block_pixels);
    for (std::size_t at = 0; at < scratch.digits.size(); at += drawn, ++first) {
        const std::span<float> digits = std::span(scratch.digits).subspan(at, drawn);
        if (flickers) expose_flickering(setup, pose, first, scratch.flickered);
        if (!pose.fresh) {
            detector::draw_frame(frame, {seed}, first, pose.first_unit, digits);
            continue;
        }
        receiver::draw_speckle(pose.fresh->field, seed, first, first_block, scratch.relative);
        const std::span<const float> relative = std::span(scratch.relative).subspan(skipped, drawn);
        detector::draw_frame(frame, {pose.fresh->light, relative}, {seed}, first, pose.first_unit, digits);
    }
}

// What the net signal of a frame, which begins at this pixel, shows; displacement is still to be looked up.
RawReading located(const TriangulationSetup& setup, const Pose& pose, std::span<const float> net, std::size_t begin) {
    const reading::Spot spot = reading::locate(net, pose.locate);
    RawReading result{spot.validity, static_cast<double>(begin) + spot.position, 0.0, spot.peak, {}};
    if (setup.scenario.reading.thickness_index) {
        result.thickness = thickness_between(setup, reading::locate_all(net, pose.locate), begin);
    }
    return result;
}

}  // namespace

void take_readings(const TriangulationSetup& setup, const Pose& pose, std::int64_t first, Scratch& scratch,
                   std::span<RawReading> readings) {
    const auto unit = static_cast<std::size_t>(base::unit_pixels);
    const std::size_t begin = static_cast<std::size_t>(pose.first_unit) * unit;
    const std::size_t drawn = static_cast<std::size_t>(pose.unit_count) * unit;
    const std::size_t present = std::min(drawn, pose.expected.electrons.size() - begin);
    scratch.digits.resize(drawn * readings.size());
    scratch.net.resize(present);
    draw_digits(setup, pose, first, drawn, scratch);
    const detector::Digitiser& digitiser = pose.expected.digitiser;
    for (std::size_t i = 0; i < readings.size(); ++i) {
        reading::net_signal(std::span(scratch.digits).subspan(i * drawn, present),
                            std::span(pose.background).subspan(begin, present), static_cast<float>(digitiser.gain),
                            static_cast<float>(digitiser.top_digit), scratch.net);
        readings[i] = located(setup, pose, scratch.net, begin);
    }
    // After all are located: each look-up takes long, and the next begins before it ends.
    for (RawReading& reading : readings) {
        if (reading.validity != reading::Validity::valid) continue;
        const auto displacement = setup.instrument.calibration.displacement(reading.position);
        reading.displacement = displacement.value_or(0.0);
        if (!displacement) reading.validity = reading::Validity::out_of_range;
    }
}

RawReading take_reading(const TriangulationSetup& setup, const Pose& pose, std::int64_t index, Scratch& scratch) {
    RawReading reading;
    take_readings(setup, pose, index, scratch, std::span(&reading, 1));
    return reading;
}

std::vector<float> frame_of(const TriangulationSetup& setup, const Pose& pose, std::int64_t index) {
    const std::size_t pixels = pose.expected.electrons.size();
    std::vector<float> digits(pose.background.size());
    detector::ExpectedFrame frame = pose.expected;
    if (is_flickering(setup, pose)) expose_flickering(setup, pose, index, frame);
    detector::draw_frame(frame, {run_seed(setup.scenario)}, index, 0, digits);
    digits.resize(pixels);
    return digits;
}

}  // namespace spotwright::sensor
