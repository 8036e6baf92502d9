// What the tests of beam and surface share: the example beam of the published rows, and directions to try.
#pragma once

#include <cmath>
#include <cstdint>
#include <limits>

#include <Eigen/Core>

#include "sim/base/random.hpp"
#include "sim/base/units.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::test {

inline constexpr double eps = std::numeric_limits<double>::epsilon();

/// 655 nm, M^2 = 1.2, waist radius 25 um, 1 mW: the example beam of the published rows.
inline scenario::Scenario example_scenario() {
    scenario::Scenario s;
    s.emitter.wavelength = 655.0 * base::nm;
    s.emitter.power = 1.0 * base::mW;
    s.emitter.waist_radius = {25.0 * base::um, 25.0 * base::um};
    s.emitter.beam_quality = 1.2;
    return s;
}

/// Evenly distributed between 0 and 1, the same for the same draw.
inline double uniform(std::int64_t draw) {
    return (base::random_word({2024, base::Stream::photon_shot}, draw, 0) + 0.5) * 0x1p-32;
}

/// Unit vector at these angles from +z and from +x. [rad]
inline Eigen::Vector3d direction(double polar, double azimuth = 0.0) {
    return {std::sin(polar) * std::cos(azimuth), std::sin(polar) * std::sin(azimuth), std::cos(polar)};
}

}  // namespace spotwright::test
