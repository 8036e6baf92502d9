#include "sim/study/noise_alone.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/median.hpp"

namespace spotwright::study {

namespace {

// Electrons of a pixel, by where they come from.
struct PixelElectrons {
    float signal = 0.0F;
    float surroundings = 0.0F;  // ambient light and dark current
};

PixelElectrons electrons_of(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, std::size_t pixel) {
    const double all = static_cast<double>(pose.expected.electrons[pixel]);
    const double signal = static_cast<double>(pose.profile.rate[pixel]) * pose.timing.exposure *
                          static_cast<double>(setup.instrument.pattern.response[pixel]);
    const auto counted = static_cast<float>(std::min(signal, all));
    return {counted, pose.expected.electrons[pixel] - counted};
}

// Digits without rounding, near enough: steps of a thousandth, which a float still holds.
void refine_digits(sensor::Pose& pose) {
    constexpr double finer = 1024.0;
    detector::Digitiser& digitiser = pose.expected.digitiser;
    digitiser.gain *= finer;
    digitiser.black_level *= finer;
    digitiser.top_digit *= finer;
    for (float& digit : pose.background) digit *= static_cast<float>(finer);
}

// What a background measured over endless frames would be.
void know_background(const sensor::TriangulationSetup& setup, sensor::Pose& pose, double background_rate) {
    const scenario::Scenario& s = setup.scenario;
    const double dark = detector::dark_current_at(s.detector, scenario::sensor_temperature(s));
    const std::size_t pixels = pose.expected.electrons.size();
    const detector::Digitiser& digitiser = pose.expected.digitiser;
    for (std::size_t k = 0; k < pixels; ++k) {
        const double light = background_rate * static_cast<double>(setup.instrument.pattern.response[k]);
        const double electrons =
            (light + dark) * pose.timing.exposure + static_cast<double>(setup.instrument.pattern.offset[k]);
        pose.background[k] = static_cast<float>(digitiser.black_level + digitiser.gain * electrons);
    }
    if (s.reading.background == scenario::BackgroundMethod::level) {
        const auto end = pose.background.begin() + static_cast<std::ptrdiff_t>(pixels);
        const float level = base::upper_median(std::vector<float>(pose.background.begin(), end));
        std::fill(pose.background.begin(), pose.background.end(), level);
    }
}

void quieten(const sensor::TriangulationSetup& setup, sensor::Pose& pose, NoiseSource source) {
    detector::ExpectedFrame& frame = pose.expected;
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) {
        const auto [signal, surroundings] = electrons_of(setup, pose, k);
        float counted = 0.0F;
        if (source == NoiseSource::shot) counted = signal;
        if (source == NoiseSource::ambient) counted = surroundings;
        frame.offset[k] += signal + surroundings - counted;
        frame.electrons[k] = counted;
    }
    if (source != NoiseSource::read) frame.read_noise = 0.0;
}

}  // namespace

sensor::Pose with_noise_alone(const sensor::TriangulationSetup& setup, const sensor::Pose& pose, NoiseSource source,
                              double background_rate) {
    sensor::Pose alone = pose;
    alone.flickers = false;
    alone.neighbour.clear();
    alone.jitter = 0.0;
    know_background(setup, alone, background_rate);
    quieten(setup, alone, source);
    if (source != NoiseSource::digitising) refine_digits(alone);
    return alone;
}

sensor::Pose with_background_alone(const sensor::TriangulationSetup& setup, const sensor::Pose& pose) {
    sensor::Pose alone = pose;
    alone.flickers = false;
    alone.neighbour.clear();
    alone.jitter = 0.0;
    quieten(setup, alone, NoiseSource::none);
    refine_digits(alone);
    return alone;
}

std::optional<double> quiet_reading(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                    double background_rate) {
    const sensor::Pose quiet = with_noise_alone(setup, pose, NoiseSource::none, background_rate);
    sensor::Scratch scratch;
    const sensor::RawReading raw = take_reading(setup, quiet, 0, scratch);
    if (raw.validity != reading::Validity::valid) return std::nullopt;
    return raw.displacement;
}

}  // namespace spotwright::study
