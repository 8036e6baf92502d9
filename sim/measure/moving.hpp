// A part that moves or changes while it is read: one reading after the other, each with its own exposure, place and
// light.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>

#include "sim/sensor/instrument.hpp"
#include "sim/measure/roundness.hpp"
#include "sim/measure/series.hpp"

namespace spotwright::measure {

/// How the output follows the part. Errors are those of outputs of full windows against the truth at the middle of the
/// newest exposure.
struct TrackingResult {
    std::int64_t outputs = 0;               ///< on which the errors stand
    std::optional<double> mean_truth;       ///< of those outputs. [m]
    std::optional<double> mean_error;       ///< [m]
    std::optional<double> rms_error;        ///< [m]
    std::optional<double> error_deviation;  ///< standard deviation about the mean; needs two. [m]
    std::optional<double> largest_error;    ///< [m]
    double delay = 0.0;             ///< of the output behind the middle of the newest exposure, of a steady motion. [s]
    double age = 0.0;               ///< the same when the exposure is over: with half of it. [s]
    double bandwidth = 0.0;         ///< at which exposure and moving average pass 1/sqrt 2. [Hz]
    double speed = 0.0;             ///< along the beam's mounting normal, rms. [m/s]
    double smear = 0.0;             ///< way along within an exposure, rms. [m]
    double outside_share = 0.0;     ///< of readings at which the part stood outside the range, or beside the beam. [1]
    double unresolved_share = 0.0;  ///< of readings: within their exposures more happens than is followed. [1]
    bool surface_passes = false;
};

/// What each exposure setting costs.
struct ExposureUse {
    std::int64_t changes = 0;           ///< of the piece under the beam's axis
    double dark_per_change = 0.0;       ///< readings too dark or without a peak from one change to the next, mean
    double saturated_per_change = 0.0;  ///< likewise
    double late = 0.0;                  ///< readings from a change to the next valid one, mean: 0 if it is valid. [1]
    double blind_length = 0.0;          ///< of surface that passes meanwhile, mean. [m]
    double mean_rate = 0.0;             ///< readings per second. [Hz]
    double shortest_exposure = 0.0;     ///< [s]
    double longest_exposure = 0.0;      ///< [s]
    double min_rate = 0.0;              ///< of a single reading. [Hz]
};

/// What a scan finds, of single valid readings: run-out of a cylinder that turns, the circle of one that passes across,
/// height of a step that does.
struct Scan {
    std::optional<RunOut> run_out;
    std::optional<Circle> roll;
    std::optional<StepScan> step;
};

/// All that a series over time says.
struct MovingSeries {
    SeriesStatistics statistics;
    TrackingResult tracking;
    ExposureUse exposure;
    std::optional<Scan> scan;    ///< none where the motion is none of those
    double mean_period = 0.0;    ///< [s]
    double mean_exposure = 0.0;  ///< [s]
};

/// Fills the readings and moments of a block.
using TakeBlock = std::function<void(SeriesBlock& block)>;

/// Takes a series block by block, in order. Memory does not grow with its length, but for the first million readings of
/// a scan.
[[nodiscard]] MovingSeries take_moving_series(const scenario::Scenario& scenario, const TakeBlock& take,
                                              const SeriesOptions& options);

/// Of a triangulation sensor. A fixed exposure lets threads share the readings; an automatic one takes them one by one,
/// since each exposure needs the frame before. No bit depends on the thread count.
/// @throws ScenarioError  As `MovingScene`.
[[nodiscard]] MovingSeries take_moving_series(const sensor::TriangulationSetup& setup, const SeriesOptions& options);

}  // namespace spotwright::measure
