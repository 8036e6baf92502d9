// A part that moves, changes or warms while it is read: one reading after the other, each with its own exposure, place
// and light.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "sim/study/series.hpp"

namespace spotwright::study {

/// What one reading met, beside what it gave.
struct Moment {
    double time = 0.0;       ///< middle of the exposure. [s]
    double truth = 0.0;      ///< displacement of the lit point then. [m]
    double exposure = 0.0;   ///< [s]
    double period = 0.0;     ///< to the next reading. [s]
    std::int64_t piece = 0;  ///< of `target.segments` under the beam's axis
};

/// How the output follows the part.
struct Following {
    std::int64_t outputs = 0;             ///< on which the rest stands: of full windows, with a truth to compare
    std::optional<double> mean_error;     ///< output less truth at that time. [m]
    std::optional<double> rms_error;      ///< [m]
    std::optional<double> largest_error;  ///< [m]
    double delay = 0.0;                   ///< of the output behind the middle of the exposure, of a steady motion. [s]
    double bandwidth = 0.0;               ///< at which exposure and moving average pass 1/sqrt 2. [Hz]
    double response_time = 0.0;           ///< until a step is wholly followed. [s]
    double smear = 0.0;                   ///< way along the beam within an exposure, rms. [m]
};

/// What automatic exposure did.
struct ExposureUse {
    std::int64_t changes = 0;           ///< of the piece under the beam
    double dark_per_change = 0.0;       ///< readings too dark or without a peak, per change
    double saturated_per_change = 0.0;  ///< likewise
    double late = 0.0;                  ///< readings from a change to the next valid one, mean. [1]
    double blind_length = 0.0;          ///< of surface that passes unread per change. [m]
    double mean_rate = 0.0;             ///< readings per second. [Hz]
    double shortest_exposure = 0.0;     ///< [s]
    double longest_exposure = 0.0;      ///< [s]
};

}  // namespace spotwright::study
