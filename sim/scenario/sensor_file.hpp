// Sensor files: what the maker of a sensor has fixed, and what its user may set.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/base/errors.hpp"
#include "sim/scenario/scenario.hpp"
#include "sim/scenario/schema.hpp"

namespace spotwright::scenario {

class TomlSource;

/// Names of the library's sensors, sorted.
[[nodiscard]] std::vector<std::string> sensor_names();

/// The text of a sensor and the file that errors name.
struct SensorText {
    std::string text;
    std::string file;
};

/// A sensor of the library, or with `.toml` at the end a file beside the scenario.
/// @throws IoError  The file cannot be read.
/// @return none: no such sensor in the library.
[[nodiscard]] std::optional<SensorText> sensor_text(const std::string& name, const std::string& scenario_file);

/// Whether a sensor file may hold the key: what describes a sensor, its settings when it is delivered included.
/// The rest of the keys (part, motion, surroundings, requirement, run, tilt of the sensor) belong to the scenario.
[[nodiscard]] bool belongs_to_sensor(const Key& key);

/// Whether a scenario may write the key of any sensor, offered or not: it says what the user does and not what the
/// sensor is. So it is with all that does not belong to the sensor, and with the zero reset.
[[nodiscard]] bool free_to_user(const Key& key);

/// Title, offers and ensemble of a sensor file. What is wrong with them is added to the problems.
[[nodiscard]] SensorFile read_sensor_file(const TomlSource& source, std::vector<base::Problem>& problems);

/// Whether a path of a sensor file is one that `read_sensor_file` reads, not a key.
[[nodiscard]] bool is_sensor_file_path(std::string_view path);

/// Puts the sensor's own keys back to their defaults, as if nobody had written them.
void forget_sensor(Scenario& scenario);

/// Whether the user wrote the key: not the sensor file.
[[nodiscard]] bool written_by_user(const Scenario& scenario, const base::SourceLocation& location);

/// Adds a problem for each key that the user wrote and the sensor does not offer, or not with that value. Keys written
/// as `design.KEY` are left alone.
void check_offers(const Scenario& scenario, std::vector<base::Problem>& problems);

/// "1 to 2000 us", "one of 1, 2, 4", "fixed or automatic".
[[nodiscard]] std::string describe_offer(const Offer& offer);

/// What a sensor offers of a key; null: nothing.
[[nodiscard]] const Offer* offer_of(const Scenario& scenario, std::string_view dotted_key);

/// The sensors of the ensemble of a scenario's sensor, each in the scenario's place of the first; empty without one.
/// @throws ScenarioError  A sensor of it contradicts the scenario.
[[nodiscard]] std::vector<Scenario> ensemble_of(const Scenario& scenario);

/// A scenario as its user wrote it: its sensor by name and the written keys alone.
struct WrittenScenario {
    std::string toml;
    std::vector<std::string> settings;  ///< keys set as `design.KEY`
};

/// `parse` makes the same scenario of it where the files that it names are the same; `to_toml` is for all who do not
/// have them.
[[nodiscard]] WrittenScenario as_written(const Scenario& scenario);

/// What comes before a key to set it whether or not the sensor offers it: `design.`
constexpr std::string_view design_prefix = "design.";

}  // namespace spotwright::scenario
