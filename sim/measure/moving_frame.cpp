#include "sim/measure/moving_frame.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/border.hpp"
#include "sim/base/random.hpp"
#include "sim/sensor/as_made.hpp"

namespace spotwright::measure {

void DarkBound::join(const DarkBound& other) {
    margin = std::min(margin, other.margin);
    variance = std::max(variance, other.variance);
}

double DarkBound::min_light() const {
    constexpr double log_chance = 27.7;  // -ln(1e-12), rounded up
    const auto may_reach = [this](double light) {
        const double x = margin - light;
        return x <= 0.0 || x * x < log_chance * 2.0 * (variance + light + x / 3.0);
    };
    if (may_reach(0.0)) return 0.0;
    constexpr int halvings = 20;
    return base::border_between(margin, 0.0, may_reach, halvings).fails;
}

DarkFrame make_dark_frame(const sensor::TriangulationSetup& setup, double ambient_rate, double brightest_rate,
                          double exposure) {
    const scenario::Scenario& s = setup.scenario;
    DarkFrame dark;
    dark.background = measure_background(setup, ambient_rate, exposure);
    const detector::ExpectedFrame frame = detector::expose(s.detector, setup.instrument.pattern, {}, brightest_rate,
                                                           exposure, scenario::sensor_temperature(s));
    const double level = 0.5 * s.reading.threshold * s.detector.full_well;
    dark.bound.margin = level;
    for (std::size_t k = 0; k < frame.electrons.size(); ++k) {
        const auto mean = static_cast<double>(frame.electrons[k]);
        const double rounding =
            (0.5 + frame.digitiser.black_level - static_cast<double>(dark.background[k])) / frame.digitiser.gain;
        const double net = mean + static_cast<double>(frame.offset[k]) + rounding;
        dark.bound.join({level - net, mean + frame.read_noise * frame.read_noise});
    }
    return dark;
}

// A margin serves the estimators, which look at most three pixels past a peak.
std::array<std::size_t, 2> MovingFrame::window_of(const std::array<std::int64_t, 2>& pixels, std::size_t count) {
    constexpr std::int64_t margin = 8;
    constexpr auto unit = static_cast<std::int64_t>(base::unit_pixels);
    const auto all = static_cast<std::int64_t>(count);
    const bool none = pixels[0] >= pixels[1];
    const std::int64_t first = std::clamp<std::int64_t>((none ? 0 : pixels[0]) - margin, 0, all - 1);
    const std::int64_t last = std::clamp<std::int64_t>((none ? 1 : pixels[1]) + margin, first + 1, all);
    return {static_cast<std::size_t>(first / unit * unit),
            static_cast<std::size_t>(std::min((last + unit - 1) / unit * unit, all))};
}

// Of one exposure and one material the background stays what it was, wherever the window goes.
void MovingFrame::mix_background(std::size_t first, std::size_t last, std::span<const BackgroundShare> backgrounds) {
    const bool known = std::equal(mixed_.begin(), mixed_.end(), backgrounds.begin(), backgrounds.end());
    if (known && mixed_pixels_[0] <= first && last <= mixed_pixels_[1]) return;
    if (known) {
        first = std::min(first, mixed_pixels_[0]);
        last = std::max(last, mixed_pixels_[1]);
    }
    mixed_.assign(backgrounds.begin(), backgrounds.end());
    mixed_pixels_ = {first, last};
    std::fill(pose_.background.begin() + static_cast<std::ptrdiff_t>(first),
              pose_.background.begin() + static_cast<std::ptrdiff_t>(last), 0.0F);
    for (const BackgroundShare& each : backgrounds) {
        const auto share = static_cast<float>(each.share);
        for (std::size_t k = first; k < last; ++k) pose_.background[k] += share * (*each.background)[k];
    }
}

const sensor::Pose& MovingFrame::expose(const sensor::TriangulationSetup& setup, const std::vector<float>& rate,
                                        const std::array<std::size_t, 2>& window, double ambient_rate,
                                        const detector::Timing& timing, std::span<const BackgroundShare> backgrounds) {
    const scenario::Scenario& s = setup.scenario;
    if (pose_.expected.electrons.size() != rate.size()) {
        pose_.profile.rate.assign(rate.size(), 0.0F);
        pose_.background.assign(backgrounds.front().background->size(), 0.0F);
        expose_pose(setup, pose_);
        pose_.jitter =
            sensor::pointing_deviation(s, setup.instrument.beam, setup.instrument.receiver, s.target.displacement);
    }
    const auto [first, last] = window;
    pose_.timing = timing;
    pose_.ambient_rate = ambient_rate;
    pose_.flickers = false;  // the rate is that of this reading
    const auto begin = static_cast<std::ptrdiff_t>(first);
    const auto end = static_cast<std::ptrdiff_t>(last);
    std::copy(rate.begin() + begin, rate.begin() + end, pose_.profile.rate.begin() + begin);
    mix_background(first, last, backgrounds);
    if (exposure_.exposure != timing.exposure) {
        exposure_ =
            detector::make_pixel_exposure(s.detector, ambient_rate, timing.exposure, scenario::sensor_temperature(s));
    }
    exposure_.ambient_rate = ambient_rate;
    detector::expose_pixels(exposure_, std::span(rate).subspan(first, last - first),
                            std::span(setup.instrument.pattern.response).subspan(first),
                            std::span(pose_.expected.electrons).subspan(first, last - first));
    const auto unit = static_cast<std::size_t>(base::unit_pixels);
    pose_.first_unit = static_cast<std::int64_t>(first / unit);
    pose_.unit_count = static_cast<std::int64_t>((last + unit - 1) / unit) - pose_.first_unit;
    pose_.locate.at_array_start = first == 0;
    pose_.locate.at_array_end = last >= rate.size();
    return pose_;
}

}  // namespace spotwright::measure
