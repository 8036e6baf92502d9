// Sensors and poses that were made for earlier questions: what a hand moves is mostly the part.
#pragma once

#include <deque>
#include <memory>
#include <optional>
#include <string>

#include "sim/sensor/sensor.hpp"
#include "sim/sensor/speckle.hpp"

namespace spotwright::web {

/// A part before a triangulation sensor, as its readings meet it.
struct ArrayPose {
    sensor::TriangulationSetup setup;
    sensor::Pose smooth;                     ///< without speckle, at the exposure of `still`
    std::optional<sensor::Speckle> speckle;  ///< none: off, or nothing scatters
    sensor::Pose still;                      ///< under the speckle of the place where the part stands
};

/// A part before a sensor that times light.
struct TimedPose {
    sensor::FlightSetup setup;
    sensor::FlightPose smooth;
    bool speckles = false;
    sensor::FlightPose still;
};

using AnyPose = std::variant<ArrayPose, TimedPose>;

class Shelf {
public:
    /// The scenario's sensor before its part, as `sensor::set_up` makes it; calibrated once while its keys stay.
    [[nodiscard]] sensor::Setup set_up(const scenario::Scenario& scenario);

    /// Whether `set_up` would take a sensor that is there.
    [[nodiscard]] bool has_sensor(const scenario::Scenario& scenario) const;

    /// Its pose where the part stands; the same object while nothing changes that readings depend on.
    [[nodiscard]] std::shared_ptr<const AnyPose> pose(const scenario::Scenario& scenario);

private:
    struct KnownPose {
        std::string scenario;  // as TOML, without what comes after readings
        std::shared_ptr<const AnyPose> pose;
    };
    std::deque<sensor::Sensor> sensors_;  // the last used first
    std::deque<KnownPose> poses_;         // likewise
};

/// A sensor that was not calibrated: positions are read by the chief ray of the spot. For a hand that moves a part of
/// the sensor, since calibrating takes longer than one look. @throws ScenarioError  As `sensor::make_instrument`, but
/// for what calibrating finds.
[[nodiscard]] sensor::TriangulationSetup set_up_by_geometry(const scenario::Scenario& scenario);

}  // namespace spotwright::web
