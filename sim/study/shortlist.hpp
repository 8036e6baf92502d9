// Which sensors of a shelf suit a job, best first, and why the others do not.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "sim/scenario/job.hpp"
#include "sim/sensor/summary.hpp"
#include "sim/study/ensemble.hpp"
#include "sim/study/outcome.hpp"
#include "sim/study/shortlist_setup.hpp"

namespace spotwright::study {

/// A part of the job at one of the poses at which it is read.
struct JobPose {
    std::size_t part = 0;
    std::string words;               ///< "near end", "tilted by 2 deg", ...
    double displacement = 0.0;       ///< from the sensor's reference point. [m]
    scenario::Pair tilt{0.0, 0.0};   ///< of the part. [rad]
    std::optional<Outcome> outcome;  ///< none where an earlier pose could not be read
};

/// A sensor before a job.
struct RankedSensor {
    sensor::Summary sensor;
    std::string reference;  ///< as a scenario names it: in the library, or a whole path
    SensorSetup setup;
    bool computed = false;  ///< else a closed form or the image alone has ruled it out
    measure::Level level = measure::Level::unreadable;
    std::optional<double> error;            ///< largest expanded uncertainty of all poses; none: not computed. [m]
    double margin = 0.0;                    ///< smallest of allowed error over found error; 0: not computed. [1]
    double valid_share = 0.0;               ///< smallest of all poses. [1]
    double response = 0.0;                  ///< longest of all poses. [s]
    std::string largest;                    ///< largest cause at the pose with the smallest margin
    std::optional<std::size_t> worst;       ///< that pose
    std::vector<Shortcoming> shortcomings;  ///< why it is not stable, the decisive one first
    std::vector<JobPose> poses;
    /// Of a sensor that a data sheet was solved for: all sensors that fit the sheet, at the worst pose.
    std::optional<EnsembleSpread> ensemble;
};

struct Shortlist {
    std::vector<RankedSensor> sensors;  ///< best first
};

struct ShortlistOptions {
    int threads = 0;
    bool closed_forms = true;  ///< rule out by closed forms before anything is computed
    std::function<void(std::int64_t done, std::int64_t all)> progress;
};

/// Every sensor is set up as well as it can be within what it offers, and read before every part at both ends and in
/// the middle of the span, and in the middle at the ends of the tilt range. The largest error of all of them counts.
/// Ranked by level, then margin; sensors that are ruled out before they are computed come last, nearest miss first.
/// @param shelf  As `sensor::shelf` gives it.  @throws ScenarioError  A job without parts.
[[nodiscard]] Shortlist shortlist(const scenario::Job& job, std::span<const scenario::Scenario> shelf,
                                  const ShortlistOptions& options);

/// One sensor alone.
[[nodiscard]] RankedSensor judge_sensor(const scenario::Job& job, const scenario::Scenario& sensor,
                                        const ShortlistOptions& options);

/// The scenario of a pose, as it was computed but for the effort: to be read, budgeted or drawn.
[[nodiscard]] scenario::Scenario scenario_of_pose(const scenario::Job& job, const RankedSensor& ranked,
                                                  const JobPose& pose);

/// The error that a stable verdict allows. [m]
[[nodiscard]] inline double allowed_error(const scenario::Requirement& requirement) {
    return requirement.tolerance / requirement.uncertainty_ratio;
}

}  // namespace spotwright::study
