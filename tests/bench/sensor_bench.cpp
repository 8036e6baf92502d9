// The optics: the image of one pose, and what a sensor costs to build.
#include <benchmark/benchmark.h>

#include "sim/receiver/image.hpp"
#include "sim/target/surface.hpp"
#include "tests/bench/still_target.hpp"
#include "sim/sensor/stations.hpp"
#include "sim/sensor/sensor.hpp"

namespace {

using namespace spotwright;

void image(benchmark::State& state) {
    const sensor::TriangulationSetup& setup = bench::still_scene().setup;
    const scenario::Scenario& s = setup.scenario;
    const target::Part plane = sensor::part_of(s, s.target.displacement);
    const target::Surface surface = target::make_surface(s.target.made_of, s.emitter.wavelength);
    for (auto _ : state) {
        receiver::Profile profile = receiver::image(setup.instrument.beam, plane, surface, setup.instrument.receiver,
                                                    setup.instrument.edge_spread, s.detector.quantum_efficiency);
        benchmark::DoNotOptimize(profile.rate.data());
    }
}
BENCHMARK(image)->Unit(benchmark::kMillisecond);

void pose(benchmark::State& state) {
    const sensor::TriangulationSetup& setup = bench::still_scene().setup;
    for (auto _ : state) {
        sensor::Pose made = sensor::make_pose(setup, setup.scenario.target.displacement);
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
        sensor::TriangulationSetup setup = sensor::set_up_triangulation(s, 1);
        benchmark::DoNotOptimize(setup);
    }
}
BENCHMARK(calibrated_instrument)->Unit(benchmark::kMillisecond);

}  // namespace
