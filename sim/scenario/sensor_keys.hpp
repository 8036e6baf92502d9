// The keys from which a sensor is built and calibrated.
#pragma once

#include <string_view>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// Everything that building and calibrating a sensor depends on. The other keys of a scenario describe part,
/// surroundings, exposure, evaluation and run.
struct SensorKeys {
    Principle principle;
    double reference_distance = 0.0;  ///< [m]
    Pair range{0.0, 0.0};             ///< [m]
    Emitter emitter;
    Receiver receiver;
    Making making;
    Cover cover;  ///< it may have been there at the calibration
    Detector detector;
    Flight flight;  ///< without drift and clock error, which come after calibration
    PeakMethod peak = PeakMethod::centroid;
    double threshold = 0.0;  ///< share of full well. [1]
    Material reference;      ///< that it is calibrated on

    bool operator==(const SensorKeys&) const = default;
};

[[nodiscard]] SensorKeys sensor_keys(const Scenario& scenario);

/// Whether a key, `section.name`, is among those of `SensorKeys`: another value of it needs another sensor.
[[nodiscard]] bool is_sensor_key(std::string_view dotted_key);

}  // namespace spotwright::scenario
