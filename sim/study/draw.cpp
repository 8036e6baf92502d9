#include "sim/study/draw.hpp"

#include <algorithm>
#include <cmath>

#include "sim/reading/smoothing.hpp"
#include "sim/study/noise_alone.hpp"
#include "sim/study/warmth.hpp"

namespace spotwright::study {

namespace {

// The sensor before the drawn part, in the drawn warmth. The noise of every reading comes from a seed of its own, and
// with it that of its background.
template <class AnyInstrument>
AnyInstrument drawn_instrument(AnyInstrument instrument, const Draw& draw) {
    scenario::Scenario& s = instrument.scenario;
    s.target.displacement = draw.displacement;
    s.target.tilt = draw.tilt;
    if (draw.reading) {
        s.seed = static_cast<std::int64_t>(
            (static_cast<std::uint64_t>(s.seed) + 1U + static_cast<std::uint64_t>(*draw.reading)) &
            0x7FFFFFFFFFFFFFFFU);
    }
    return at_temperature(std::move(instrument), draw.temperature);
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

std::optional<Speckle> speckle_of(const Sensor& sensor) {
    const auto* instrument = std::get_if<Instrument>(&sensor);
    if (instrument == nullptr) return std::nullopt;
    const double displacement = instrument->scenario.target.displacement;
    return make_speckle(*instrument, displacement, make_pose(*instrument, displacement, 1).profile);
}

}  // namespace

Draw nominal_draw(const scenario::Scenario& s) {
    Draw draw;
    draw.displacement = s.target.displacement;
    draw.tilt = s.target.tilt;
    draw.temperature = s.surroundings.temperature;
    return draw;
}

ErrorModel::ErrorModel(Sensor sensor) : sensor_(std::move(sensor)), speckle_(speckle_of(sensor_)) {}

bool ErrorModel::speckles() const {
    if (speckle_) return true;
    const scenario::Scenario& s = scenario_of(sensor_);
    if (s.principle == scenario::Principle::triangulation || s.run.speckle == scenario::SpeckleModel::off) return false;
    const auto& instrument = std::get<FlightInstrument>(sensor_);
    return make_flight_pose(instrument, s.target.displacement).received.grains > 0.0;
}

std::optional<double> ErrorModel::error_at(const Draw& draw) const {
    return std::visit([&](const auto& instrument) { return error_of(instrument, draw); }, sensor_);
}

void ErrorModel::lay_speckle(const Instrument& instrument, const Draw& draw, Pose& pose) const {
    if (!draw.patch || !speckle_) return;
    const scenario::Scenario& nominal = scenario_of(sensor_);
    receiver::SpeckleWorkspace workspace =
        speckle_->plan ? receiver::make_workspace(*speckle_->plan) : receiver::SpeckleWorkspace{};
    receiver::SpecklePattern pattern = pattern_at(*speckle_, nominal, *draw.patch, workspace);
    const auto here = receiver::image_position(instrument.receiver, draw.displacement);
    const auto there = receiver::image_position(instrument.receiver, nominal.target.displacement);
    if (here && there) {
        const auto pixels = static_cast<std::ptrdiff_t>(std::lround((*here - *there) / instrument.receiver.pitch));
        if (pixels != 0) pattern = moved_by(std::move(pattern), pixels);
    }
    pose.profile.rate = under_pattern(pose.profile, pattern);
    settle_exposure(instrument, pose);
}

std::optional<double> ErrorModel::error_of(const Instrument& nominal, const Draw& draw) const {
    const Instrument instrument = drawn_instrument(nominal, draw);
    Pose pose = make_pose(instrument, draw.displacement, 1);
    const double background_rate = pose.ambient_rate;
    lay_speckle(instrument, draw, pose);
    pose.ambient_rate *= draw.ambient;
    expose_pose(instrument, pose);
    std::optional<double> found;
    if (draw.reading) {
        Scratch scratch;
        found = output_of(instrument.scenario.reading,
                          [&](std::int64_t index) { return take_reading(instrument, pose, index, scratch); });
    } else {
        found = quiet_reading(instrument, pose, background_rate);
    }
    if (!found) return std::nullopt;
    return *found - pose.true_displacement;
}

std::optional<double> ErrorModel::error_of(const FlightInstrument& nominal, const Draw& draw) const {
    FlightInstrument instrument = drawn_instrument(nominal, draw);
    instrument.scenario.surroundings.illuminance *= draw.ambient;
    FlightPose pose = make_flight_pose(instrument, draw.displacement);
    if (draw.patch && instrument.scenario.run.speckle != scenario::SpeckleModel::off) {
        pose = under_patch(instrument, pose, *draw.patch);
    }
    std::optional<double> found;
    if (draw.reading) {
        found = output_of(instrument.scenario.reading,
                          [&](std::int64_t index) { return take_reading(instrument, pose, index); });
    } else {
        found = noiseless_reading(instrument, pose);
    }
    if (!found) return std::nullopt;
    return *found - pose.true_displacement;
}

std::optional<double> output_of(const scenario::Reading& options,
                                const std::function<RawReading(std::int64_t index)>& take) {
    scenario::Reading bounded = options;
    bounded.median = std::min(bounded.median, longest_window - 1);
    bounded.average = std::min(bounded.average, longest_window);
    reading::Smoother smoother(bounded);
    std::optional<double> output;
    for (std::int64_t index = 0; index < bounded.average + bounded.median - 1; ++index) {
        const RawReading raw = take(index);
        const bool valid = raw.validity == reading::Validity::valid;
        output = smoother.push(valid ? std::optional(raw.displacement) : std::nullopt);
    }
    return output;
}

}  // namespace spotwright::study
