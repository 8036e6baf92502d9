// Errors of a budget that come from hot air, a mount that shakes and a second sensor.
#pragma once

#include <vector>

#include "sim/base/random.hpp"
#include "sim/measure/disturbance.hpp"

namespace spotwright::study {

/// What is around the light, as errors of outputs.
struct AroundErrors {
    measure::DisturbedOutputs disturbed;  ///< standard deviations. [m]
    std::vector<double> neighbour;     ///< of readings that meet a second sensor's light or not; of outputs, timed. [m]
    std::int64_t average = 1;          ///< of these that an output has
    double neighbour_mean = 0.0;       ///< [m]
    double neighbour_deviation = 0.0;  ///< of outputs. [m]

    /// One output's error at random; nothing is drawn of what is not there. [m]
    [[nodiscard]] double drawn(base::RandomSequence& random) const;
};

[[nodiscard]] AroundErrors around_errors(const sensor::Setup& setup);

}  // namespace spotwright::study
