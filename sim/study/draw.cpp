#include "sim/study/draw.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/cases.hpp"
#include "sim/base/constants.hpp"
#include "sim/receiver/ambient.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/study/noise_alone.hpp"
#include "sim/sensor/temperature.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

namespace {

// Moves pattern, texture and feed marks under the beam.
void move_markings(scenario::Target& target, const scenario::Pair& by) {
    scenario::FeedMarks& marks = target.feed_marks;
    for (std::size_t i = 0; i < 2; ++i) {
        target.pattern.position[i] += by[i];
        if (target.texture.deviation > 0.0) target.patch[i] -= by[i];
    }
    marks.position += by[0] * std::cos(marks.turn) + by[1] * std::sin(marks.turn);
}

// The sensor before the drawn part, in the drawn warmth.
template <class AnyInstrument>
AnyInstrument drawn_instrument(AnyInstrument setup, const Draw& draw) {
    setup.scenario.target.displacement = draw.displacement;
    setup.scenario.target.tilt = draw.tilt;
    move_markings(setup.scenario.target, draw.position);
    return at_temperature(std::move(setup), draw.temperature);
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
void measure_no_background(sensor::TriangulationSetup& setup) {
    setup.scenario.reading.background_frames = 1;
}

std::optional<sensor::Pose> smooth_nominal(const sensor::Setup& nominal) {
    const auto on_array = [](const sensor::TriangulationSetup& each) -> std::optional<sensor::Pose> {
        const Draw draw = nominal_draw(each.scenario);
        sensor::TriangulationSetup setup = drawn_instrument(each, draw);
        measure_no_background(setup);
        return make_pose(setup, draw.displacement, 1);
    };
    const auto timed = [](const sensor::FlightSetup&) -> std::optional<sensor::Pose> { return std::nullopt; };
    return std::visit(base::Cases{on_array, timed}, nominal);
}

// @param pose  Of the part as the scenario has it, without speckle; triangulation.
std::optional<sensor::Speckle> speckle_of(const sensor::Setup& setup, const std::optional<sensor::Pose>& pose) {
    const auto on_array = [&pose](const sensor::TriangulationSetup& each) {
        return make_speckle(each, each.scenario.target.displacement, pose->profile);
    };
    const auto timed = [](const sensor::FlightSetup&) -> std::optional<sensor::Speckle> { return std::nullopt; };
    return std::visit(base::Cases{on_array, timed}, setup);
}

// Ambient light is set on the pose afterwards.
bool lights_alike(const Draw& a, const Draw& b) {
    return a.displacement == b.displacement && a.tilt == b.tilt && a.temperature == b.temperature &&
           a.position == b.position;
}

}  // namespace

Draw nominal_draw(const scenario::Scenario& s) {
    Draw draw;
    draw.displacement = s.target.displacement;
    draw.tilt = s.target.tilt;
    draw.temperature = scenario::sensor_temperature(s);
    return draw;
}

ErrorModel::ErrorModel(sensor::Setup setup)
    : setup_(std::move(setup)), nominal_pose_(smooth_nominal(setup_)), speckle_(speckle_of(setup_, nominal_pose_)) {}

bool ErrorModel::speckles() const {
    const auto on_array = [this](const sensor::TriangulationSetup&) { return speckle_.has_value(); };
    const auto timed = [](const sensor::FlightSetup& each) {
        const scenario::Scenario& s = each.scenario;
        return s.run.speckle != scenario::SpeckleModel::off &&
               make_flight_pose(each, s.target.displacement).received.grains > 0.0;
    };
    return std::visit(base::Cases{on_array, timed}, setup_);
}

// Equation (receiver.18b).
double ErrorModel::flicker_amplitude() const {
    if (!nominal_pose_) return 0.0;
    const scenario::Scenario& s = scenario_of(setup_);
    const detector::Timing& timing = nominal_pose_->timing;
    const double one = receiver::flicker_amplitude(s.surroundings, timing.exposure);
    const auto count = static_cast<double>(std::min(s.reading.average, longest_window));
    const double half_turn = 2.0 * base::pi * s.surroundings.mains_frequency * timing.period;
    const double step = count * std::sin(half_turn);
    return std::abs(step) < 1e-9 ? one : one * std::sin(count * half_turn) / step;
}

std::optional<double> ErrorModel::error_at(const Draw& draw) const {
    const Realisation none;
    return errors_at(draw, std::span(&none, 1)).front();
}

std::vector<std::optional<double>> ErrorModel::errors_at(const Draw& draw, std::span<const Realisation> chances) const {
    return std::visit([&](const auto& each) { return errors_of(each, draw, chances); }, setup_);
}

void ErrorModel::apply_speckle(const sensor::TriangulationSetup& setup, double displacement, std::int64_t patch,
                               receiver::SpeckleWorkspace& workspace, sensor::Pose& pose) const {
    const scenario::Scenario& nominal = scenario_of(setup_);
    receiver::SpecklePattern pattern = pattern_at(*speckle_, nominal, patch, workspace);
    const auto here = receiver::image_position(setup.instrument.receiver, displacement);
    const auto there = receiver::image_position(setup.instrument.receiver, nominal.target.displacement);
    if (here && there) {
        const auto pixels =
            static_cast<std::ptrdiff_t>(std::lround((*here - *there) / setup.instrument.receiver.pitch));
        if (pixels != 0) pattern = moved_by(std::move(pattern), pixels);
    }
    pose.profile.rate = sensor::under_pattern(pose.profile, pattern);
}

std::vector<std::optional<double>> ErrorModel::errors_of(const sensor::TriangulationSetup& nominal, const Draw& draw,
                                                         std::span<const Realisation> chances) const {
    sensor::TriangulationSetup setup = drawn_instrument(nominal, draw);
    measure_no_background(setup);
    const bool is_nominal = lights_alike(draw, nominal_draw(nominal.scenario));
    const sensor::Pose smooth = is_nominal ? *nominal_pose_ : make_pose(setup, draw.displacement, 1);
    receiver::SpeckleWorkspace workspace;
    if (speckle_ && speckle_->plan) workspace = receiver::make_workspace(*speckle_->plan);
    std::vector<std::optional<double>> errors;
    for (const Realisation& chance : chances) {
        sensor::Pose pose = smooth;
        setup.scenario.reading.background_frames = chance.reading ? nominal.scenario.reading.background_frames : 1;
        const bool speckled = chance.patch && speckle_;
        if (speckled) apply_speckle(setup, draw.displacement, *chance.patch, workspace, pose);
        if (chance.reading) {
            setup.scenario.seed = seed_of_reading(nominal.scenario.seed, *chance.reading);
        }
        if (speckled || chance.reading) settle_exposure(setup, pose);
        pose.ambient_rate = pose.glow_rate + (pose.ambient_rate - pose.glow_rate) * draw.ambient;
        pose.flickers = false;   // the draw has it
        pose.neighbour.clear();  // the budget has a line of it
        expose_pose(setup, pose);
        std::optional<double> found;
        if (chance.reading) {
            sensor::Scratch scratch;
            found = output_of(setup.scenario.reading,
                              [&](std::int64_t index) { return take_reading(setup, pose, index, scratch); });
        } else {
            found = quiet_reading(setup, pose, smooth.ambient_rate);
        }
        errors.push_back(found ? std::optional(*found - pose.true_displacement) : std::nullopt);
    }
    return errors;
}

std::vector<std::optional<double>> ErrorModel::errors_of(const sensor::FlightSetup& nominal, const Draw& draw,
                                                         std::span<const Realisation> chances) const {
    sensor::FlightSetup setup = drawn_instrument(nominal, draw);
    setup.scenario.surroundings.illuminance *= draw.ambient;
    const sensor::FlightPose smooth = make_flight_pose(setup, draw.displacement);
    const bool speckles = setup.scenario.run.speckle != scenario::SpeckleModel::off;
    std::vector<std::optional<double>> errors;
    for (const Realisation& chance : chances) {
        sensor::FlightPose pose = chance.patch && speckles ? under_patch(setup, smooth, *chance.patch) : smooth;
        if (has_clock(pose)) pose.neighbour.reset();  // its beat has a line of the budget; its mean light stays
        // Outputs meet the lamps at places of their flicker that fill it evenly, by the golden ratio.
        constexpr double golden = 0.6180339887498949;
        pose.start = std::fmod(golden * static_cast<double>(chance.reading.value_or(0)), 1.0) /
                     (2.0 * setup.scenario.surroundings.mains_frequency);
        std::optional<double> found;
        if (chance.reading) {
            sensor::FlightSetup noisy = setup;
            noisy.scenario.seed = seed_of_reading(nominal.scenario.seed, *chance.reading);
            found =
                output_of(noisy.scenario.reading, [&](std::int64_t index) { return take_reading(noisy, pose, index); });
        } else {
            found = noiseless_reading(setup, pose);
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
