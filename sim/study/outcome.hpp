// What one sensor makes of one part: a series of readings and the lines of a budget, without its Monte Carlo.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/measure/read.hpp"
#include "sim/sensor/sensor.hpp"

namespace spotwright::study {

/// How many readings and patches an outcome rests on.
enum class Effort {
    ranking,  ///< enough to rank by
    own,      ///< as many as the scenario says, up to what a share of 99.9 % can use
};

/// `run.readings` and `run.patches` of an effort, as settings; readings as many as averages need.
[[nodiscard]] std::vector<std::string> effort_settings(const scenario::Scenario& scenario, Effort effort);

struct Outcome {
    measure::Level level = measure::Level::unreadable;
    std::optional<double> expanded_uncertainty;        ///< |bias| + expanded uncertainty of all lines. [m]
    double valid_share = 0.0;                          ///< of the still part and of its patches, the smaller. [1]
    std::string obstacle;                              ///< why there is no budget; else empty
    std::string largest;                               ///< the largest cause of error, or why readings are lost
    double exposure = 0.0;                             ///< [s]
    double period = 0.0;                               ///< [s]
    double response = 0.0;                             ///< of the output to a step. [s]
    double peak_share = 0.0;                           ///< brightest pixel or bucket, of full well. [1]
    std::vector<measure::Contribution> contributions;  ///< of the budget, largest effect first
};

/// @param corrected_bias  A bias that the user takes off, as the known scale of a tilted sensor. [m]
/// @param kept  Filled with the readings, unless null.
[[nodiscard]] Outcome outcome_of(const sensor::Setup& setup, int threads, double corrected_bias = 0.0,
                                 measure::ReadResult* kept = nullptr);

/// The reading of a part by its image alone: no noise, no speckle.
struct NoiselessReading {
    std::optional<double> error;  ///< of the reading; none where it is invalid. [m]
    double peak_share = 0.0;      ///< brightest pixel or bucket, of full well; 0 where pulses are timed. [1]
    detector::Timing timing;
};

[[nodiscard]] NoiselessReading noiseless_reading_of(const sensor::Setup& setup);

}  // namespace spotwright::study
