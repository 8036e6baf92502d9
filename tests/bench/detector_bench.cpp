// Random numbers and the frames made of them. The bar: frames of all pixels come at least at half the rate at which as
// many normal numbers can be drawn (`normals` against `whole_frame`, both in pixels per second).
#include <benchmark/benchmark.h>

#include "sim/base/random.hpp"
#include "sim/detector/frames.hpp"
#include "tests/bench/still_target.hpp"

namespace {

using namespace spotwright;

constexpr std::size_t pixels = 1024;

void count_pixels(benchmark::State& state) {
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()) * static_cast<std::int64_t>(pixels));
}

void words(benchmark::State& state) {
    std::vector<std::uint32_t> out(pixels);
    std::int64_t reading = 0;
    for (auto _ : state) {
        base::fill_words({1, base::Stream::photon_shot}, reading++, 0, out);
        benchmark::DoNotOptimize(out.data());
        benchmark::ClobberMemory();
    }
    count_pixels(state);
}
BENCHMARK(words);

void normals(benchmark::State& state) {
    std::vector<float> out(pixels);
    std::int64_t reading = 0;
    for (auto _ : state) {
        base::fill_normals({1, base::Stream::read_noise}, reading++, 0, out);
        benchmark::DoNotOptimize(out.data());
        benchmark::ClobberMemory();
    }
    count_pixels(state);
}
BENCHMARK(normals);

void draw_frames(benchmark::State& state, const detector::ExpectedFrame& expected) {
    std::vector<float> digits(pixels);
    std::int64_t reading = 0;
    for (auto _ : state) {
        detector::draw_frame(expected, {1}, reading++, 0, digits);
        benchmark::DoNotOptimize(digits.data());
        benchmark::ClobberMemory();
    }
    count_pixels(state);
}

void whole_frame(benchmark::State& state) {
    draw_frames(state, bench::still_scene().pose.expected);
}
BENCHMARK(whole_frame);

// The same mean on every pixel, from dark through both ways of counting electrons to bright.
void uniform_frame(benchmark::State& state) {
    const scenario::Scenario s = bench::still_target();
    const double mean = static_cast<double>(state.range(0)) / 1000.0;
    const detector::FixedPattern pattern = detector::make_fixed_pattern(s.detector);
    const detector::ExpectedFrame expected =
        detector::expose(s.detector, pattern, {}, mean, 1.0, 0.0);  // at 0 K: no dark current
    draw_frames(state, expected);
}
BENCHMARK(uniform_frame)->ArgName("mean_millielectrons")->Arg(0)->Arg(50)->Arg(2'000)->Arg(20'000)->Arg(100'000'000);

}  // namespace
