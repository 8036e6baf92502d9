// Speckle. The bars: a still reading with a fresh fast pattern takes at most one and a half times one without, and a
// coherent pattern of 256 by 256 places at most one and a half times the plain transforms that it must do.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <complex>

#include <unsupported/Eigen/FFT>

#include "sim/base/random.hpp"
#include "sim/receiver/coherent_speckle.hpp"
#include "sim/receiver/speckle_field.hpp"
#include "tests/bench/still_target.hpp"
#include "sim/sensor/stations.hpp"

namespace {

using namespace spotwright;

receiver::SpeckleView still_view() {
    const sensor::TriangulationSetup& setup = bench::still_scene().setup;
    const scenario::Scenario& s = setup.scenario;
    return receiver::make_speckle_view(setup.instrument.beam, sensor::part_of(s, s.target.displacement),
                                       setup.instrument.receiver, {})
        .value();
}

void fast_field(benchmark::State& state) {
    const receiver::SpeckleView view = still_view();
    for (auto _ : state) benchmark::DoNotOptimize(receiver::make_speckle_field(view));
}
BENCHMARK(fast_field)->Unit(benchmark::kMicrosecond);

// Pixels per second of a pattern alone; the argument is the number of blocks drawn.
void fast_pattern(benchmark::State& state) {
    const receiver::SpeckleField field = receiver::make_speckle_field(still_view());
    std::vector<float> relative(static_cast<std::size_t>(state.range(0) * base::block_pixels));
    std::int64_t reading = 0;
    for (auto _ : state) {
        receiver::draw_speckle(field, 1, reading++, 0, relative);
        benchmark::DoNotOptimize(relative.data());
        benchmark::ClobberMemory();
    }
    state.counters["taps"] = static_cast<double>(field.taps.size());
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()) * static_cast<std::int64_t>(relative.size()));
}
BENCHMARK(fast_pattern)->ArgName("blocks")->Arg(1)->Arg(16);

// `still_reading` with light that speckles anew each time.
void still_reading_speckled(benchmark::State& state) {
    const bench::Scene& scene = bench::still_scene();
    sensor::Pose pose = scene.pose;
    std::vector<float> light(pose.profile.rate.size());
    std::transform(pose.profile.rate.begin(), pose.profile.rate.end(), light.begin(),
                   [&](float rate) { return rate * static_cast<float>(pose.timing.exposure); });
    pose.fresh = sensor::FreshSpeckle{receiver::make_speckle_field(still_view()), std::move(light)};
    sensor::Scratch scratch;
    std::int64_t index = 0;
    for (auto _ : state) {
        sensor::RawReading raw = sensor::take_reading(scene.setup, pose, index++, scratch);
        benchmark::DoNotOptimize(raw);
    }
    state.counters["pixels_drawn"] = static_cast<double>(pose.unit_count * base::unit_pixels);
    state.SetItemsProcessed(static_cast<std::int64_t>(state.iterations()));
}
BENCHMARK(still_reading_speckled);

constexpr int side = 256;

// The still target's view with as wide a footprint as needs 256 by 256 places.
receiver::SpeckleView wide_view() {
    receiver::SpeckleView view = still_view();
    const Eigen::Matrix2d still = view.irradiance;
    const auto size = [&](int axis) {
        const receiver::SpeckleGrid grid = receiver::speckle_grid(view);
        return axis == 0 ? grid.columns : grid.rows;
    };
    Eigen::Vector2d scale(1.0, 1.0);
    for (int axis = 0; axis < 2; ++axis) {
        for (scale[axis] = 0.1; size(axis) < side && scale[axis] < 1000.0; scale[axis] *= 1.01) {
            view.irradiance = (still.array() / (scale * scale.transpose()).array()).matrix();
        }
    }
    return view;
}

void coherent_pattern(benchmark::State& state) {
    const receiver::SpecklePlan plan = receiver::plan_speckle(wide_view());
    if (plan.grid.columns != side || plan.grid.rows != side) {
        state.SkipWithError("the benchmark's view is not told by 256 by 256 places");
        return;
    }
    receiver::SpeckleWorkspace workspace = receiver::make_workspace(plan);
    std::int64_t index = 0;
    for (auto _ : state) {
        const Eigen::Vector2d place = receiver::separate_patch(plan, index++);
        benchmark::DoNotOptimize(receiver::speckle_pattern(plan, 1, place, workspace));
    }
    state.counters["columns_through_aperture"] = static_cast<double>(plan.train.pupil_columns.size());
}
BENCHMARK(coherent_pattern)->Unit(benchmark::kMicrosecond);

// Forward and back in two dimensions, by the same library: each way rows, then columns.
void plain_transforms(benchmark::State& state) {
    Eigen::FFT<float> fft;
    fft.SetFlag(Eigen::FFT<float>::Unscaled);
    Eigen::MatrixXcf field = Eigen::MatrixXcf::Random(side, side);
    Eigen::MatrixXcf other(side, side);
    const auto pass = [&](bool inverse) {
        for (int i = 0; i < side; ++i) {
            if (inverse) {
                fft.inv(other.col(i).data(), field.col(i).data(), side);
            } else {
                fft.fwd(other.col(i).data(), field.col(i).data(), side);
            }
        }
        field = other.transpose();
    };
    for (auto _ : state) {
        pass(false);
        pass(false);
        pass(true);
        pass(true);
        field *= 1.0F / (side * side);
        benchmark::DoNotOptimize(field.data());
        benchmark::ClobberMemory();
    }
}
BENCHMARK(plain_transforms)->Unit(benchmark::kMicrosecond);

}  // namespace
