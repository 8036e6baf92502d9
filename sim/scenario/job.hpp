// Job files: parts to be measured and what the machine allows, before anybody has chosen a sensor.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// One part of a job.
struct JobPart {
    std::string title;
    Pair tilt_range{0.0, 0.0};  ///< by which it tilts to either side of its `target.tilt_deg`. [rad]
    /// The part, its motion and surroundings, the requirement: everything but a sensor, which stands at its defaults.
    Scenario scenario;
};

/// What is asked of a sensor. All parts are read by one sensor, mounted and set once.
struct Job {
    std::string title;
    std::string file;
    Pair clearance{0.0, 0.0};  ///< between the sensor's front and the part, wherever it stands: least, most. [m]
    bool at_one_place =
        false;          ///< the job says where the sensor stands, `at_mm`: the clearance is that, give or take the span
    double span = 0.0;  ///< over which the place of the part varies. [m]
    std::vector<JobPart> parts;
};

/// Reads and checks a job file: `[job]`, one or more `[[part]]`, and sections of a scenario that hold for all parts.
/// @throws IoError  The file cannot be read.
/// @throws ScenarioError  Anything wrong in it, all of it at once.
[[nodiscard]] Job load_job(const std::filesystem::path& path, FileReach reach = FileReach::anywhere);

/// The same from text. `file` is the name shown in errors; files that keys name are looked up beside it.
[[nodiscard]] Job parse_job(std::string_view text, const std::string& file = "job",
                            FileReach reach = FileReach::anywhere);

}  // namespace spotwright::scenario
