// What the outcomes of all poses come to, and why a sensor is not stable.
#pragma once

#include "sim/study/shortlist.hpp"

namespace spotwright::study {

/// Fills in level, margin, error, response and shortcomings of a sensor from the outcomes of its poses.
/// @param sensor  Of the shelf.
void conclude(const scenario::Job& job, const scenario::Scenario& sensor, RankedSensor& ranked);

}  // namespace spotwright::study
