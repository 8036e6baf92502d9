// Where the receiver stands when nobody has written it: from the reference distance, the range and the array.
#pragma once

#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Share of the array that the range fills: the end of the range that is imaged farther from the middle of the array
/// lies at this share of half of it. Common practice leaves some pixels at both ends for the width of the spot.
constexpr double filled_share = 0.8;

/// Receiver angle of the rule, from the beam, where the baseline allows it. [rad]
constexpr double designed_angle = 30.0 * base::degree;

/// Longest baseline that the rule chooses by itself: a housing that one hand holds. Common practice. [m]
constexpr double longest_designed_baseline = 80.0 * base::mm;

/// Whether the rule applies: triangulation, and reference distance or baseline are written. Without them the receiver
/// of the defaults stands as it is, whatever part of its range is read.
[[nodiscard]] bool design_rule_applies(const Scenario& scenario);

/// Gives those of `receiver.angle_deg`, `distance_mm` and `focal_length_mm` that are not written their values:
/// the lens stands at the height of the emitter face; its angle from the beam follows from the baseline, else it is
/// `designed_angle` or less, by `longest_designed_baseline`, and in a mount whose beam is tilted the opposite of the
/// beam's; its focal length makes the range fill `filled_share` of the array, which is in focus.
/// Equation (sensor.1) of docs/theory/sensor.md. Own derivation from the projection of the receiver.
void apply_design_rule(Scenario& scenario, std::vector<base::Problem>& problems);

}  // namespace spotwright::scenario
