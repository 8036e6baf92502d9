// From a frame to displacement: peak estimators, single readings, series.
#include <benchmark/benchmark.h>

#include <algorithm>

#include "sim/base/random.hpp"
#include "sim/reading/locate.hpp"
#include "sim/reading/peak.hpp"
#include "sim/measure/series.hpp"
#include "tests/bench/still_target.hpp"

namespace {

using namespace spotwright;

// Net signals of noisy readings of the whole array, and the peak in each.
struct Signals {
    std::vector<std::vector<float>> net;
    std::vector<reading::PeakWindow> peaks;
};

Signals noisy_signals(std::size_t count) {
    const bench::Scene& scene = bench::still_scene();
    const detector::Digitiser& digitiser = scene.pose.expected.digitiser;
    Signals signals;
    for (std::size_t i = 0; i < count; ++i) {
        const std::vector<float> digits = sensor::frame_of(scene.setup, scene.pose, static_cast<std::int64_t>(i));
        std::vector<float> net(digits.size());
        reading::net_signal(digits, std::span(scene.pose.background).first(digits.size()),
                            static_cast<float>(digitiser.gain), static_cast<float>(digitiser.top_digit), net);
        signals.peaks.push_back(reading::find_peaks(net, scene.pose.locate.threshold).at(0));
        signals.net.push_back(std::move(net));
    }
    return signals;
}

void estimator(benchmark::State& state, scenario::PeakMethod method) {
    const reading::LocateOptions& options = bench::still_scene().pose.locate;
    const Signals signals = noisy_signals(64);
    std::size_t i = 0;
    for (auto _ : state) {
        const auto position =
            reading::locate_peak(method, signals.net[i], signals.peaks[i], options.threshold, options.dark_variance);
        if (!position) {
            state.SkipWithError("a peak of the benchmark was not located");
            break;
        }
        benchmark::DoNotOptimize(*position);
        i = (i + 1) % signals.net.size();
    }
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}
BENCHMARK_CAPTURE(estimator, centroid, scenario::PeakMethod::centroid);
BENCHMARK_CAPTURE(estimator, gauss3, scenario::PeakMethod::gauss3);
BENCHMARK_CAPTURE(estimator, parabola3, scenario::PeakMethod::parabola3);
BENCHMARK_CAPTURE(estimator, zero_crossing, scenario::PeakMethod::zero_crossing);
BENCHMARK_CAPTURE(estimator, fit, scenario::PeakMethod::fit);

// One reading; the argument tells whether the pixels that provably cannot matter are left out (1) or drawn (0).
void still_reading(benchmark::State& state) {
    const bench::Scene& scene = bench::still_scene();
    sensor::Pose pose = scene.pose;
    if (state.range(0) == 0) {
        pose.first_unit = 0;
        pose.unit_count = static_cast<std::int64_t>(pose.background.size()) / base::unit_pixels;
        pose.locate.at_array_start = true;
        pose.locate.at_array_end = true;
    }
    sensor::Scratch scratch;
    std::int64_t index = 0;
    for (auto _ : state) {
        sensor::RawReading raw = sensor::take_reading(scene.setup, pose, index++, scratch);
        benchmark::DoNotOptimize(raw);
    }
    state.counters["pixels_drawn"] = static_cast<double>(pose.unit_count * base::unit_pixels);
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}
BENCHMARK(still_reading)->ArgName("window")->Arg(1)->Arg(0);

void series(benchmark::State& state) {
    const bench::Scene& scene = bench::still_scene();
    measure::SeriesOptions options;
    options.readings = 1 << 18;
    options.threads = 1;
    for (auto _ : state) {
        measure::SeriesStatistics statistics = measure::take_series(scene.setup, scene.pose, options);
        benchmark::DoNotOptimize(statistics);
    }
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()) * options.readings);
}
BENCHMARK(series)->Unit(benchmark::kMillisecond);

}  // namespace
