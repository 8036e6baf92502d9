#include "sim/study/draw.hpp"

#include <algorithm>
#include <cmath>

#include "sim/reading/smoothing.hpp"
#include "sim/study/noise_alone.hpp"
#include "sim/sensor/warmth.hpp"

namespace spotwright::study {

namespace {

// The sensor before the drawn part, in the drawn warmth.
template <class AnyInstrument>
AnyInstrument drawn_instrument(AnyInstrument instrument, const Draw& draw) {
    instrument.scenario.target.displacement = draw.displacement;
    instrument.scenario.target.tilt = draw.tilt;
    return at_temperature(std::move(instrument), draw.temperature);
}

// The noise of every reading comes from a seed of its own, and with it that of its background.
std::int64_t seed_of_reading(std::int64_t seed, std::int64_t reading) {
    constexpr std::uint64_t positive = 0x7FFFFFFFFFFFFFFFU;
    const std::uint64_t sum = static_cast<std::uint64_t>(seed) + 1U + static_cast<std::uint64_t>(reading);
    return static_cast<std::int64_t>(sum & positive);
}

// A pattern that was worked out for another place of the spot, moved along with it by whole pixels.
receiver::SpecklePattern moved_by(receiver::SpecklePattern pattern, std::ptrdiff_t pixels) {
    const auto shift = [pixels](std::vector<float>& values, float beyond) {
        std::vector<float> moved(values.size(), beyond);
        const auto count = static_cast<std::ptrdiff_t>(values.size());
        for (std::ptrdiff_t k = std::max<std::ptrdiff_t>(0, pixels); k < std::min(count, count + pixels); ++k) {
            moved[static_cast<std::size_t>(k)] = values[static_cast<std::size_t>(k - pixels)];
        }
        values = std::move(moved);
    };
    shift(pattern.intensity, 1.0F);
    if (!pattern.field.empty()) shift(pattern.field, 0.0F);
    return pattern;
}

// Only a reading with noise looks at a measured background, and it measures its own: others take one frame.
void measure_no_background(sensor::Instrument& instrument) {
    instrument.scenario.reading.background_frames = 1;
}

std::optional<sensor::Pose> smooth_nominal(const sensor::Sensor& sensor) {
    const auto* nominal = std::get_if<sensor::Instrument>(&sensor);
    if (nominal == nullptr) return std::nullopt;
    const Draw draw = nominal_draw(nominal->scenario);
    sensor::Instrument instrument = drawn_instrument(*nominal, draw);
    measure_no_background(instrument);
    return make_pose(instrument, draw.displacement, 1);
}

// Ambient light is told to a pose afterwards.
bool lights_alike(const Draw& a, const Draw& b) {
    return a.displacement == b.displacement && a.tilt == b.tilt && a.temperature == b.temperature;
}

}  // namespace

Draw nominal_draw(const scenario::Scenario& s) {
    Draw draw;
    draw.displacement = s.target.displacement;
    draw.tilt = s.target.tilt;
    draw.temperature = s.surroundings.temperature;
    return draw;
}

ErrorModel::ErrorModel(sensor::Sensor sensor) : sensor_(std::move(sensor)), nominal_pose_(smooth_nominal(sensor_)) {
    const auto* instrument = std::get_if<sensor::Instrument>(&sensor_);
    if (instrument == nullptr) return;
    speckle_ = make_speckle(*instrument, instrument->scenario.target.displacement, nominal_pose_->profile);
}

bool ErrorModel::speckles() const {
    if (speckle_) return true;
    const scenario::Scenario& s = scenario_of(sensor_);
    if (s.principle == scenario::Principle::triangulation || s.run.speckle == scenario::SpeckleModel::off) return false;
    const auto& instrument = std::get<sensor::FlightInstrument>(sensor_);
    return make_flight_pose(instrument, s.target.displacement).received.grains > 0.0;
}

std::optional<double> ErrorModel::error_at(const Draw& draw) const {
    const Chance none;
    return errors_at(draw, std::span(&none, 1)).front();
}

std::vector<std::optional<double>> ErrorModel::errors_at(const Draw& draw, std::span<const Chance> chances) const {
    return std::visit([&](const auto& instrument) { return errors_of(instrument, draw, chances); }, sensor_);
}

void ErrorModel::lay_speckle(const sensor::Instrument& instrument, double displacement, std::int64_t patch,
                             receiver::SpeckleWorkspace& workspace, sensor::Pose& pose) const {
    const scenario::Scenario& nominal = scenario_of(sensor_);
    receiver::SpecklePattern pattern = pattern_at(*speckle_, nominal, patch, workspace);
    const auto here = receiver::image_position(instrument.receiver, displacement);
    const auto there = receiver::image_position(instrument.receiver, nominal.target.displacement);
    if (here && there) {
        const auto pixels = static_cast<std::ptrdiff_t>(std::lround((*here - *there) / instrument.receiver.pitch));
        if (pixels != 0) pattern = moved_by(std::move(pattern), pixels);
    }
    pose.profile.rate = sensor::under_pattern(pose.profile, pattern);
}

std::vector<std::optional<double>> ErrorModel::errors_of(const sensor::Instrument& nominal, const Draw& draw,
                                                         std::span<const Chance> chances) const {
    sensor::Instrument instrument = drawn_instrument(nominal, draw);
    measure_no_background(instrument);
    const bool is_nominal = lights_alike(draw, nominal_draw(nominal.scenario));
    const sensor::Pose smooth = is_nominal ? *nominal_pose_ : make_pose(instrument, draw.displacement, 1);
    receiver::SpeckleWorkspace workspace;
    if (speckle_ && speckle_->plan) workspace = receiver::make_workspace(*speckle_->plan);
    std::vector<std::optional<double>> errors;
    for (const Chance& chance : chances) {
        sensor::Pose pose = smooth;
        instrument.scenario.reading.background_frames = chance.reading ? nominal.scenario.reading.background_frames : 1;
        const bool speckled = chance.patch && speckle_;
        if (speckled) lay_speckle(instrument, draw.displacement, *chance.patch, workspace, pose);
        if (chance.reading) {
            instrument.scenario.seed = seed_of_reading(nominal.scenario.seed, *chance.reading);
        }
        if (speckled || chance.reading) settle_exposure(instrument, pose);
        pose.ambient_rate *= draw.ambient;
        expose_pose(instrument, pose);
        std::optional<double> found;
        if (chance.reading) {
            sensor::Scratch scratch;
            found = output_of(instrument.scenario.reading,
                              [&](std::int64_t index) { return take_reading(instrument, pose, index, scratch); });
        } else {
            found = quiet_reading(instrument, pose, smooth.ambient_rate);
        }
        errors.push_back(found ? std::optional(*found - pose.true_displacement) : std::nullopt);
    }
    return errors;
}

std::vector<std::optional<double>> ErrorModel::errors_of(const sensor::FlightInstrument& nominal, const Draw& draw,
                                                         std::span<const Chance> chances) const {
    sensor::FlightInstrument instrument = drawn_instrument(nominal, draw);
    instrument.scenario.surroundings.illuminance *= draw.ambient;
    const sensor::FlightPose smooth = make_flight_pose(instrument, draw.displacement);
    const bool speckles = instrument.scenario.run.speckle != scenario::SpeckleModel::off;
    std::vector<std::optional<double>> errors;
    for (const Chance& chance : chances) {
        const sensor::FlightPose pose =
            chance.patch && speckles ? under_patch(instrument, smooth, *chance.patch) : smooth;
        std::optional<double> found;
        if (chance.reading) {
            sensor::FlightInstrument noisy = instrument;
            noisy.scenario.seed = seed_of_reading(nominal.scenario.seed, *chance.reading);
            found =
                output_of(noisy.scenario.reading, [&](std::int64_t index) { return take_reading(noisy, pose, index); });
        } else {
            found = noiseless_reading(instrument, pose);
        }
        errors.push_back(found ? std::optional(*found - pose.true_displacement) : std::nullopt);
    }
    return errors;
}

std::optional<double> output_of(const scenario::Reading& options,
                                const std::function<sensor::RawReading(std::int64_t index)>& take) {
    scenario::Reading bounded = options;
    bounded.median = std::min(bounded.median, longest_window - 1);
    bounded.average = std::min(bounded.average, longest_window);
    reading::Smoother smoother(bounded);
    std::optional<double> output;
    for (std::int64_t index = 0; index < bounded.average + bounded.median - 1; ++index) {
        const sensor::RawReading raw = take(index);
        const bool valid = raw.validity == reading::Validity::valid;
        output = smoother.push(valid ? std::optional(raw.displacement) : std::nullopt);
    }
    return output;
}

}  // namespace spotwright::study
