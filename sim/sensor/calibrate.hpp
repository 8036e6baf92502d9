// How a triangulation sensor is calibrated on its reference.
#pragma once

#include <optional>
#include <vector>

#include "sim/detector/array.hpp"
#include "sim/emitter/beam.hpp"
#include "sim/reading/calibration.hpp"
#include "sim/reading/locate.hpp"
#include "sim/receiver/image.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/target/part.hpp"
#include "sim/target/surface.hpp"
#include "sim/target/volume_walk.hpp"

namespace spotwright::sensor {

[[nodiscard]] reading::LocateOptions locate_options(const scenario::Scenario& scenario);

/// Noiseless net signal of light on this specimen, brought to the level that suits it. [e]
/// @param level  Share of full well. [1]  @param full_well  [e]  @param rate  [1/s]
[[nodiscard]] std::vector<float> level_signal(double level, double full_well, const detector::FixedPattern& pattern,
                                              const std::vector<float>& rate);

/// The walk of light through a surface with a volume, with enough photons for all images to come; none for a surface
/// without one, or where the beam misses the part.
[[nodiscard]] std::optional<target::CachedWalk> walk_through(const target::Surface& surface, const emitter::Beam& beam,
                                                             const target::Part& part,
                                                             const receiver::Receiver& receiver);

/// Positions of the reference's spot over the range. Light from inside a reference with a volume moves its spot: by how
/// much is a cubic through 17 places of the range, and a part like the reference then reads right.
/// @throws ScenarioError  The reference's spot cannot be located at some place of the range.
/// Equation (study.1).
[[nodiscard]] reading::Calibration calibrate(const scenario::Scenario& scenario, const emitter::Beam& beam,
                                             const receiver::Receiver& receiver,
                                             const receiver::EdgeSpread& edge_spread,
                                             const detector::FixedPattern& pattern, int threads);

/// Whether the reference's spot is located at both ends of what `calibrate` covers, where it is lost first: two images
/// in place of all. Light from inside the reference is left out.
[[nodiscard]] bool calibrates_at_ends(const scenario::Scenario& scenario, const emitter::Beam& beam,
                                      const receiver::Receiver& receiver, const receiver::EdgeSpread& edge_spread,
                                      const detector::FixedPattern& pattern);

}  // namespace spotwright::sensor
