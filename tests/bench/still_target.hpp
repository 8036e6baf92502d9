// The one scene that all benchmarks share.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/scenario/reader.hpp"
#include "sim/sensor/instrument.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::bench {

/// The scenario of `still_target.toml`.
[[nodiscard]] inline scenario::Scenario still_target(std::span<const std::string> settings = {}) {
    return scenario::load(SPOTWRIGHT_SOURCE_DIR "/tests/bench/still_target.toml", settings);
}

/// Sensor and pose of `still_target`, made once for all benchmarks.
struct Scene {
    sensor::TriangulationSetup setup;
    sensor::Pose pose;
};

[[nodiscard]] inline const Scene& still_scene() {
    static const Scene scene = [] {
        sensor::TriangulationSetup setup = sensor::set_up_triangulation(still_target(), 1);
        sensor::Pose pose = sensor::make_pose(setup, setup.scenario.target.displacement);
        return Scene{std::move(setup), std::move(pose)};
    }();
    return scene;
}

}  // namespace spotwright::bench
