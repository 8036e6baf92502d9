// Sensors and poses that were made for earlier questions: what a hand moves is mostly the part.
#pragma once

#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <vector>

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

/// A pose by some of its rays.
struct GrowingPose {
    std::shared_ptr<const AnyPose> pose;
    double share = 1.0;  ///< of the rays. [1]
};

class Shelf {
public:
    /// The scenario's sensor before its part, as `sensor::set_up` makes it; calibrated once while its keys stay.
    [[nodiscard]] sensor::Setup set_up(const scenario::Scenario& scenario);

    /// For a hand that moves something, since calibrating takes longer than one look: the calibrated sensor where it is
    /// there, else one that reads positions by the chief ray of the spot. Light goes through a translucent part as it
    /// did at the last look, also where the part has moved since.
    /// @throws ScenarioError  As `sensor::make_instrument`, but for what calibrating finds.
    [[nodiscard]] sensor::TriangulationSetup set_up_for_preview(const scenario::Scenario& scenario);

    /// Its pose where the part stands; the same object while nothing changes that readings depend on.
    [[nodiscard]] std::shared_ptr<const AnyPose> pose(const scenario::Scenario& scenario);

    /// The same of what is known so far: by the ray model each call traces one more part of the rays. The last one
    /// makes the pose that `pose` gives.
    [[nodiscard]] GrowingPose pose_so_far(const scenario::Scenario& scenario);

private:
    struct KnownPose {
        std::string scenario;  // as TOML, without what comes after readings
        std::shared_ptr<const AnyPose> pose;
    };
    struct TracedRays {
        std::string scenario;  // likewise
        std::vector<receiver::Profile> batches;
    };
    std::optional<TracedRays> rays_;      // of the pose that is growing
    std::deque<sensor::Sensor> sensors_;  // the last used first
    std::deque<KnownPose> poses_;         // likewise
    std::optional<target::CachedWalk> walk_;
};

}  // namespace spotwright::web
