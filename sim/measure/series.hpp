// Many readings of one part, in blocks that threads share and that come out in order.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "sim/sensor/instrument.hpp"

namespace spotwright::measure {

/// What one reading of a part that moves or changes met, beside what it gave.
struct Moment {
    double time = 0.0;       ///< middle of the exposure. [s]
    double truth = 0.0;      ///< displacement of the lit point then; NaN where the beam misses the part. [m]
    double exposure = 0.0;   ///< [s]
    double period = 0.0;     ///< to the next reading. [s]
    double way = 0.0;        ///< of the surface past the beam since time 0, along the motion. [m]
    double turned = 0.0;     ///< of a shaft since time 0. [rad]
    double across = 0.0;     ///< way of the shape since time 0 along its profile. [m]
    double smear = 0.0;      ///< way along the beam within the exposure. [m]
    std::int64_t piece = 0;  ///< of `target.segments` under the beam's axis
    bool followed = true;    ///< the exposure: see `ExposureDivider`
};

/// A stretch of a series. Arrays have one entry per reading; what does not exist is NaN.
struct SeriesBlock {
    std::int64_t first = 0;            ///< index of the first reading
    double period = 0.0;               ///< sampling period; reading i is taken at i * period. [s]
    std::vector<double> position;      ///< of the spot [px]; time of flight: see `FlightInstrument`
    std::vector<double> displacement;  ///< of single readings. [m]
    std::vector<double> output;        ///< after median and average, held or marked. [m]
    std::vector<float> peak;           ///< [e]; pulsed: pulses that gave a time
    std::vector<reading::Validity> validity;
    std::vector<double> thickness;  ///< of single readings; empty unless asked for. [m]
    std::vector<Moment> moment;     ///< empty for a part that stands still
};

/// Makes room for a number of readings.
void resize_block(SeriesBlock& block, std::int64_t first, std::int64_t count, bool with_thickness);

/// Writes a single reading at its place in the block.
void put_reading(const sensor::RawReading& raw, std::size_t place, SeriesBlock& block);

struct SeriesStatistics {
    std::int64_t readings = 0;
    std::array<std::int64_t, reading::validity_count> validity{};  ///< readings by validity
    std::int64_t outputs = 0;                   ///< valid outputs of full windows, on which the rest stands
    std::optional<double> mean;                 ///< [m]
    std::optional<double> standard_deviation;   ///< of successive outputs; needs two. [m]
    std::int64_t independent_outputs = 0;       ///< of them: as many windows that share no reading
    std::optional<double> least;                ///< [m]
    std::optional<double> greatest;             ///< [m]
    std::int64_t thicknesses = 0;               ///< readings in which two faces were found
    std::optional<double> mean_thickness;       ///< of them. [m]
    std::optional<double> thickness_deviation;  ///< standard deviation of single readings; needs two. [m]
};

/// Of readings; 0 where there are none. [1]
[[nodiscard]] double valid_share(const SeriesStatistics& statistics);

struct SeriesOptions {
    std::int64_t readings = 0;
    int threads = 0;                               ///< 0: all cores
    std::function<void(const SeriesBlock&)> sink;  ///< may be empty; called in order on the calling thread
    std::function<void(std::int64_t done, std::int64_t all)> progress;  ///< may be empty
};

/// Windows of a median and a moving average that share no reading, behind so many successive outputs of full windows.
[[nodiscard]] std::int64_t independent_windows(const scenario::Reading& reading, std::int64_t outputs);

/// Which of the patches of a moved part a reading meets: drawn at random, the same for the same seed and reading.
/// @param patches  How many there are, > 0 and below 2^32.
[[nodiscard]] std::size_t patch_met(const scenario::Scenario& scenario, std::int64_t reading, std::size_t patches);

/// One reading, by its index; may be called from several threads at a time, each with buffers of its own.
using TakeReading = std::function<sensor::RawReading(std::int64_t index, sensor::Scratch& scratch)>;

/// Takes readings one by one. Memory does not grow with their number, and the result, to the last bit, does not depend
/// on the thread count.
/// @param period  Sampling period. [s]
[[nodiscard]] SeriesStatistics take_series(const scenario::Reading& reading, double period, const TakeReading& take,
                                           const SeriesOptions& options);

/// Takes the readings of a part.
/// @param poses  One for a part that stands still; one for each patch of a part that is moved between readings, of
///   which each reading meets one, drawn at random.
[[nodiscard]] SeriesStatistics take_series(const sensor::TriangulationSetup& setup, std::span<const sensor::Pose> poses,
                                           const SeriesOptions& options);

/// Of a part that stands still.
[[nodiscard]] SeriesStatistics take_series(const sensor::TriangulationSetup& setup, const sensor::Pose& pose,
                                           const SeriesOptions& options);

}  // namespace spotwright::measure
