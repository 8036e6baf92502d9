// What tests of moving parts share.
#pragma once

#include <algorithm>
#include <numeric>
#include <optional>
#include <vector>

#include "sim/sensor/instrument.hpp"

namespace spotwright::test {

/// What light reads as, exposed to a bit more than half of full well. [m]
inline std::optional<double> reading_of(const sensor::TriangulationSetup& setup, const std::vector<float>& rate) {
    sensor::Pose pose;
    pose.profile.rate = rate;
    const double brightest = static_cast<double>(*std::max_element(rate.begin(), rate.end()));
    if (!(brightest > 0.0)) return std::nullopt;
    pose.timing.exposure = 0.6 * setup.scenario.detector.full_well / brightest;
    return sensor::noiseless_reading(setup, pose);
}

inline double sum_of(const std::vector<float>& rate) {
    return std::accumulate(rate.begin(), rate.end(), 0.0);
}

}  // namespace spotwright::test
