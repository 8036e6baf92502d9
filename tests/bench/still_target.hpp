// The one scene that all benchmarks share.
#pragma once

#include <span>
#include <string>
#include <vector>

#include "sim/scenario/reader.hpp"
#include "sim/sensor/instrument.hpp"

namespace spotwright::bench {

/// The scenario of `still_target.toml`.
[[nodiscard]] inline scenario::Scenario still_target(std::span<const std::string> settings = {}) {
    return scenario::load(SPOTWRIGHT_SOURCE_DIR "/tests/bench/still_target.toml", settings);
}

/// Sensor and pose of `still_target`, made once for all benchmarks.
struct Scene {
    sensor::Instrument instrument;
    sensor::Pose pose;
};

[[nodiscard]] inline const Scene& still_scene() {
    static const Scene scene = [] {
        sensor::Instrument instrument = sensor::make_instrument(still_target(), 1);
        sensor::Pose pose = sensor::make_pose(instrument, instrument.scenario.target.displacement);
        return Scene{std::move(instrument), std::move(pose)};
    }();
    return scene;
}

}  // namespace spotwright::bench
