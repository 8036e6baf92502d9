#include <boost/math/statistics/univariate_statistics.hpp>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "sim/base/constants.hpp"
#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/detector/exposure_control.hpp"
#include "sim/reading/smoothing.hpp"
#include "sim/measure/motion.hpp"
#include "sim/measure/moving_response.hpp"
#include "sim/measure/moving_scene.hpp"
#include "sim/measure/moving.hpp"
#include "sim/validation/published.hpp"
#include "sim/validation/support.hpp"
#include "sim/measure/roundness.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::validation {

namespace {

using namespace base;

constexpr const char* over_time_derived = "worked value, derived";
constexpr const char* signal_processing =
    "worked value; A. V. Oppenheim, R. W. Schafer, Discrete-Time Signal Processing";

Check frame_count(std::string id, std::string claim, double expected, double got) {
    return {std::move(id), std::move(claim), over_time_derived, "1", expected, got, 0.0, "a count"};
}

// Outputs of the smoother for a series.
std::vector<double> outputs_of(std::int64_t average, std::int64_t median, const std::vector<double>& readings) {
    scenario::Reading options;
    options.average = average;
    options.median = median;
    reading::Smoother smoother(options);
    std::vector<double> outputs;
    for (const double reading : readings) {
        const auto output = smoother.push(reading);
        if (output && smoother.readings_to_settle() == 0) outputs.push_back(*output);
    }
    return outputs;
}

std::vector<double> normal_numbers(std::size_t count) {
    std::vector<float> numbers(count / block_pixels * block_pixels);
    fill_normals({8, Stream::read_noise}, 0, 0, numbers);
    return {numbers.begin(), numbers.end()};
}

// Amplitude that the smoother leaves of a vibration, at a frequency in units of the sampling frequency: greatest
// output, over samples that come to every phase.
double passed_by_smoother(std::int64_t average, double frequency) {
    std::vector<double> in_phase;
    std::vector<double> square;
    constexpr int count = 4000;
    for (int i = 0; i < count; ++i) {
        in_phase.push_back(std::cos(2.0 * pi * frequency * i));
        square.push_back(std::sin(2.0 * pi * frequency * i));
    }
    return std::hypot(outputs_of(average, 1, in_phase).back(), outputs_of(average, 1, square).back());
}

// Variance of medians of independent normal numbers.
double median_variance(std::int64_t median) {
    const auto window = static_cast<std::size_t>(median);
    const std::vector<double> all = outputs_of(1, median, normal_numbers(1U << 18U));
    std::vector<double> apart;  // windows that share nothing
    for (std::size_t i = 0; i < all.size(); i += window) apart.push_back(all[i]);
    return boost::math::statistics::sample_variance(apart);
}

Check median_check(std::int64_t median, double expected) {
    const double windows = static_cast<double>(1U << 18U) / static_cast<double>(median);
    return {fmt::format("over_time.median_{}", median),
            fmt::format("variance of the median of {} normal numbers", median),
            over_time_derived,
            "1",
            expected,
            median_variance(median),
            expected * standard_errors * 2.0 * relative_error_of_deviation(windows),
            "5 standard errors of the variance of windows that share nothing"};
}

std::vector<Check> delay_checks() {
    const double noise = [] {
        const std::vector<double> all = outputs_of(16, 1, normal_numbers(1U << 18U));
        std::vector<double> apart;
        for (std::size_t i = 0; i < all.size(); i += 16) apart.push_back(all[i]);
        return std::sqrt(boost::math::statistics::sample_variance(apart));
    }();
    std::vector<double> ramp;
    for (int i = 0; i < 100; ++i) ramp.push_back(i);
    std::vector<double> step(64, 0.0);
    for (std::size_t i = 40; i < step.size(); ++i) step[i] = 1.0;
    scenario::Reading reading;
    reading.average = 16;
    const std::vector<double> stepped = outputs_of(16, 1, step);
    constexpr double sampling = 7500.0;
    return {
        {"over_time.average_noise", "white noise after a moving average of 16", signal_processing, "1", 0.25, noise,
         0.25 * standard_errors * relative_error_of_deviation(16384.0), "5 standard errors of 16384 averages"},
        worked("over_time.average_lag", "lag of a ramp behind a moving average of 16", signal_processing, "samples",
               7.5, 99.0 - outputs_of(16, 1, ramp).back()),
        worked("over_time.average_delay", "the same by the closed form, at 1 kHz", signal_processing, "ms", 7.5,
               measure::smoothing_delay(reading, 1.0 * ms) / ms),
        worked("over_time.median_lag", "lag of a ramp behind a median of 9", signal_processing, "samples", 4.0,
               99.0 - outputs_of(1, 9, ramp).back()),
        worked("over_time.average_step", "moving average of 16, eight readings after a step", signal_processing, "1",
               0.5, stepped[40 - 15 + 7]),
        worked("over_time.bandwidth_4", "-3 dB of a moving average of 4, share of the sampling frequency",
               signal_processing, "1", 0.1138481, measure::bandwidth(1e-9, 4, 1.0)),
        worked("over_time.bandwidth_16", "the same of 16, at 1 kHz", signal_processing, "Hz", 27.73094,
               measure::bandwidth(1e-9, 16, 1.0 * ms)),
        worked("over_time.bandwidth_64", "the same of 64, share of the sampling frequency", signal_processing, "1",
               0.006921768, measure::bandwidth(1e-9, 64, 1.0)),
        worked("over_time.bandwidth_exposure", "-3 dB of an exposure, times its length", signal_processing, "1",
               0.4429465, measure::bandwidth(1.0, 1, 1.0)),
        worked("over_time.average_100Hz", "100 Hz after a moving average of 16 at 1 kHz", signal_processing, "1",
               0.1923552, passed_by_smoother(16, 0.1)),
        worked("over_time.average_first_null", "its first zero, 62.5 Hz", signal_processing, "1", 0.0,
               std::round(passed_by_smoother(16, 0.0625) * 1e12)),
        worked("over_time.average_75", "100 Hz after a moving average of 75 at 7.5 kHz", signal_processing, "1", 0.0,
               std::round(passed_by_smoother(75, 100.0 / sampling) * 1e12)),
        worked("over_time.average_64", "100 Hz after a moving average of 64 at 7.5 kHz", signal_processing, "1",
               0.1659061, passed_by_smoother(64, 100.0 / sampling)),
        worked("over_time.exposure_100Hz", "100 Hz after an average over 1 ms: sinc", signal_processing, "1", 0.9836316,
               measure::exposure_response(100.0, 1.0 * ms)),
        worked("over_time.exposure_1kHz", "1 kHz after an exposure of 0.25 ms", signal_processing, "1", 0.9003163,
               measure::exposure_response(1000.0, 0.25 * ms)),
        worked("over_time.alias_fast", "7450 Hz sampled at 7500 Hz", over_time_derived, "Hz", 50.0,
               measure::alias_of(7450.0, 1.0 / 7500.0)),
        worked("over_time.alias_slow", "100 Hz sampled at 75 Hz", over_time_derived, "Hz", 25.0,
               measure::alias_of(100.0, 1.0 / 75.0)),
        median_check(3, 0.448671105),
        median_check(5, 0.286833662),
        median_check(7, 0.210446862),
        median_check(9, 0.166101281),
        median_check(31, 0.0499655787),
    };
}

// Readings of a turning eccentric shaft of 100 mm radius, 360 to a turn, without an instrument between.
struct Turn {
    std::vector<double> angle;
    std::vector<double> displacement;
};

Turn eccentric_turn() {
    scenario::Scenario s = worked_example_sensor();
    s.target.shape = scenario::ShapeKind::cylinder;
    s.target.cylinder.radius = 100.0 * mm;
    s.motion.rotation = 1.0;
    s.motion.eccentricity = 50.0 * um;
    s.motion.eccentricity_angle = 0.3;
    const measure::MovedPart part(s);
    Turn turn;
    for (int i = 0; i < 360; ++i) {
        const measure::PartState place = measure::part_state_at(s, i / 360.0);
        turn.angle.push_back(place.turned);
        turn.displacement.push_back(*part.lit_displacement(place.along, part.offset_at(place)));
    }
    return turn;
}

// Standard uncertainty that a scatter of 2 um, different from reading to reading, leaves of 750 readings.
double uncertainty_of_750() {
    constexpr int count = 750;
    const double size = 2.0 * um * std::sqrt((count - 3.0) / count);
    std::vector<double> angle;
    std::vector<double> value;
    for (int i = 0; i < count; ++i) {
        angle.push_back(2.0 * pi * i / count);
        value.push_back(i % 2 == 0 ? size : -size);
    }
    return measure::run_out(angle, value)->eccentricity.uncertainty;
}

double readings_per_turn() {
    scenario::Scenario s = worked_example_sensor();
    s.motion.rotation = 600.0 / 60.0;
    std::vector<double> angle;
    std::vector<double> value;
    for (int i = 0; i < 2000; ++i) {
        angle.push_back(measure::part_state_at(s, i / 7500.0).turned);
        value.push_back(std::cos(angle.back()));
    }
    return measure::run_out(angle, value)->per_revolution;
}

std::vector<Check> roundness_checks() {
    const Turn turn = eccentric_turn();
    const measure::RunOut found = *measure::run_out(turn.angle, turn.displacement);
    double mean = 0.0;
    for (const double d : turn.displacement) mean += 100.0 * mm - d;
    std::vector<double> x;
    std::vector<double> z;
    for (int degrees = -60; degrees <= 60; degrees += 10) {
        x.push_back((0.03 + 100.0 * std::cos(degrees * degree)) * mm);
        z.push_back((-0.04 + 100.0 * std::sin(degrees * degree)) * mm);
    }
    const measure::Circle circle = *measure::fit_circle(x, z);
    return {
        worked("over_time.eccentricity", "first harmonic of a shaft that turns 50 um beside its axis",
               over_time_derived, "um", 50.0, found.eccentricity.value / um),
        worked("over_time.high_spot", "its high spot", over_time_derived, "rad", 0.3, found.high_spot.value),
        {"over_time.mean_radius", "its mean radius", over_time_derived, "mm", 99.9999937, mean / 360.0 / mm,
         half_last_digit(99.9999937, 9), "last digit of the worked value"},
        {"over_time.run_out", "its total run-out", over_time_derived, "mm", 0.0999994575, found.total / mm,
         half_last_digit(0.0999994575, 9), "last digit of the worked value"},
        {"over_time.limacon", "what the first harmonic leaves, from crest to trough: twice e^2/(4R)", over_time_derived,
         "nm", 12.5, found.out_of_roundness / nm, 0.01, "samples 1 deg apart miss its crests by up to 1 - cos(1 deg)"},
        worked("over_time.eccentricity_uncertainty", "uncertainty of it, 750 readings with 2 um of noise",
               over_time_derived, "um", 0.1032796, uncertainty_of_750() / um),
        {"over_time.per_revolution", "readings per turn, 7.5 kHz at 600 turns a minute", over_time_derived, "1", 750.0,
         readings_per_turn(), 1e-6, "rounding"},
        worked("over_time.circle_x", "centre of an arc of 120 deg, algebraic fit", over_time_derived, "mm", 0.03,
               std::round(circle.centre.x() / mm * 1e9) / 1e9),
        worked("over_time.circle_y", "the same", over_time_derived, "mm", -0.04,
               std::round(circle.centre.y() / mm * 1e9) / 1e9),
        worked("over_time.circle_radius", "its radius", over_time_derived, "mm", 100.0, circle.radius.value / mm),
    };
}

// Surface that passes unread where six readings are lost after each change, at 600 turns a minute of a roll of 0.2 m,
// read every 133 us.
double blind_length() {
    constexpr double speed = 2.0 * pi;  // m/s
    constexpr double period = 133.0 * us;
    constexpr std::int64_t piece = 100;
    const auto take = [&](measure::SeriesBlock& block) {
        for (std::size_t k = 0; k < block.moment.size(); ++k) {
            const std::int64_t n = block.first + static_cast<std::int64_t>(k);
            measure::Moment& moment = block.moment[k];
            moment.time = static_cast<double>(n) * period;
            moment.way = speed * moment.time;
            moment.exposure = 50.0 * us;
            moment.period = period;
            moment.piece = n / piece % 2;
            sensor::RawReading raw;
            raw.validity = n >= piece && n % piece < 6 ? reading::Validity::saturated : reading::Validity::valid;
            put_reading(raw, k, block);
        }
    };
    return measure::take_moving_series(worked_example_sensor(), take, {1000, 1, {}, {}}).exposure.blind_length;
}

// How far the mean of an exposure of 1 ms is from its middle at 100 m/s^2, 256 moments of it.
double bias_of_acceleration() {
    scenario::Scenario s = worked_example_sensor();
    s.motion.sub_exposures = 256;
    s.exposure.exposure = 1.0 * ms;
    s.exposure.period = {1.0 * ms, 1.0 * ms};
    for (int k = 0; k <= 512; ++k) {
        const double time = k / 512.0 * ms;
        s.motion.places.time.push_back(time);
        s.motion.places.along.push_back(50.0 * time * time);
        s.motion.places.across.push_back(0.0);
    }
    const sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
    const measure::MovingScene scene(setup, 1.0 * ms);
    double mean = 0.0;
    for (const measure::ExposureSlice& look : scene.looks_of(0.0, 1.0 * ms).all)
        mean += look.weight * look.glide.stand.along;
    return mean - scene.moment_of(0.0, {1.0 * ms, 1.0 * ms}).truth;
}

std::vector<Check> motion_checks() {
    const receiver::Receiver receiver = sensor::receiver_of(worked_example_sensor());
    return {
        worked("over_time.blind_length", "surface that passes unread in six readings of 133 us at 6.283 m/s",
               over_time_derived, "mm", 5.013982, blind_length() / mm),
        worked("over_time.smear", "image of 0.5 m/s along the beam in 100 us", over_time_derived, "um", 16.53595,
               receiver::sensitivity_at(receiver, 0.0) * 50.0),
        {"over_time.acceleration", "an exposure of 1 ms at 100 m/s^2 reads off its middle by a T^2 / 24",
         over_time_derived, "um", 4.166667, bias_of_acceleration() / um, 4.166667 / 65536.0 + 1e-6,
         "256 moments leave out 1/256^2 of it"},
    };
}

// Frames after a jump of the part's brightness, as the loop takes them; the exposure was right before.
struct Jump {
    int dark = 0;       // below 5 % of full well
    int saturated = 0;  // at full well
    int settled = 0;    // first frame from which on all are within 5 % of the level
};

Jump jump(double ratio, double step_ratio, double gain) {
    scenario::Exposure rule;
    rule.mode = scenario::ExposureMode::automatic;
    rule.level = 0.6;
    rule.step_ratio = step_ratio;
    rule.loop_gain = gain;
    rule.exposure = 1e-6 * us;
    rule.period = {1.0 * us, 1e6 * us};
    detector::ExposureController loop(rule, 1.0, 0.6 * us);
    Jump result;
    constexpr int frames = 100;
    for (int n = 0; n < frames; ++n) {
        const double peak = std::min(ratio * loop.timing().exposure / us, 1.0);
        if (peak < 0.05) ++result.dark;
        if (peak >= 1.0) ++result.saturated;
        if (std::abs(peak / rule.level - 1.0) > 0.05) result.settled = n + 1;
        loop.answer(peak);
    }
    return result;
}

// Greatest overshoot of the exposure, on a logarithmic scale, with one frame of latency: over the whole of the change.
double overshoot(double gain) {
    scenario::Exposure rule;
    rule.mode = scenario::ExposureMode::automatic;
    rule.level = 0.5;
    rule.step_ratio = 1e4;
    rule.loop_gain = gain;
    rule.latency = 1;
    rule.exposure = 1e-6 * us;
    rule.period = {1.0 * us, 1e6 * us};
    detector::ExposureController loop(rule, 1e9, 1.0 * us);
    const double right = 10.0 * us;
    double most = 0.0;
    for (int n = 0; n < 200; ++n) {
        const double exposure = loop.timing().exposure;
        most = std::max(most, std::log(exposure / right) / std::log(10.0));
        loop.answer(exposure / right * 0.5e9);
    }
    return most;
}

std::vector<Check> exposure_checks() {
    const Jump darker = jump(1.0 / 50.0, 2.0, 1.0);
    const Jump brighter = jump(50.0, 1.0 / 0.6, 1.0);
    return {
        frame_count("over_time.exposure_step_2", "frames until a part 50 times darker is on level, steps of 2", 6.0,
                    darker.settled),
        frame_count("over_time.exposure_step_1.5", "the same, steps of 1.5", 10.0, jump(1.0 / 50.0, 1.5, 1.0).settled),
        frame_count("over_time.exposure_step_4", "the same, steps of 4", 3.0, jump(1.0 / 50.0, 4.0, 1.0).settled),
        frame_count("over_time.exposure_dark", "of them below 5 % of full well, steps of 2", 3.0, darker.dark),
        frame_count("over_time.exposure_saturated", "saturated frames of a part 50 times brighter, steps of 0.6", 7.0,
                    brighter.saturated),
        frame_count("over_time.exposure_brighter", "first frame on level after that", 8.0, brighter.settled),
        frame_count("over_time.exposure_halved", "saturated frames where the exposure is halved", 5.0,
                    jump(50.0, 2.0, 1.0).saturated),
        frame_count("over_time.exposure_gain", "frames to within 5 % of a part 50 times darker, gain 0.5, no limit",
                    7.0, jump(1.0 / 50.0, 1e9, 0.5).settled),
        {"over_time.exposure_latency", "overshoot with a frame of latency, gain 1/4", over_time_derived, "1", 0.0,
         overshoot(0.25), 1e-9, "rounding"},
        worked("over_time.exposure_overshoot", "the same with gain 0.3: e[n+1] = e[n] - 0.3 e[n-1] from -1, -1",
               over_time_derived, "1", 0.0119, overshoot(0.3)),
    };
}

}  // namespace

std::vector<Check> over_time_checks() {
    return joined({delay_checks(), roundness_checks(), motion_checks(), exposure_checks()});
}

}  // namespace spotwright::validation
