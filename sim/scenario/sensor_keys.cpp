#include "sim/scenario/sensor_keys.hpp"

#include <algorithm>
#include <array>

namespace spotwright::scenario {

SensorKeys sensor_keys(const Scenario& s) {
    SensorKeys keys{s.principle,
                    s.mount.reference_distance,
                    s.mount.range,
                    s.emitter,
                    s.receiver,
                    s.making,
                    s.cover,
                    s.detector,
                    s.flight,
                    s.reading.peak,
                    s.reading.threshold,
                    s.reading.reference};
    keys.flight.delay_drift = 0.0;
    keys.flight.clock_error = 0.0;
    return keys;
}

bool is_sensor_key(std::string_view key) {
    constexpr std::array<std::string_view, 2> after_calibration{"flight.delay_drift_ps_per_K",
                                                                "flight.clock_error_ppm"};
    if (std::find(after_calibration.begin(), after_calibration.end(), key) != after_calibration.end()) return false;
    constexpr std::array<std::string_view, 6> sections{"emitter.", "receiver.", "making.",
                                                       "cover.",   "detector.", "flight."};
    constexpr std::array<std::string_view, 8> keys{"principle",
                                                   "mount.reference_distance_mm",
                                                   "sensor",
                                                   "mount.baseline_mm",
                                                   "mount.range_mm",
                                                   "reading.peak",
                                                   "reading.threshold",
                                                   "reading.calibrated_on"};
    return std::find(keys.begin(), keys.end(), key) != keys.end() ||
           std::any_of(sections.begin(), sections.end(), [key](auto section) { return key.starts_with(section); });
}

}  // namespace spotwright::scenario
