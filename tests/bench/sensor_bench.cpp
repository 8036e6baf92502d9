// The optics: the image of one pose, and what a sensor costs to build.
#include <benchmark/benchmark.h>

#include "sim/receiver/image.hpp"
#include "sim/target/surface.hpp"
#include "tests/bench/still_target.hpp"

namespace {

using namespace spotwright;

void image(benchmark::State& state) {
    const sensor::Instrument& instrument = bench::still_scene().instrument;
    const scenario::Scenario& s = instrument.scenario;
    const target::Part plane = target::make_part(s, s.target.displacement);
    const target::Surface surface = target::make_surface(s.material, s.emitter.wavelength);
    for (auto _ : state) {
        receiver::Profile profile = receiver::image(instrument.beam, plane, surface, instrument.receiver,
                                                    instrument.edge_spread, s.detector.quantum_efficiency);
        benchmark::DoNotOptimize(profile.rate.data());
    }
}
BENCHMARK(image)->Unit(benchmark::kMillisecond);

void pose(benchmark::State& state) {
    const sensor::Instrument& instrument = bench::still_scene().instrument;
    for (auto _ : state) {
        sensor::Pose made = sensor::make_pose(instrument, instrument.scenario.target.displacement);
        benchmark::DoNotOptimize(made.background.data());
    }
}
BENCHMARK(pose)->Unit(benchmark::kMillisecond);

void edge_spread_table(benchmark::State& state) {
    for (auto _ : state) {
        receiver::EdgeSpread edge_spread;
        benchmark::DoNotOptimize(edge_spread);
    }
}
BENCHMARK(edge_spread_table)->Unit(benchmark::kMillisecond);

void calibrated_instrument(benchmark::State& state) {
    const scenario::Scenario s = bench::still_target();
    for (auto _ : state) {
        sensor::Instrument instrument = sensor::make_instrument(s, 1);
        benchmark::DoNotOptimize(instrument);
    }
}
BENCHMARK(calibrated_instrument)->Unit(benchmark::kMillisecond);

}  // namespace
