// The keys from which a sensor is built and calibrated, and which neither its part nor its surroundings change.
#pragma once

#include <string_view>

#include "sim/scenario/scenario.hpp"

namespace spotwright::scenario {

/// What a sensor is, once it has left the workshop. A scenario's other keys say what it stands before, how it is
/// exposed and what is made of its readings.
struct SensorKeys {
    Principle principle;
    double reference_distance = 0.0;  ///< [m]
    Pair range{0.0, 0.0};             ///< [m]
    Emitter emitter;
    Receiver receiver;
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
