#include "sim/study/moving_frame.hpp"

#include <algorithm>
#include <cmath>

#include "sim/base/random.hpp"

namespace spotwright::study {

namespace {

// Whether a pixel may reach half the threshold, but for a chance of 1e-12: Bernstein's inequality, see `expose_pose`.
bool may_reach(const Pose& pose, std::size_t k) {
    constexpr double log_chance = 27.7;  // -ln(1e-12), rounded up
    const detector::ExpectedFrame& frame = pose.expected;
    const auto mean = static_cast<double>(frame.electrons[k]);
    const double rounding =
        (0.5 + frame.digitiser.black_level - static_cast<double>(pose.background[k])) / frame.digitiser.gain;
    const double x =
        0.5 * static_cast<double>(pose.locate.threshold) - (mean + static_cast<double>(frame.offset[k]) + rounding);
    const double variance = mean + frame.read_noise * frame.read_noise;
    return x <= 0.0 || x * x < log_chance * 2.0 * (variance + x / 3.0);
}

// Blocks of pixels that are drawn, with a margin that serves the estimators.
void set_window(Pose& pose, std::size_t first, std::size_t last) {
    constexpr std::size_t margin = 8;
    const std::size_t pixels = pose.expected.electrons.size();
    first = first > margin ? first - margin : 0;
    last = std::min(last + margin, pixels);
    const auto block = static_cast<std::size_t>(base::block_pixels);
    pose.first_block = static_cast<std::int64_t>(first / block);
    pose.block_count = static_cast<std::int64_t>((last + block - 1) / block) - pose.first_block;
    pose.locate.at_array_start = pose.first_block == 0;
    pose.locate.at_array_end = static_cast<std::size_t>(pose.first_block + pose.block_count) * block >= pixels;
}

}  // namespace

DarkFrame make_dark_frame(const Instrument& instrument, double ambient_rate, const detector::Timing& timing,
                          const std::vector<float>& background) {
    DarkFrame dark;
    Pose& pose = dark.pose;
    pose.timing = timing;
    pose.ambient_rate = ambient_rate;
    pose.background = background;
    pose.profile.rate.assign(static_cast<std::size_t>(instrument.scenario.detector.pixels), 0.0F);
    expose_pose(instrument, pose);
    const std::vector<float>& electrons = pose.expected.electrons;
    dark.brightest =
        static_cast<std::size_t>(std::max_element(electrons.begin(), electrons.end()) - electrons.begin());
    dark.first = electrons.size();
    for (std::size_t k = 0; k < electrons.size(); ++k) {
        if (!may_reach(pose, k)) continue;
        dark.first = std::min(dark.first, k);
        dark.last = k + 1;
    }
    return dark;
}

void MovingFrame::darken(const DarkFrame& dark) {
    if (dark_ != &dark) {
        pose_ = dark.pose;
        dark_ = &dark;
        return;
    }
    for (std::size_t k = first_; k < last_; ++k) {
        pose_.profile.rate[k] = 0.0F;
        pose_.expected.electrons[k] = dark.pose.expected.electrons[k];
        pose_.expected.zero_probability[k] = dark.pose.expected.zero_probability[k];
    }
}

const Pose& MovingFrame::lit(const Instrument& instrument, const DarkFrame& dark, const LightSum& light) {
    darken(dark);
    first_ = std::min(light.first, light.last);
    last_ = light.last;
    const scenario::Scenario& s = instrument.scenario;
    std::copy(light.rate.begin() + static_cast<std::ptrdiff_t>(first_),
              light.rate.begin() + static_cast<std::ptrdiff_t>(last_),
              pose_.profile.rate.begin() + static_cast<std::ptrdiff_t>(first_));
    detector::expose_pixels(s.detector, instrument.pattern, pose_.profile.rate, pose_.ambient_rate,
                            pose_.timing.exposure, s.surroundings.temperature, first_, last_, pose_.expected);
    std::size_t first = dark.first;
    std::size_t last = dark.last;
    std::size_t brightest = dark.brightest;
    std::size_t begin = first_;
    std::size_t end = last_;
    while (begin < end && !may_reach(pose_, begin)) ++begin;
    while (end > begin && !may_reach(pose_, end - 1)) --end;
    if (begin < end) {
        first = std::min(first, begin);
        last = std::max(last, end);
    }
    if (first >= last) {  // nothing will be found; the brightest pixel is still looked at
        const std::vector<float>& electrons = pose_.expected.electrons;
        for (std::size_t k = first_; k < last_; ++k) {
            if (electrons[k] > electrons[brightest]) brightest = k;
        }
        first = brightest;
        last = brightest + 1;
    }
    set_window(pose_, first, last);
    return pose_;
}

}  // namespace spotwright::study
