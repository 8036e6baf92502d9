// Automatic exposure as a loop, against closed forms of how long it takes.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

#include "sim/base/units.hpp"
#include "sim/detector/exposure_control.hpp"

using namespace spotwright;
using namespace spotwright::base;

namespace {

constexpr double full_well = 1e5;  // e

scenario::Exposure automatic(double step_ratio, double gain = 1.0, std::int64_t latency = 0) {
    scenario::Exposure rule;
    rule.mode = scenario::ExposureMode::automatic;
    rule.exposure = 0.001 * us;
    rule.period = {10.0 * us, 1e6 * us};
    rule.level = 0.6;
    rule.step_ratio = step_ratio;
    rule.loop_gain = gain;
    rule.latency = latency;
    return rule;
}

// Peaks as shares of full well after the part turns `ratio` times as bright, from the frame that first sees it on.
std::vector<double> peaks_after(const scenario::Exposure& rule, double ratio, int frames = 60) {
    constexpr double settled = 100.0 * us;
    detector::ExposureController loop(rule, full_well, settled);
    const double rate = rule.level * full_well / settled * ratio;
    std::vector<double> peaks;
    for (int n = 0; n < frames; ++n) {
        peaks.push_back(std::min(rate * loop.timing().exposure, full_well) / full_well);
        loop.answer(peaks.back() * full_well);
    }
    return peaks;
}

// Frame from which on all are within 5 % of the level.
int settled_at(const std::vector<double>& peaks, double level) {
    int settled = 0;
    for (std::size_t n = 0; n < peaks.size(); ++n) {
        if (std::abs(peaks[n] / level - 1.0) > 0.05) settled = static_cast<int>(n) + 1;
    }
    return settled;
}

int count_if_below(const std::vector<double>& peaks, double limit) {
    return static_cast<int>(std::count_if(peaks.begin(), peaks.end(), [=](double p) { return p < limit; }));
}

}  // namespace

TEST_CASE("a darker part is on level after ln(ratio) / ln(step) frames", "[exposure][unit]") {
    for (const double ratio : {3.0, 7.0, 50.0, 300.0}) {
        for (const double step : {1.5, 2.0, 4.0, 9.0}) {
            const int expected = static_cast<int>(std::ceil(std::log(ratio) / std::log(step)));
            const int found = settled_at(peaks_after(automatic(step), 1.0 / ratio), 0.6);
            INFO(ratio << " " << step);
            // The last step may end within the 5 % that count as settled.
            CHECK((found == expected || found == expected - 1));
            if (ratio == 50.0) CHECK(found == expected);
        }
    }
}

TEST_CASE("readings below the threshold are those until the steps have made up for it", "[exposure][unit]") {
    constexpr double threshold = 0.05;
    const int expected = static_cast<int>(std::ceil(std::log(50.0 * threshold / 0.6) / std::log(2.0)));
    CHECK(count_if_below(peaks_after(automatic(2.0), 1.0 / 50.0), threshold) == expected);
    CHECK(expected == 3);
}

TEST_CASE("a saturated frame asks for half at least, within the step", "[exposure][unit]") {
    const auto saturated = [](double step) {
        const std::vector<double> peaks = peaks_after(automatic(step), 50.0);
        return static_cast<int>(peaks.size()) - count_if_below(peaks, 1.0);
    };
    CHECK(saturated(2.0) == static_cast<int>(std::ceil(std::log(30.0) / std::log(2.0))));
    CHECK(saturated(1.0 / 0.6) == static_cast<int>(std::ceil(std::log(30.0) / std::log(1.0 / 0.6))));
    CHECK(saturated(1000.0) == saturated(2.0));  // one saturated frame tells no more than another
    CHECK(detector::exposure_change(automatic(1000.0), full_well, full_well) == 0.5);
    scenario::Exposure low = automatic(1000.0);
    low.level = 0.1;
    CHECK(detector::exposure_change(low, full_well, full_well) == 0.1);
    CHECK(detector::exposure_change(automatic(1.2), full_well, full_well) == 1.0 / 1.2);
}

TEST_CASE("the gain is the share of the error that a frame takes away", "[exposure][unit]") {
    constexpr double gain = 0.3;
    const std::vector<double> peaks = peaks_after(automatic(1e4, gain), 1.0 / 50.0);
    for (std::size_t n = 1; n < 15; ++n) {
        const double before = std::log(peaks[n - 1] / 0.6);
        CHECK(std::log(peaks[n] / 0.6) == Approx((1.0 - gain) * before).epsilon(1e-9));  // rounding of two logarithms
    }
}

TEST_CASE("latency delays the answer frame by frame, and recovery with it", "[exposure][unit]") {
    const auto first_on_level = [](std::int64_t latency) {
        const std::vector<double> peaks = peaks_after(automatic(2.0, 1.0, latency), 1.0 / 50.0);
        const auto reached = std::find_if(peaks.begin(), peaks.end(), [](double p) { return p > 0.95 * 0.6; });
        return reached - peaks.begin();
    };
    CHECK(first_on_level(0) == 6);
    for (const std::int64_t latency : {1, 3, 7}) {
        CHECK(first_on_level(latency) == 6 + latency);
        const std::vector<double> peaks = peaks_after(automatic(2.0, 1.0, latency), 1.0 / 50.0);
        const auto first = static_cast<std::size_t>(latency) + 1;
        for (std::size_t n = 1; n < first; ++n) CHECK(peaks[n] == peaks[0]);
        CHECK(peaks[first] > peaks[0]);
    }
}

TEST_CASE("full gain with latency swings for ever, within its limits", "[exposure][unit]") {
    scenario::Exposure rule = automatic(2.0, 1.0, 100);
    rule.exposure = 2.0 * us;
    const std::vector<double> peaks = peaks_after(rule, 1.0 / 50.0, 5000);
    CHECK(settled_at(peaks, 0.6) > 4000);
    for (const double peak : peaks) CHECK((peak >= 0.0 && peak <= 1.0));
}

TEST_CASE("the exposure stays between the written one and the longest period, which it stretches", "[exposure][unit]") {
    scenario::Exposure rule = automatic(10.0);
    rule.exposure = 4.0 * us;
    rule.period = {50.0 * us, 200.0 * us};
    detector::ExposureController loop(rule, full_well, 1.0 * us);
    CHECK(loop.timing().exposure == 4.0 * us);
    CHECK(loop.timing().period == 50.0 * us);
    for (int n = 0; n < 5; ++n) loop.answer(0.0);
    CHECK(loop.timing().exposure == 200.0 * us);
    CHECK(loop.timing().period == 200.0 * us);
    for (int n = 0; n < 20; ++n) loop.answer(full_well);
    CHECK(loop.timing().exposure == 4.0 * us);
}

TEST_CASE("a fixed exposure never moves", "[exposure][unit]") {
    scenario::Exposure rule = automatic(10.0);
    rule.mode = scenario::ExposureMode::fixed;
    rule.exposure = 7.0 * us;
    detector::ExposureController loop(rule, full_well, 100.0 * us);
    for (const double peak : {0.0, 1.0, full_well}) {
        loop.answer(peak);
        CHECK(loop.timing().exposure == 7.0 * us);
        CHECK(loop.timing().period == rule.period[0]);
    }
}
